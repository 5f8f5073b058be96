"""What nights and months are worth: the prices by which a plan's own policy weighs now against later."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from ..domain import (
    Availability,
    Cancel,
    MonthPrice,
    NightPrice,
    Progress,
    Report,
    Scenario,
    SeasonPrices,
    ignore_progress,
    never_cancelled,
)
from ..domain.opportunity import Floats, Ints
from ..errors import Cancelled
from ..outings import share_spent_outside
from ..policy import WeatherSeason, first_prices
from ..prices import CLEAR, CLOUD, WeatherChain, chain_of, later_of
from ..pricing import limits_of
from ..ready import Ready
from ..refit import Wishes
from ..wanted import visits_left
from .made import season_ready

ROUNDS = 60  # of the fitting, twice; a policy's own prices take more, a first-order figure need not
GOLDEN = (5**0.5 - 1) / 2
STEPS = 8  # of the golden section that seeks the price of a further night
LEAST_SHARE = 0.01  # below this a share of the clear nights is no base to reckon from
HINT = 1e-3  # part of the highest price: if even this is too much, none is best


def season_prices(
    scenario: Scenario, *, report: Report = ignore_progress, cancel: Cancel = never_cancelled
) -> SeasonPrices:
    """Return what a clear hour of each free night is worth, and one more night in each month.

    Notes
    -----
    The prices are those of the relaxation by which the plan's policy decides under weather: every target
    weighs now against later for itself and pays for its time, and the prices are such that each night's clear
    time is about asked for. The relaxation proves a bound on what can be expected. A further free night is
    worth what that bound rises by at the present prices of all other nights, the best one of its own, less
    what going out costs; limits on nights out take their share of every night. It is a first-order figure:
    `what_if` lives through the change itself.

    Raises
    ------
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    Cancelled
        `cancel` was set.
    """
    report(Progress("following the sky through the season", 0.0))
    scenario = replace(scenario, trips=(), club=replace(scenario.club, site=None))
    made = season_ready(scenario)
    more = season_ready(replace(scenario, availability=_every_evening(scenario.availability)))
    report(Progress("pricing the nights", 0.1))
    if not made.free:
        return SeasonPrices((), (), 0.0)
    priced = PricedNights.of(made)
    worth = priced.worth_of(more, report, cancel)
    hours = 60.0 * priced.mu
    return SeasonPrices(
        tuple(
            NightPrice(night.evening, night.clear_odds, hour)
            for night, hour in zip(made.free, hours.tolist(), strict=True)
        ),
        tuple(_months(made, hours, worth, priced)),
        _of_a_week(priced),
    )


def _every_evening(given: Availability) -> Availability:
    """Return an availability with the evenings of the other weekdays too, at the times of the first rule."""
    known = {weekday for rule in given.rules for weekday in rule.weekdays}
    others = tuple(weekday for weekday in range(7) if weekday not in known)
    return replace(given, rules=(*given.rules, *[replace(given.rules[0], weekdays=others)] * bool(others)))


@dataclass(frozen=True, eq=False)
class PricedNights:
    """A season with the prices of its nights.

    Attributes
    ----------
    made : The season.
    wishes : What the prices see of it, nights as long as limits on nights out leave them.
    mu : Price of a clear minute of each night. (nights,) [1/min]
    """

    made: Ready
    wishes: Wishes
    mu: Floats

    @classmethod
    def of(cls, made: Ready) -> PricedNights:
        """Return the nights of a season priced."""
        season = season_of(made)
        share = _share_outside(season.chain, made.scenario.availability, _evenings(made), _been_out(made))
        season = replace(season, outside=share)
        return cls(made, season.wishes, first_prices(season, ROUNDS))

    def worth_of(
        self, more: Ready, report: Report = ignore_progress, cancel: Cancel = never_cancelled
    ) -> dict[date, float]:
        """Return what each evening of a larger season that is not free would bring as a free one."""
        every, evenings, known = season_of(more), _evenings(more), self.made.position
        mine = [place for place, evening in enumerate(evenings) if (evening, None) in known]
        further = [place for place, evening in enumerate(evenings) if (evening, None) not in known]
        before, found = bound_at(self.wishes, self.mu), {}
        for turn, place in enumerate(further):
            if cancel.is_set():
                raise Cancelled
            report(Progress("pricing evenings that are not free", 0.2 + 0.8 * turn / len(further)))
            some = np.array(sorted([*mine, place]), np.int64)
            night = int(np.searchsorted(some, place))
            wishes, share = _part_of(every, some, more.scenario.availability, evenings, _been_out(more))
            cost = float(every.odds[place] * share[night]) * more.scenario.routine.outing_cost
            brings = _least(wishes, np.insert(self.mu, night, 0.0), night) - before
            found[evenings[place]] = max(0.0, brings - cost)
        return found

    def worth_of_limits(self, looser: Availability, month: date | None = None) -> float:
        """Return what looser limits on nights out would bring, in one month alone or everywhere."""
        evenings, chain = _evenings(self.made), self.wishes.chain
        out = _been_out(self.made)
        share = _share_outside(chain, self.made.scenario.availability, evenings, out)
        more = np.maximum(_share_outside(chain, looser, evenings, out) - share, 0.0)
        gained = more / np.maximum(share, LEAST_SHARE)
        mine = np.array([month in (None, evening.replace(day=1)) for evening in evenings], np.bool_)
        return float((self.mu * chain.odds * self.wishes.length * gained)[mine].sum())


def season_of(made: Ready) -> WeatherSeason:
    """Return a season as policies see it, limits on nights out left aside."""
    o, targets = made.opportunities, made.scenario.targets
    merit = np.where(o.standby_only, 0.0, o.merit)
    minutes, spacing_days = (
        np.array([getattr(target, name) for target in targets], np.int64)
        for name in ("minutes", "spacing_days")
    )
    return WeatherSeason(
        replace(o, merit=merit), np.array([float(target.priority) for target in targets]), minutes,
        visits_left(made.scenario), spacing_days,
        np.array([evening.toordinal() for evening in _evenings(made)], np.int64),
        np.array([night.clear_odds if night.ever_clear else 0.0 for night in made.free]),
        made.scenario.clear_odds.persistence, made.scenario.routine.move_min,
    )  # fmt: skip


def _evenings(made: Ready) -> list[date]:
    return [night.evening for night in made.free]


def _been_out(made: Ready) -> list[date]:
    """Return the evenings that the log says were spent outside: they count against the limits."""
    return [outcome.evening for outcome in made.scenario.outcomes.standing if outcome.out]


def _share_outside(
    chain: WeatherChain, given: Availability, evenings: Sequence[date], out: Sequence[date]
) -> Floats:
    """Return which part of its clear nights limits let each free evening be spent outside. [0..1]"""
    limits = limits_of(given, evenings, out)
    return share_spent_outside(chain, limits) if limits else np.ones(len(evenings))


def _part_of(
    every: WeatherSeason, some: Ints, given: Availability, evenings: Sequence[date], out: Sequence[date]
) -> tuple[Wishes, Floats]:
    """Return a season of some of the nights, by position, and the share of each spent outside."""
    wishes, day = every.wishes, every.night_day[some]
    chain = chain_of(every.odds[some], every.persistence, day)
    share = _share_outside(chain, given, [evenings[place] for place in some.tolist()], out)
    spacing = np.maximum(every.spacing_days, 1)
    rest: Ints = np.searchsorted(day, day + spacing[:, None]).astype(np.int64)
    worth, length = wishes.worth[:, some], wishes.length[some] * share
    return Wishes(worth, wishes.minutes, wishes.visits, rest, length, chain), share


def bound_at(wishes: Wishes, mu: Floats) -> float:
    """Return the bound that prices prove on what any policy can expect, as `refit.bound_of_prices` does.

    Without the load of the nights, of which nothing is asked here; that makes it many times as fast.

    Parameters
    ----------
    mu : Price of a clear minute of each night. (nights,) [1/min]
    """
    chain, total = wishes.chain, float((mu * wishes.chain.odds * wishes.length).sum())
    gain = wishes.worth - mu * wishes.minutes[:, None]
    for some in (np.flatnonzero(wishes.visits == 1), np.flatnonzero(wishes.visits > 1)):
        if len(some):
            wanted, rows = wishes.visits[some], np.arange(len(some))
            later = later_of(gain[some], chain, int(wanted.max()), wishes.rest[some])
            waits = later.value[wanted, rows, 0, CLEAR]
            goes = gain[some, 0] + later.rested[wanted - 1, rows, 0]
            clear = chain.odds[0] * np.maximum(waits, goes)
            total += float((clear + (1 - chain.odds[0]) * later.value[wanted, rows, 0, CLOUD]).sum())
    return total


def _least(wishes: Wishes, mu: Floats, night: int) -> float:
    """Return the lowest bound that any price of one night proves, the others as they are."""

    def bound(price: float) -> float:
        return bound_at(wishes, np.where(np.arange(len(mu)) == night, price, mu))

    low, high = 0.0, float(np.max(wishes.worth[:, night] / wishes.minutes, initial=0.0))
    best = bound(0.0)
    if high <= 0.0 or bound(HINT * high) >= best:
        return best  # convex: no price at all is the best
    inner = [high - GOLDEN * (high - low), low + GOLDEN * (high - low)]
    value = [bound(price) for price in inner]
    for _ in range(STEPS):
        if value[0] < value[1]:
            high, inner[1], value[1] = inner[1], inner[0], value[0]
            inner[0] = high - GOLDEN * (high - low)
            value[0] = bound(inner[0])
        else:
            low, inner[0], value[0] = inner[0], inner[1], value[1]
            inner[1] = low + GOLDEN * (high - low)
            value[1] = bound(inner[1])
    return min(best, *value)


def _months(
    made: Ready, hours: Floats, worth: dict[date, float], priced: PricedNights
) -> Iterator[MonthPrice]:
    """Yield the prices of every month of the season."""
    given = made.scenario.availability
    of_month: dict[date, list[float]] = defaultdict(list)
    for evening, hour in zip(_evenings(made), hours.tolist(), strict=True):
        of_month[evening.replace(day=1)].append(hour)
    for month in sorted({evening.replace(day=1) for evening in made.scenario.season.evenings}):
        mine = {evening: each for evening, each in worth.items() if evening.replace(day=1) == month}
        best = max(mine, key=lambda evening: (mine[evening], -evening.toordinal()), default=None)
        out, most = 0.0, given.nights_per_month
        if most is not None:
            out = priced.worth_of_limits(replace(given, nights_per_month=min(31, most + 1)), month)
        mean = float(np.mean(of_month[month])) if of_month[month] else 0.0
        yield MonthPrice(month, mean, mine[best] if best else 0.0, best, out)


def _of_a_week(priced: PricedNights) -> float:
    """Return what one more night out allowed in every week would bring."""
    given = priced.made.scenario.availability
    most = given.nights_per_week
    return 0.0 if most is None else priced.worth_of_limits(replace(given, nights_per_week=min(7, most + 1)))
