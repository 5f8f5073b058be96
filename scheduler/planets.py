"""The season of every planet at a scenario's site, for an observer who goes to bed when the scenario says."""

from __future__ import annotations

import numpy as np

from .domain import Kind, Scenario
from .scenario.columns import lowest_deg_of
from .sky import sky_of
from .sky.apparitions import PlanetSeason, planet_season_of
from .sky.ephemeris import PLANETS
from .sky.season import SeasonSky
from .visibility.free import free_nights_of


def planet_seasons_of(scenario: Scenario) -> tuple[PlanetSeason, ...]:
    """Return the season of each planet, Mercury first, above the lowest altitude its wish asks for if any."""
    sky = sky_of(scenario.site, scenario.season.evenings)
    finish_unix_s = sky.midnight_unix_s + _usual_finish_s(scenario, sky)
    return tuple(
        planet_season_of(sky, body, finish_unix_s=finish_unix_s, lowest_altitude_deg=lowest_deg)
        for body, lowest_deg in lowest_planets_deg(scenario).items()
    )


def lowest_planets_deg(scenario: Scenario) -> dict[str, float]:
    """Return the lowest altitude at which each planet is worth looking at, its wish's if any. [deg]"""
    wished = {t.body: t.lowest_altitude_deg for t in scenario.targets if t.kind is Kind.PLANET}
    return {body: wished.get(body, lowest_deg_of(Kind.PLANET, body)) for body in PLANETS}


def _usual_finish_s(scenario: Scenario, sky: SeasonSky) -> float:
    """Return how long after the middle of the night the observer's free nights usually end. [s]"""
    free = free_nights_of(scenario, sky.nights, [1.0] * len(sky))
    middle = dict(zip(sky.evenings, sky.midnight_unix_s.tolist(), strict=True))
    return float(np.median([on.free.end.timestamp() - middle[on.evening] for on in free])) if free else 0.0
