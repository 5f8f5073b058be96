"""Comets and minor planets where others have put them; sources stand in sky.csv."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from scheduler.domain import Orbit
from scheduler.scenario.elements import orbit_of
from scheduler.sky.orbits import orbit_looks_at, orbits_seen_au
from scheduler.sky.planets import looks_at
from tests.scheduler.scenario.test_elements import CERES, HALE_BOPP

from .sky_figures import FIGURES, unix_of_tt

ENCKE = Orbit(
    2448193.04502, 2.2091404 * (1.0 - 0.8502196), 0.8502196, 11.94524, 334.75006, 186.23352, 11.0, 4.0, True
)  # fmt: skip
"""Perihelion 1990 October 28.54502; the brightness is not the example's."""


def place_deg(orbit: Orbit, unix_s: float) -> tuple[float, float]:
    x, y, z = orbits_seen_au([orbit], np.array([unix_s]))[:, 0, 0, 0]
    return float(np.degrees(np.arctan2(y, x)) % 360.0), float(np.degrees(np.arctan2(z, np.hypot(x, y))))


def test_encke() -> None:
    moment = unix_of_tt(2448170.5)
    ra_deg, dec_deg = place_deg(ENCKE, moment)
    assert FIGURES["Encke astrometric ra 1990-10-06"].holds(ra_deg)
    assert FIGURES["Encke astrometric dec 1990-10-06"].holds(dec_deg)
    looks = orbit_looks_at([ENCKE], np.array([moment]))
    assert FIGURES["Encke elongation 1990-10-06"].holds(abs(looks.elongation_deg[0, 0]))
    assert looks.elongation_deg[0, 0] < 0.0  # in the morning sky: it stood in Leo in October


def test_ceres_from_its_line() -> None:
    ra_deg, dec_deg = place_deg(orbit_of(CERES), datetime(2020, 6, 17, tzinfo=UTC).timestamp())
    assert FIGURES["Ceres astrometric ra 2020-06-17"].holds(ra_deg / 15.0)
    assert FIGURES["Ceres astrometric dec 2020-06-17"].holds(dec_deg)


def test_hale_bopp_from_its_line() -> None:
    orbit, moment = orbit_of(HALE_BOPP), datetime(2020, 5, 31, tzinfo=UTC).timestamp()
    ra_deg, dec_deg = place_deg(orbit, moment)
    assert FIGURES["Hale-Bopp astrometric ra 2020-05-31"].holds(ra_deg)
    assert FIGURES["Hale-Bopp astrometric dec 2020-05-31"].holds(dec_deg)
    distance_au = orbit_looks_at([orbit], np.array([moment])).earth_distance_au[0, 0]
    assert FIGURES["Hale-Bopp distance 2020-05-31"].holds(distance_au)


def test_saturns_rings() -> None:
    # The example's rings are 375.35" across at 1 au (Meeus ch. 45): what is held here is the distance.
    disc_arcsec = looks_at("saturn", np.array([unix_of_tt(2448972.50068)]))[0, 0]
    disc_at_1_au = 2.0 * np.degrees(np.arcsin(60268.0 / 149597870.7)) * 3600.0
    assert FIGURES["Saturn ring major axis 1992-12-16"].holds(375.35 * disc_arcsec / disc_at_1_au)
