"""What nights and months are worth: the prices of the relaxation behind a plan's worths."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from ..assignment.bound import Bound, expected_capacity_of
from ..assignment.problem import Problem
from ..domain import (
    Availability,
    Cancel,
    FreeNight,
    MonthPrice,
    NightPrice,
    Opportunities,
    Progress,
    Report,
    Scenario,
    SeasonPrices,
    ignore_progress,
    never_cancelled,
)
from ..domain.opportunity import Floats
from ..errors import Cancelled
from ..night import NightRows, best_programme
from ..pricing import limits_of
from .made import Made, made_ready

LABELS = 100  # part programmes kept at a time when a night's visits are chosen


def season_prices(
    scenario: Scenario, *, report: Report = ignore_progress, cancel: Cancel = never_cancelled
) -> SeasonPrices:
    """Return what a clear hour of each free night is worth, and one more night in each month.

    Notes
    -----
    The prices are those of a relaxation in which each night has its clear odds' share of its time, nights
    out are counted as planned, and every target weighs all nights against each other. A further free night
    is worth what its best programme brings above what its targets are worth elsewhere, times its clear odds,
    less the cost of going out and the prices of the limits it would count against. To first order that is
    what the expected worth rises by, and in the relaxation no more.

    Raises
    ------
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    Cancelled
        `cancel` was set.
    """
    report(Progress("following the sky through the season", 0.0))
    made = made_ready(scenario)
    report(Progress("pricing the nights", 0.2))
    priced = PricedNights.of(made, cancel)
    report(Progress("pricing the evenings that are not free", 0.5))
    more = made_ready(replace(made.scenario, availability=_every_evening(scenario.availability)))
    worth = priced.worth_of(more, made, cancel)
    return SeasonPrices(
        tuple(
            NightPrice(night.evening, night.clear_odds, hour)
            for night, hour in zip(made.free, priced.hour.tolist(), strict=True)
        ),
        priced.months(made, worth),
        bool((priced.bound.limit_price[: priced.weeks] > 1e-9).any()),
    )


def _every_evening(given: Availability) -> Availability:
    """Return an availability with the evenings of the other weekdays too, at the times of the first rule."""
    known = {weekday for rule in given.rules for weekday in rule.weekdays}
    others = tuple(weekday for weekday in range(7) if weekday not in known)
    rules = (*given.rules, replace(given.rules[0], weekdays=others)) if others else given.rules
    return replace(given, rules=rules, nights_per_week=None, nights_per_month=None)


@dataclass(frozen=True, eq=False)
class PricedNights:
    """The relaxation in which each night has its clear odds' share of its time, solved.

    Attributes
    ----------
    problem : With worths of visits made, weather left out.
    bound : Its prices.
    weeks : How many of the problem's limits, the first ones, are about weeks.
    """

    problem: Problem
    bound: Bound
    weeks: int

    @classmethod
    def of(cls, made: Made, cancel: Cancel = never_cancelled) -> PricedNights:
        """Return the nights of a season priced."""
        o, availability = made.opportunities, made.scenario.availability
        problem = replace(made.priced(cancel).problem, value=_value_of(made.scenario, o))
        weekly = replace(availability, nights_per_month=None)
        weeks = len(limits_of(weekly, [night.evening for night in made.free]))
        return cls(problem, expected_capacity_of(problem, _odds_of(made.free), cancel), weeks)

    @property
    def hour(self) -> Floats:
        """What a clear hour more of each free night brings. (nights,)"""
        return np.asarray(60.0 * self.bound.night_price)

    def elsewhere(self, odds: Floats) -> Floats:
        """Return what a visit of each target is worth elsewhere, 0 where it shows nowhere. (targets,)"""
        w, nowhere = self.bound.windows, np.full(len(self.problem.visits), np.inf)
        np.minimum.at(nowhere, w.target, self.bound.keep / np.maximum(odds[w.night], 1e-9))
        return np.where(np.isfinite(nowhere), nowhere, 0.0)

    def worth_of(self, more: Made, made: Made, cancel: Cancel = never_cancelled) -> dict[date, float]:
        """Return what each evening of a larger season that is not free would bring as a free one."""
        known = {night.evening for night in made.free}
        gain = _value_of(more.scenario, more.opportunities)
        gain = gain - self.elsewhere(_odds_of(made.free))[more.opportunities.target]
        found = {}
        for place, night in enumerate(more.free):
            if cancel.is_set():
                raise Cancelled
            if night.evening not in known and night.ever_clear:
                brings = _best(more.opportunities, place, gain, self.problem)
                brings -= made.scenario.routine.outing_cost
                limits = self._limits_on(night.evening, [one.evening for one in made.free])
                found[night.evening] = max(0.0, night.clear_odds * brings - limits)
        return found

    def _limits_on(self, evening: date, free: Sequence[date]) -> float:
        """Return the prices of the limits a further night out counts against."""
        total = 0.0
        for place, limit in enumerate(self.problem.limits):
            first = free[limit.nights[0]]
            week = first.isocalendar()[:2] == evening.isocalendar()[:2]
            month = (first.year, first.month) == (evening.year, evening.month)
            if week if place < self.weeks else month:
                total += float(self.bound.limit_price[place])
        return total

    def months(self, made: Made, worth: dict[date, float]) -> tuple[MonthPrice, ...]:
        """Return the prices of every month of the season."""
        hours: dict[date, list[float]] = defaultdict(list)
        for night, hour in zip(made.free, self.hour.tolist(), strict=True):
            hours[night.evening.replace(day=1)].append(hour)
        out: dict[date, float] = defaultdict(float)
        for place, limit in enumerate(self.problem.limits[self.weeks :], self.weeks):
            out[made.free[limit.nights[0]].evening.replace(day=1)] = float(self.bound.limit_price[place])
        months = sorted({evening.replace(day=1) for evening in made.scenario.season.evenings})
        found = []
        for month in months:
            mine = {day: each for day, each in worth.items() if day.replace(day=1) == month}
            best = max(mine, key=lambda day: (mine[day], -day.toordinal()), default=None)
            mean = float(np.mean(hours[month])) if hours[month] else 0.0
            found.append(MonthPrice(month, mean, mine[best] if best else 0.0, best, out[month]))
        return tuple(found)


def _odds_of(free: Sequence[FreeNight]) -> Floats:
    return np.array([night.clear_odds if night.ever_clear else 0.0 for night in free])


def _value_of(scenario: Scenario, opportunities: Opportunities) -> Floats:
    """Return priority times merit of each row, 0 where no visit may be made. (rows,)"""
    weights = np.array([float(target.priority) for target in scenario.targets])
    merit = np.where(opportunities.standby_only, 0.0, opportunities.merit)
    return np.asarray(weights[opportunities.target] * merit)


def _best(o: Opportunities, night: int, gain: Floats, problem: Problem) -> float:
    """Return the most one clear night can gain."""
    first, last = np.searchsorted(o.night, [night, night + 1])
    some = np.flatnonzero(gain[first:last] > 0) + first
    target = o.target[some]
    rows = NightRows(
        target, o.start_min[some], o.end_min[some], problem.minutes[target], gain[some], problem.move_min
    )
    return best_programme(rows, LABELS).value
