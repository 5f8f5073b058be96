"""What there is to choose between: every free evening at home and, where time is left, at the sites away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..domain import FreeNight, Opportunities, Scenario
from ..domain.opportunity import Ints
from ..sky import sky_of
from .free import nights_away_of
from .opportunities import opportunities_of
from .prospect import Prospect, prospect_for

_COLUMNS = ("target", "start_min", "end_min", "best_min", "merit", "standby_only")


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
        """Return where each target shows, on every night there is to choose."""
        groups = self._together()
        parts = [self._shown(prospect, nights) for prospect, nights in groups]
        if len(parts) == 1:
            return parts[0]
        night = np.concatenate([nights[part.night] for (_, nights), part in zip(groups, parts, strict=True)])
        whole = [np.concatenate([getattr(part, name) for part in parts]) for name in _COLUMNS]
        target, start_min, *_ = whole
        order = np.lexsort((start_min, target, night))
        columns = dict(zip(_COLUMNS, (column[order] for column in whole), strict=True))
        return Opportunities(
            parts[0].epoch, parts[0].targets, len(self.nights), night=night[order], **columns
        )

    def _together(self) -> list[tuple[Prospect, Ints]]:
        """Return each prospect, home's first, with its nights by position."""
        sites = {id(one): one for one in (self.home, *self.prospects)}.values()
        return [
            (site, np.array([n for n, one in enumerate(self.prospects) if one is site], dtype=np.int64))
            for site in sites
        ]

    def _shown(self, prospect: Prospect, nights: Ints) -> Opportunities:
        """Return the opportunities of nights of one prospect, counted among themselves."""
        free = [self.nights[night] for night in nights.tolist()]
        return opportunities_of(prospect, free, self.scenario.routine, self.scenario.guests)


def choices_of(scenario: Scenario, home: Prospect, free: Sequence[FreeNight]) -> Choices:
    """Return what there is to choose between.

    Parameters
    ----------
    scenario : With the trips there are.
    home : The season as seen from home.
    free : The free nights at home, in order.
    """
    found = [(night, home) for night in free]
    for trip in scenario.trips if scenario.availability.trips_allowed else ():
        sky = sky_of(trip.site, scenario.season.evenings)
        there = prospect_for(sky, scenario)
        found += [(night, there) for night in nights_away_of(scenario, trip, free, sky.nights)]
    found.sort(key=lambda one: (one[0].evening, one[0].trip is None))
    return Choices(scenario, home, tuple(night for night, _ in found), tuple(there for _, there in found))
