"""The Moon's face as worked out in print; sources stand in sky.csv."""

from __future__ import annotations

import numpy as np

from scheduler.sky.moonface import moonface_between

from .sky_figures import FIGURES, unix_of_tt

COPERNICUS_DEG = (-20.0, 9.7)


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
