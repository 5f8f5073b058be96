"""The sky's own dates at a scenario's site: what an observer notes in a calendar besides the nights out.

New Moons, eclipses of the Moon, peaks of meteor showers, oppositions and greatest elongations, planets back
in the evening sky; only what shows from the site, by its clock. Full Moons are left out: they are no date for
who looks for dark nights. Eclipses of the Sun are left out too: nothing here works them out, and without a
proper filter nobody may look at one.
"""

from __future__ import annotations

from ..domain import Scenario
from .above import above
from .date import SkyDate, SkySort
from .moon import lunar_eclipses_over, new_moons_over
from .planets import planets_over
from .showers import showers_over

__all__ = ["SkyDate", "SkySort", "sky_dates_of"]


def sky_dates_of(scenario: Scenario) -> tuple[SkyDate, ...]:
    """Return the sky's dates in a scenario's season at its site, in order of time.

    The same sky gives the same dates, whatever the log, the weather and the evenings: of the scenario only
    the site, the season, and the planets and showers on its wish-list count. What belongs to a night counts
    by the date of its evening.

    Raises
    ------
    OutsideEphemeris
        The season leaves 1900-2053.
    """
    here, evenings = above(scenario), scenario.season.evenings
    found = (
        *new_moons_over(here), *lunar_eclipses_over(here), *showers_over(here, scenario.targets),
        *planets_over(here, scenario),
    )  # fmt: skip
    shown = (one for one in found if evenings[0] <= one.day <= evenings[-1])
    return tuple(sorted(shown, key=lambda one: (one.start, one.title)))
