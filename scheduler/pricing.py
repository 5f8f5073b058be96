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


def priced(
    scenario: Scenario,
    free: Sequence[FreeNight],
    opportunities: Opportunities,
    cancel: Cancel = never_cancelled,
) -> PricedSeason:
    """Return the season with the weather priced in.

    The price of a clear minute of each night comes from a relaxation in which every night has only its
    clear odds' share of its time; with these prices each target weighs now against later for itself.
    """
    targets, routine = scenario.targets, scenario.routine
    weights = np.array([float(target.priority) for target in targets])
    minutes = np.array([target.minutes for target in targets], dtype=np.int64)
    visits = np.array([target.visits for target in targets], dtype=np.int64)
    spacing_days = np.array([target.spacing_days for target in targets], dtype=np.int64)
    night_day = np.array([night.evening.toordinal() for night in free], dtype=np.int64)
    odds = np.array([night.clear_odds if night.ever_clear else 0.0 for night in free])
    merit = np.where(opportunities.standby_only, 0.0, opportunities.merit)
    opportunities = replace(opportunities, merit=merit)  # never visited, worth nothing now or later
    clear = Problem(
        opportunities, weights[opportunities.target] * merit, minutes, visits, spacing_days,
        night_day, routine.move_min,
        (*limits_of(scenario.availability, [night.evening for night in free], announced=club_nights(free)),
         *limits_of_trips(scenario.availability, free)),
        outing_cost=_cost_of_going_out(free, odds, routine),
        longest_spacing_days=np.array(
            [target.longest_spacing_days or NO_LIMIT_DAYS for target in targets], dtype=np.int64
        ),
    )  # fmt: skip
    mu = expected_capacity_of(clear, odds, cancel).night_price
    season = NowOrLater(
        opportunities, weights, minutes + routine.move_min, odds, scenario.clear_odds.persistence, mu,
        visits, spacing_days, night_day,
    )  # fmt: skip
    worths = np.where(opportunities.standby_only, 0.0, season.worths)
    return PricedSeason(replace(clear, value=worths), season.advantages)


def _cost_of_going_out(free: Sequence[FreeNight], odds: Floats, routine: Routine) -> Floats:
    """Return what each night out takes off: on none if clouded, or if guests or the club come anyhow."""
    alone = np.array([night.guests == 0 and not night.club for night in free], dtype=np.bool_)
    outing = np.where(alone, odds * routine.outing_cost, 0.0)
    return np.asarray(outing + odds * cost_of_trips(free))


def cost_of_trips(free: Sequence[FreeNight]) -> Floats:
    """Return what each night must bring beyond a night out, for the drive; nothing for the club. (nights,)"""
    return np.array([night.trip.trip_cost if night.trip and not night.club else 0.0 for night in free])


def club_nights(free: Sequence[FreeNight]) -> tuple[int, ...]:
    """Return the club nights, by position: they are spent outside whatever is decided."""
    return tuple(night for night, on in enumerate(free) if on.club)


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


def limits_of_trips(availability: Availability, free: Sequence[FreeNight]) -> tuple[NightLimit, ...]:
    """Return the groups of free nights under "one site a night" and under the limits of trips.

    Trips to the club count against the limits, which never forbid them.
    """
    evenings = groupby(range(len(free)), key=lambda night: free[night].evening)
    away = [night for night, on in enumerate(free) if on.trip]
    months = groupby(away, key=lambda night: (free[night].evening.year, free[night].evening.month))
    groups = [(list(nights), availability.trips_per_month) for _, nights in months]
    found = [NightLimit(nights, 1) for nights in (tuple(same) for _, same in evenings) if len(nights) > 1]
    for nights, most in (*groups, (away, availability.trips_per_season)):
        chosen = tuple(night for night in nights if not free[night].club)
        room = (len(nights) if most is None else most) - (len(nights) - len(chosen))
        if len(chosen) > room:
            found.append(NightLimit(chosen, max(0, room)))
    return tuple(found)
