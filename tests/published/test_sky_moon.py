"""The Moon's face and a comet's place as worked out in print; sources stand in sky.csv."""

from __future__ import annotations

import numpy as np

from scheduler.domain import Orbit
from scheduler.sky.moonface import moonface_between
from scheduler.sky.orbits import orbit_looks_at, orbits_seen_au
from scheduler.sky.planets import looks_at

from .sky_figures import FIGURES, unix_of_tt

COPERNICUS_DEG = (-20.0, 9.7)
ENCKE = Orbit(
    2448193.04502, 2.2091404 * (1.0 - 0.8502196), 0.8502196, 11.94524, 334.75006, 186.23352, 11.0, 4.0, True
)  # fmt: skip
"""Perihelion 1990 October 28.54502; the brightness is not the example's."""


def test_libration_and_the_suns_place() -> None:
    moment = unix_of_tt(2448724.5)
    face = moonface_between(moment, moment)
    found = {
        "libration in longitude": face.libration_deg(moment)[0],
        "libration in latitude": face.libration_deg(moment)[1],
        "selenographic longitude of Sun": face.subsolar_deg(moment)[0],
        "selenographic latitude of Sun": face.subsolar_deg(moment)[1],
        "colongitude of Sun": face.colongitude_deg(moment),
        "Sun altitude at Copernicus": face.sun_altitude_deg(*COPERNICUS_DEG, moment),
    }
    assert [
        name for name, value in found.items() if not FIGURES[f"{name} 1992-04-12"].holds(float(value))
    ] == []


def test_sunrise_over_a_crater() -> None:
    figure = FIGURES["sunrise at Copernicus 1992-04"]
    edges = np.array([unix_of_tt(figure.value + side * figure.tolerance) for side in (-1, 1)])
    before, after = moonface_between(*edges).sun_altitude_deg(*COPERNICUS_DEG, edges)
    assert before < 0.0 < after


def test_a_comets_place() -> None:
    moment = np.array([unix_of_tt(2448170.5)])
    x, y, z = orbits_seen_au([ENCKE], moment)[:, 0, 0, 0]
    assert FIGURES["Encke astrometric ra 1990-10-06"].holds(np.degrees(np.arctan2(y, x)) % 360.0)
    assert FIGURES["Encke astrometric dec 1990-10-06"].holds(np.degrees(np.arctan2(z, np.hypot(x, y))))
    looks = orbit_looks_at([ENCKE], moment)
    assert FIGURES["Encke elongation 1990-10-06"].holds(abs(looks.elongation_deg[0, 0]))


def test_saturns_rings() -> None:
    # The example's rings are 375.35" across at 1 au (Meeus ch. 45): what is held here is the distance.
    disc_arcsec = looks_at("saturn", np.array([unix_of_tt(2448972.50068)]))[0, 0]
    disc_at_1_au = 2.0 * np.degrees(np.arcsin(60268.0 / 149597870.7)) * 3600.0
    assert FIGURES["Saturn ring major axis 1992-12-16"].holds(375.35 * disc_arcsec / disc_at_1_au)
