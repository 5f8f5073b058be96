"""A season made ready for questions, and the target they ask about."""

from __future__ import annotations

from difflib import get_close_matches
from functools import lru_cache

from ..domain import Plan, Scenario, Season, Site
from ..errors import UnknownName
from ..ready import Ready, made_ready
from ..sky import SeasonSky, sky_of


def season_ready(scenario: Scenario) -> Ready:
    """Return a scenario's season made ready, its sky kept for the next question.

    Raises
    ------
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    """
    return made_ready(scenario, _sky(scenario.site, scenario.season))


@lru_cache(maxsize=2)
def _sky(site: Site, season: Season) -> SeasonSky:
    """Return a season's sky, kept: one question makes the same season ready many times."""
    return sky_of(site, season.evenings)


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
