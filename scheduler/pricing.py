"""The season as the solver sees it: every visit valued with its second chances."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

import numpy as np

from .assignment.bound import expected_capacity_of
from .assignment.problem import NO_LIMIT_DAYS, NightLimit, Problem
from .domain import Availability, Cancel, FreeNight, Opportunities, Routine, Scenario, never_cancelled
from .domain.opportunity import Floats
from .prices import NowOrLater
from .wanted import series_left, visits_left


@dataclass(frozen=True, eq=False)
class PricedSeason:
    """A priced season.

    Attributes
    ----------
    problem : What `assign` is asked; its values are the worths of `prices`.
    advantage : How much better each row is taken than left, on a clear night. (rows,)
    """

    problem: Problem
    advantage: Floats


def unpriced(
    scenario: Scenario,
    free: Sequence[FreeNight],
    opportunities: Opportunities,
    announced: Collection[int] = (),
) -> Problem:
    """Return what is wanted of the season, each visit worth what it brings on a clear night.

    Parameters
    ----------
    scenario : Visits its log has seen are wanted no more.
    free : The free nights.
    opportunities : Where what is still wanted shows.
    announced : Free nights, by position, whose programme stands: they are spent outside whatever is decided.
    """
    targets, routine = scenario.targets, scenario.routine
    weights = np.array([float(target.priority) for target in targets])
    odds = _odds_of(free)
    merit = np.where(opportunities.standby_only, 0.0, opportunities.merit)
    opportunities = replace(opportunities, merit=merit)  # never visited, worth nothing now or later
    return Problem(
        opportunities, weights[opportunities.target] * merit,
        np.array([target.minutes for target in targets], dtype=np.int64), visits_left(scenario),
        np.array([target.spacing_days for target in targets], dtype=np.int64),
        np.array([night.evening.toordinal() for night in free], dtype=np.int64), routine.move_min,
        _limits(scenario, free, announced), outing_cost=_cost_of_going_out(free, odds, routine, announced),
        longest_spacing_days=np.array(
            [target.longest_spacing_days or NO_LIMIT_DAYS for target in targets], dtype=np.int64
        ),
        held_days=series_left(scenario, free, opportunities),
    )  # fmt: skip


def priced(
    scenario: Scenario,
    free: Sequence[FreeNight],
    opportunities: Opportunities,
    cancel: Cancel = never_cancelled,
    announced: Collection[int] = (),
) -> PricedSeason:
    """Return the season with the weather priced in; parameters as for `unpriced`.

    Notes
    -----
    The price of a clear minute of each night comes from a relaxation in which every night has only its
    clear odds' share of its time; with these prices each target weighs now against later for itself.
    """
    clear, odds = unpriced(scenario, free, opportunities, announced), _odds_of(free)
    mu = expected_capacity_of(clear, odds, cancel).night_price
    season = NowOrLater(
        clear.opportunities, np.array([float(target.priority) for target in scenario.targets]),
        clear.minutes + clear.move_min, odds, scenario.clear_odds.persistence, mu, clear.visits,
        clear.spacing_days, clear.night_day,
    )  # fmt: skip
    worths = np.where(opportunities.standby_only, 0.0, season.worths)
    return PricedSeason(replace(clear, value=worths), season.advantages)


def _odds_of(free: Sequence[FreeNight]) -> Floats:
    """Return how likely each night is of use: 0 where it is never clear. (nights,) [0..1]"""
    return np.array([night.clear_odds if night.ever_clear else 0.0 for night in free])


def _cost_of_going_out(
    free: Sequence[FreeNight], odds: Floats, routine: Routine, announced: Collection[int]
) -> Floats:
    """Return what each night out takes off: a clouded one is not gone out on, and guests, the club, or those
    to whom it was announced, come anyhow.
    """  # noqa: D205
    asked = np.array([n not in announced for n in range(len(free))], dtype=np.bool_)
    return np.asarray(np.where(asked, odds * cost_of_nights_out(free, routine), 0.0))


def cost_of_nights_out(free: Sequence[FreeNight], routine: Routine) -> Floats:
    """Return what each clear night out must bring, the drive included; 0 with guests or club. (nights,)"""
    alone = np.array([night.guests == 0 and not night.club for night in free], dtype=np.bool_)
    drive = np.array([night.trip.trip_cost if night.trip else 0.0 for night in free])
    return np.where(alone, routine.outing_cost + drive, 0.0)


def club_nights(free: Sequence[FreeNight]) -> frozenset[int]:
    """Return the club nights, by position: they are spent outside whatever is decided."""
    return frozenset(night for night, on in enumerate(free) if on.club)


def _limits(
    scenario: Scenario, free: Sequence[FreeNight], announced: Collection[int]
) -> tuple[NightLimit, ...]:
    out = [outcome.evening for outcome in scenario.outcomes.standing if outcome.out]
    settled = club_nights(free).union(announced)
    return (
        *limits_of(scenario.availability, [night.evening for night in free], out, settled),
        *limits_of_trips(scenario.availability, free, settled),
    )


def limits_of(
    availability: Availability,
    evenings: Sequence[date],
    been_out: Sequence[date] = (),
    announced: Collection[int] = (),
) -> tuple[NightLimit, ...]:
    """Return the groups of free nights, by position, of which only some may be spent outside.

    Parameters
    ----------
    availability : Whose limits.
    evenings : Of the free nights, in order.
    been_out : Evenings spent outside before; they count against the limits.
    announced : Free nights, by position, that are spent outside whatever is decided. They count too, but
        their own group never forbids them.
    """
    spent = [*been_out, *(evenings[night] for night in announced)]

    def week(evening: date) -> tuple[int, int]:
        return evening.isocalendar()[:2]

    def month(evening: date) -> tuple[int, int]:
        return evening.year, evening.month

    def groups(most: int | None, key: Callable[[date], tuple[int, int]]) -> list[NightLimit]:
        already, open_nights = Counter(map(key, spent)), defaultdict[tuple[int, int], list[int]](list)
        for night, evening in enumerate(evenings):
            if night not in announced:
                open_nights[key(evening)].append(night)
        left = [(nights, (most or 0) - already[one]) for one, nights in open_nights.items()]
        return [NightLimit(tuple(nights), max(0, room)) for nights, room in left
                if most is not None and len(nights) > room]  # fmt: skip

    return (*groups(availability.nights_per_week, week), *groups(availability.nights_per_month, month))


def limits_of_trips(
    availability: Availability, free: Sequence[FreeNight], announced: Collection[int] = ()
) -> tuple[NightLimit, ...]:
    """Return the groups of free nights under "one site a night" and under the limits of trips.

    `announced` : Free nights, by position, that are spent outside whatever is decided, as for `limits_of`.
    """
    evenings = groupby(range(len(free)), key=lambda night: free[night].evening)
    away = [night for night, on in enumerate(free) if on.trip]
    months = groupby(away, key=lambda night: (free[night].evening.year, free[night].evening.month))
    groups: list[tuple[list[int], int | None]] = [(list(nights), 1) for _, nights in evenings]
    groups += [(list(nights), availability.trips_per_month) for _, nights in months]
    found = []
    for nights, most in (*groups, (away, availability.trips_per_season)):
        chosen = tuple(night for night in nights if night not in announced)
        room = max(0, (len(nights) if most is None else most) - (len(nights) - len(chosen)))
        found += [NightLimit(chosen, room)] if len(chosen) > room else []
    return tuple(found)
