"""The Messier list under a real sky: its places, the Moon and twilight of 2027, weekend evenings.

Site, kit, priorities and odds are invented and the same every time; places, sizes and brightness come from
the catalogue, the sky from the ephemeris. All is seen as `plan_year` sees it, so that windows, moonlight and
merit are those users meet.
"""

from __future__ import annotations

from datetime import date, time, timedelta

import numpy as np

from scheduler.catalogue import look_up
from scheduler.domain import (
    Availability,
    ClearOdds,
    EveningRule,
    Eyepiece,
    Kit,
    Scenario,
    Season,
    Site,
    Target,
    Telescope,
)
from scheduler.sky import sky_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.opportunities import opportunities_of
from scheduler.visibility.prospect import prospect_for

from .instances import Instance

SITE = Site("Hollow Down", 43.5, 11.0, 700.0, "Europe/Rome", 21.4, 0.2)
KIT = Kit(
    (Telescope("200 mm f/6", 200.0, 1200.0, 50.0),),
    (Eyepiece("32 mm", 32.0), Eyepiece("17 mm", 17.0, 65.0), Eyepiece("9 mm", 9.0, 60.0)),
)
SATURDAYS = tuple(date(2027, 1, 2) + timedelta(days=7 * week) for week in range(52))
AWAY = frozenset(SATURDAYS[week] for week in (12, 21, 29, 30, 31, 51))
RULE = EveningRule((5,), time(20, 0), time(0, 30))
CLEAR = (0.30, 0.34, 0.40, 0.44, 0.48, 0.52, 0.55, 0.55, 0.50, 0.40, 0.30, 0.28)
PERSISTENCE = 0.3
LOWEST_DEG = 10.0  # so that M 7, 12 deg high at best, is within reach


def targets() -> tuple[Target, ...]:
    """Return the list, each with a priority and a length of visit of its own."""
    rng = np.random.default_rng(110)
    found: dict[str, Target] = {}
    for number in range(1, 111):
        entry = look_up(f"M {number}")
        priority = int(rng.choice([1, 2, 3, 4, 5], p=[0.1, 0.2, 0.4, 0.2, 0.1]))
        minutes = int(rng.choice([15, 20, 20, 20, 30, 40]))
        visits = int(rng.integers(2, 4)) if rng.random() < 0.06 else 1
        found[entry.identity] = Target(
            entry.identity, entry.kind, entry.ra_deg, entry.dec_deg, entry.body,
            magnitude=entry.magnitude, size_arcmin=entry.size_arcmin, nature=entry.nature,
            priority=priority, minutes=minutes, visits=visits, spacing_days=14,
            lowest_altitude_deg=LOWEST_DEG,
        )  # fmt: skip
    return tuple(found.values())


def m110w() -> Instance:
    """The Messier list on 46 Saturday evenings."""
    wished = targets()
    scenario = Scenario(
        "Messier year", SITE, KIT, Season(date(2027, 1, 1), 365),
        Availability((RULE,), away=AWAY), ClearOdds(CLEAR, PERSISTENCE), wished,
    )  # fmt: skip
    sky = sky_of(SITE, scenario.season.evenings)
    odds = [CLEAR[evening.month - 1] for evening in sky.evenings]
    free = free_nights_of(scenario, sky.nights, odds)
    opportunities = opportunities_of(prospect_for(sky, scenario), free, scenario.routine)
    return Instance(
        opportunities,
        np.array([float(target.priority) for target in wished]),
        np.array([target.minutes for target in wished], np.int64),
        np.array([target.visits for target in wished], np.int64),
        np.array([target.spacing_days for target in wished], np.int64),
        np.array([night.evening.toordinal() for night in free], np.int64),
        np.array([night.clear_odds for night in free]),
        PERSISTENCE,
    )  # fmt: skip
