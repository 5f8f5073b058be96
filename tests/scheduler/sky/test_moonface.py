"""The Moon's face against what everyone knows of it, and its table against the moment itself."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from scheduler.sky import sky_of
from scheduler.sky.events import EventKind, moon_phases_of
from scheduler.sky.moonface import moon_orientation, moonface_between, moonface_of

from .rigorous import SITES, year_from


def test_colongitude_goes_with_the_phases() -> None:
    # By definition within libration: 0 at first quarter, 90 full, 180 last quarter, 270 new (Meeus ch. 53).
    expected = {
        EventKind.FIRST_QUARTER: 0.0, EventKind.FULL_MOON: 90.0, EventKind.LAST_QUARTER: 180.0,
        EventKind.NEW_MOON: 270.0,
    }  # fmt: skip
    face = moonface_of(sky_of(SITES[0], year_from(date(2026, 1, 1))))
    for event in moon_phases_of(date(2026, 1, 2), date(2026, 12, 30)):
        moment = event.instant.timestamp()
        past_deg = float(face.colongitude_deg(moment)) + float(face.libration_deg(moment)[0])
        assert abs((past_deg - expected[event.kind] + 180.0) % 360.0 - 180.0) < 1.0


def test_librations_keep_to_their_known_ranges() -> None:
    # Meeus ch. 53: up to 7.9 degrees in longitude, 6.9 in latitude; the Sun within 1.6 of the equator.
    face = moonface_of(sky_of(SITES[0], year_from(date(2020, 1, 1), 2000)))
    moments = np.linspace(face.directions.start_unix_s + 2e5, face.directions.start_unix_s + 1.7e8, 9000)
    east_deg, north_deg = face.libration_deg(moments)
    assert 7.5 < np.abs(east_deg).max() < 8.2
    assert 6.4 < np.abs(north_deg).max() < 6.95
    assert abs(east_deg.mean()) < 0.1
    assert abs(north_deg.mean()) < 0.1
    assert 1.5 < np.abs(face.subsolar_deg(moments)[1]).max() < 1.65


def test_the_table_is_as_good_as_the_moment() -> None:
    sky = sky_of(SITES[0], year_from(date(2026, 1, 1), 60))
    face = moonface_of(sky)
    for moment in sky.midnight_unix_s[3:50:9] + 4321.0:
        alone = moonface_between(moment, moment)
        off_deg = face.sun_altitude_deg(20.0, -30.0, moment) - alone.sun_altitude_deg(20.0, -30.0, moment)
        assert abs(off_deg) < 2e-5
        assert abs(face.libration_deg(moment)[0] - alone.libration_deg(moment)[0]) < 2e-5


def test_features_and_times_broadcast() -> None:
    sky = sky_of(SITES[0], year_from(date(2026, 1, 1), 12))
    face = moonface_of(sky)
    east_deg, north_deg = np.array([-20.0, 0.0, 59.0, 17.0]), np.array([9.7, -90.0, 17.0, 0.0])
    times = sky.midnight_unix_s[:, None] + np.arange(5) * 600.0
    altitude_deg = face.sun_altitude_deg(east_deg[:, None, None], north_deg[:, None, None], times)
    assert altitude_deg.shape == (4, 12, 5)
    assert altitude_deg[2, 7, 3] == face.sun_altitude_deg(59.0, 17.0, times[7, 3])
    assert np.isnan(face.sun_altitude_deg(0.0, 0.0, np.nan))
    assert face.earth_altitude_deg(0.0, 0.0, times).min() > 80.0
    assert face.earth_altitude_deg(180.0, 0.0, times).max() < -80.0


def test_the_sun_stands_overhead_where_it_is_said_to() -> None:
    face = moonface_of(sky_of(SITES[0], year_from(date(2026, 1, 1), 30)))
    moment = face.directions.start_unix_s + 1e6
    assert face.sun_altitude_deg(*face.subsolar_deg(moment), moment) == pytest.approx(90.0, abs=1e-5)
    assert face.earth_altitude_deg(*face.libration_deg(moment), moment) == pytest.approx(90.0, abs=1e-5)


def test_orientation_turns_and_nothing_else() -> None:
    turn = moon_orientation(2461000.5 + np.linspace(0.0, 400.0, 9))
    assert np.einsum("ijt,kjt->ikt", turn, turn) == pytest.approx(
        np.repeat(np.eye(3)[..., None], 9, 2), abs=1e-12
    )
    assert np.linalg.det(np.moveaxis(turn, 2, 0)) == pytest.approx(np.ones(9))
