"""A season made ready for questions, as `year.plan_year` makes it up to the solver; a plan found on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from difflib import get_close_matches
from functools import cached_property, lru_cache

import numpy as np

from ..assignment.problem import Problem
from ..domain import Cancel, FreeNight, Opportunities, Plan, Scenario, Season, Site, Visit, never_cancelled
from ..domain.checks import holds
from ..domain.opportunity import Floats, Ints
from ..errors import UnknownName
from ..pricing import PricedSeason, priced
from ..sky import SeasonSky, sky_of
from ..visibility.free import free_nights_of
from ..visibility.opportunities import opportunities_of
from ..visibility.prospect import Prospect, prospect_for
from ..wanted import still_open
from ..weather import evening_odds_of, learned_odds_of


@dataclass(frozen=True, eq=False)
class Made:
    """A season made ready.

    Attributes
    ----------
    scenario : With the odds its log has taught; not to be made ready again, for they would be learned twice.
    prospect : The season and its targets.
    evening_odds : Clear odds of every evening of the season, free or not. (evenings,) [0..1]
    free : The free nights.
    opportunities : Where each target still wanted shows on them.
    """

    scenario: Scenario
    prospect: Prospect
    evening_odds: Floats
    free: tuple[FreeNight, ...]
    opportunities: Opportunities

    def priced(self, cancel: Cancel = never_cancelled) -> PricedSeason:
        """Return the season with the weather priced in."""
        return priced(self.scenario, self.free, self.opportunities, cancel)

    @cached_property
    def position(self) -> dict[date, int]:
        """Place of each free night, by its evening."""
        return {night.evening: place for place, night in enumerate(self.free)}


def made_ready(scenario: Scenario) -> Made:
    """Return a scenario's season, made ready as `plan_year` makes it.

    Raises
    ------
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    """
    sky = _sky(scenario.site, scenario.season)
    scenario = replace(scenario, clear_odds=learned_odds_of(scenario.clear_odds, scenario.outcomes))
    odds = evening_odds_of(scenario.clear_odds, sky.evenings, scenario.outcomes, scenario.forecast)
    free = free_nights_of(scenario, sky.nights, odds.tolist())
    prospect = prospect_for(sky, scenario)
    every = opportunities_of(prospect, free, scenario.routine, scenario.guests)
    opportunities = still_open(scenario, free, every)
    return Made(scenario, prospect, odds, free, opportunities)


@lru_cache(maxsize=2)
def _sky(site: Site, season: Season) -> SeasonSky:
    """Return a season's sky, kept: one question makes the same season ready many times."""
    return sky_of(site, season.evenings)


def rows_of(made: Made, problem: Problem, visits: Sequence[Visit]) -> tuple[Ints, Ints]:
    """Return the dearest usable row each visit lies in, and the visits' starts, both (visits,).

    A visit that lies in none, for the season is another than its own, is left out.
    """
    o, usable = problem.opportunities, problem.usable
    position = {target.name: place for place, target in enumerate(made.scenario.targets)}
    rows, starts = [], []
    for visit in visits:
        target, night = position[visit.target], made.position.get(visit.evening, -1)
        start, end = (minute_of(o, moment) for moment in (visit.time.start, visit.time.end))
        holds_it = (o.target[usable] == target) & (o.start_min[usable] <= start) & (o.end_min[usable] >= end)
        fits = usable[holds_it & (o.night[usable] == night)]
        if len(fits):
            rows.append(int(fits[problem.value[fits].argmax()]))
            starts.append(start)
    return np.array(rows, np.int64), np.array(starts, np.int64)


def minute_of(opportunities: Opportunities, moment: datetime) -> int:
    """Return the whole minutes from the season's epoch to a moment. [min]"""
    return round((moment - opportunities.epoch) / timedelta(minutes=1))


def of_scenario(plan: Plan, made: Made) -> None:
    """Raise `InvalidValue` where a plan is not one of this season as it stands."""
    asked, of = made.scenario, (plan.site, plan.season, plan.availability, plan.routine, plan.targets)
    same = of == (asked.site, asked.season, asked.availability, asked.routine, asked.targets)
    same = same and (plan.kit, plan.observers, plan.guests) == (asked.kit, asked.observers, asked.guests)
    expected = "a plan of this scenario as it stands now; plan it again, or name its own scenario"
    holds("plan", plan.scenario, same and plan.nights == made.free, expected)


def target_of(plan: Plan, name: str) -> int:
    """Return the position of a target by its name, or by what else it is known as.

    Raises
    ------
    UnknownName
        The wish-list has no such target.
    """
    wanted = name.strip().casefold()
    for place, target in enumerate(plan.targets):
        if wanted in (target.name.casefold(), (target.also_known_as or "").casefold()):
            return place
    near = get_close_matches(name, [target.name for target in plan.targets])
    raise UnknownName(name, tuple(near))
