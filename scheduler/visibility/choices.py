"""What there is to choose between: every free evening at home and, where time is left, at the sites away."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ..domain import FreeNight, Opportunities, Scenario
from ..sky import SeasonSky, sky_of
from .free import nights_away_of
from .opportunities import opportunities_of
from .optics import optics_of
from .prospect import Prospect, prospect_of

_COLUMNS = ("target", "night", "start_min", "end_min", "best_min", "merit", "standby_only")


@dataclass(frozen=True, eq=False)
class Choices:
    """A season's free nights, each with the season as it is seen from where the night would be spent.

    Attributes
    ----------
    scenario : Whose.
    home : The season as seen from home.
    nights : By evening; of one evening the trips first, home last. One of them at most is spent outside.
    prospects : Of each night, one object for each site.
    """

    scenario: Scenario
    home: Prospect
    nights: tuple[FreeNight, ...]
    prospects: tuple[Prospect, ...]

    def opportunities(self) -> Opportunities:
        """Return where each target shows, on every night there is to choose and its observer comes on."""
        parts = [self._shown(one) for one in {id(one): one for one in (self.home, *self.prospects)}.values()]
        whole = [np.concatenate([getattr(part, name) for part in parts]) for name in _COLUMNS]
        target, night, start_min, *_ = whole
        order = np.lexsort((start_min, target, night))
        order = order[self._wanted()[target[order], night[order]]]
        columns = dict(zip(_COLUMNS, (column[order] for column in whole), strict=True))
        return Opportunities(parts[0].epoch, parts[0].targets, len(self.nights), **columns)

    def _wanted(self) -> NDArray[np.bool_]:
        """Tell on which nights whoever wants a target comes along. (targets, nights)"""
        asked = {one.observer for one in self.scenario.targets}
        there = {who: np.array([night.has(who) for night in self.nights], dtype=np.bool_) for who in asked}
        return np.array([there[one.observer] for one in self.scenario.targets], dtype=np.bool_)

    def _shown(self, prospect: Prospect) -> Opportunities:
        """Return the opportunities of the nights of one prospect, counted among all."""
        site = prospect.sky.site
        at_site = [
            night for night, one in enumerate(self.prospects) if one.sky.site == site
        ]  # whoever comes along, for the next night there ends this one
        mine = [place for place, night in enumerate(at_site) if self.prospects[night] is prospect]
        free, scenario = [self.nights[night] for night in at_site], self.scenario
        found = opportunities_of(prospect, free, scenario.routine, scenario.guests, mine)
        position = np.array(at_site, dtype=np.int64)
        return replace(found, nights=len(self.nights), night=position[found.night])


def choices_of(scenario: Scenario, home: Prospect, free: Sequence[FreeNight]) -> Choices:
    """Return what there is to choose between; a club night has one site, if there is time to go there.

    Parameters
    ----------
    scenario : With the trips there are.
    home : The season as seen from home by all.
    free : The free nights at home, in order.
    """
    found = [(night, home.sky) for night in free]
    for trip in scenario.trips if scenario.availability.trips_allowed else ():
        sky = sky_of(trip.site, scenario.season.evenings)
        found += [(night, sky) for night in nights_away_of(scenario, trip, free, sky.nights)]
    offered = {(night.evening, night.away) for night, _ in found}
    found = [
        (night, sky)
        for night, sky in found
        if not night.club or night.away == _club_site(scenario, night, offered)
    ]
    found.sort(key=lambda one: (one[0].evening, one[0].trip is None))
    seen: dict[tuple[str, tuple[str, ...]], Prospect] = {(scenario.site.name, ()): home}
    for night, sky in found:
        key = sky.site.name, night.observers
        seen[key] = seen[key] if key in seen else _seen_by(scenario, sky, night.observers)
    prospects = tuple(seen[sky.site.name, night.observers] for night, sky in found)
    return Choices(scenario, home, tuple(night for night, _ in found), prospects)


def _club_site(
    scenario: Scenario, night: FreeNight, offered: Container[tuple[date, str | None]]
) -> str | None:
    """Return where a club night is held: at the club's site if there is time to go there, else at home."""
    site = scenario.club.site
    return site if (night.evening, site) in offered else None


def _seen_by(scenario: Scenario, sky: SeasonSky, names: Sequence[str]) -> Prospect:
    """Return the season as seen from a site by some of the observers, by all where none are named."""
    who = tuple(one for one in scenario.observers if not names or one.name in names)
    return prospect_of(sky, scenario.targets, optics_of(scenario.kit, who))
