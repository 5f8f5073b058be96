"""How planets look, against skyfield and against what observers know."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from scheduler.errors import UnknownName
from scheduler.sky import looks_of, sky_of
from scheduler.sky.ephemeris import PLANETS, ephemeris, planet, times_of

from .rigorous import SITES, year_from


def test_discs_and_magnitudes_stay_in_their_known_ranges() -> None:
    # Common practice, no source: the ranges handbooks give for a year of any planet.
    looks = looks_of(sky_of(SITES[0], year_from(date(2025, 9, 1))), PLANETS)
    ranges = {
        "mercury": (4.5, 13, -2.6, 7), "venus": (9.5, 66, -5, -3.5), "mars": (3.5, 25.2, -3, 2),
        "jupiter": (29.8, 50.2, -3, -1.6), "saturn": (14.5, 20.9, -0.6, 1.5),
        "uranus": (3.3, 4.2, 5.3, 6.1), "neptune": (2.1, 2.4, 7.6, 8.1),
    }  # fmt: skip
    assert looks.bodies == PLANETS
    for row, body in enumerate(PLANETS):
        small, large, bright, faint = ranges[body]
        assert small < looks.disc_arcsec[row].min() <= looks.disc_arcsec[row].max() < large
        assert bright < np.nanmin(looks.magnitude[row]) <= np.nanmax(looks.magnitude[row]) < faint


def test_phase_and_lit_fraction_are_those_of_skyfield() -> None:
    sky = sky_of(SITES[0], year_from(date(2025, 9, 1))[::9])
    looks = looks_of(sky, ["venus", "mars"])
    times = times_of(sky.midnight_unix_s)
    for row, body in enumerate(looks.bodies):
        seen = ephemeris()["earth"].at(times).observe(planet(body))
        assert np.abs(looks.phase_angle_deg[row] - seen.phase_angle(ephemeris()["sun"]).degrees).max() < 0.02
        assert np.abs(looks.lit_fraction[row] - seen.fraction_illuminated(ephemeris()["sun"])).max() < 2e-4


def test_elongation_is_positive_in_the_evening_sky() -> None:
    # Venus: evening star in February 2025, morning star in June 2025 (from memory).
    looks = looks_of(sky_of(SITES[0], [date(2025, 2, 10), date(2025, 6, 1)]), ["venus"])
    assert looks.elongation_deg[0] == pytest.approx([42.0, -45.9], abs=1.5)


def test_saturns_rings_were_seen_edge_on_in_march_2025() -> None:
    # The Earth crossed the ring plane on 2025-03-23 (from memory); afterwards the south face showed.
    looks = looks_of(
        sky_of(SITES[0], [date(2025, 3, 21), date(2025, 3, 25), date(2017, 10, 15)]), ["saturn", "mars"]
    )
    assert looks.ring_tilt_deg[0, 0] > 0.0 > looks.ring_tilt_deg[0, 1]
    assert looks.ring_tilt_deg[0, 2] == pytest.approx(27.0, abs=0.1)
    assert np.isnan(looks.ring_tilt_deg[1]).all()


def test_no_planet_is_no_trouble_and_an_unknown_one_is() -> None:
    sky = sky_of(SITES[0], [date(2026, 1, 1)])
    assert looks_of(sky, []).disc_arcsec.shape == (0, 1)
    with pytest.raises(UnknownName):
        looks_of(sky, ["vulcan"])
