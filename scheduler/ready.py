"""A season made ready for planning: when the observer is free, where, and what then shows."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np

from .assignment.problem import Problem
from .domain import Cancel, FreeNight, Opportunities, Plan, Scenario, never_cancelled
from .domain.opportunity import Floats, Ints
from .pricing import PricedSeason, priced, unpriced
from .sky import SeasonSky, sky_of
from .visibility.choices import Choices, choices_of
from .visibility.free import free_nights_of
from .visibility.prospect import prospect_for
from .wanted import still_open
from .weather import evening_odds_of, learned_odds_of


@dataclass(frozen=True, eq=False)
class Ready:
    """A season made ready.

    Attributes
    ----------
    scenario : With the odds its log has taught; not to be made ready again, for they would be learned twice.
    choices : The free nights, at home and away, and the season as seen on each.
    evening_odds : Clear odds of every evening of the season, free or not. (evenings,) [0..1]
    every : Where each target shows on the free nights.
    opportunities : The same of what is still wanted.
    """

    scenario: Scenario
    choices: Choices
    evening_odds: Floats
    every: Opportunities
    opportunities: Opportunities

    @property
    def free(self) -> tuple[FreeNight, ...]:
        """The free nights, at home and away."""
        return self.choices.nights

    def unpriced(self, announced: Collection[int] = frozenset()) -> Problem:
        """Return what is wanted of the season, the weather left aside; `announced` as for `priced`."""
        return unpriced(self.scenario, self.free, self.opportunities, announced)

    def priced(
        self, cancel: Cancel = never_cancelled, announced: Collection[int] = frozenset()
    ) -> PricedSeason:
        """Return the season with the weather priced in; `announced` nights are spent outside anyhow."""
        return priced(self.scenario, self.free, self.opportunities, cancel, announced)

    def shown_in(self, plan: Plan) -> Opportunities:
        """Return where what is still wanted shows on the nights of a plan, numbered as they are there."""
        return self.opportunities.on(self._places(plan))

    def every_in(self, plan: Plan) -> Opportunities:
        """Return where each target shows on the evenings of a plan, at home or away, wanted still or not.

        Numbered as the plan's nights are; an evening it spends at one site is told of from all.
        """
        place = {night.evening: position for position, night in enumerate(plan.nights)}
        evenings = np.array([place[night.evening] for night in self.free], dtype=np.int64)
        return self.every.together(evenings, len(plan.nights))

    def _places(self, plan: Plan) -> Ints:
        nights = [self.position[night.evening, night.away] for night in plan.nights]
        return np.array(nights, dtype=np.int64)

    @cached_property
    def position(self) -> dict[tuple[date, str | None], int]:
        """Place of each free night, by its evening and its site away, None at home."""
        return {(night.evening, night.away): place for place, night in enumerate(self.free)}


def made_ready(scenario: Scenario, sky: SeasonSky | None = None) -> Ready:
    """Return a scenario's season made ready.

    Parameters
    ----------
    sky : The season's sky at home, where it is known already.

    Raises
    ------
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    """
    sky = sky_of(scenario.site, scenario.season.evenings) if sky is None else sky
    scenario = replace(scenario, clear_odds=learned_odds_of(scenario.clear_odds, scenario.outcomes))
    odds = evening_odds_of(scenario.clear_odds, sky.evenings, scenario.outcomes, scenario.forecast)
    at_home = free_nights_of(scenario, sky.nights, odds.tolist())
    choices = choices_of(scenario, prospect_for(sky, scenario), at_home)
    every = choices.opportunities()
    return Ready(scenario, choices, odds, every, still_open(scenario, choices.nights, every))
