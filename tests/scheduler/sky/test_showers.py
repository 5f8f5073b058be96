"""Solar longitude: its frame, its table, its inverse."""

from __future__ import annotations

from datetime import UTC, datetime

import erfa
import numpy as np
import pytest
from skyfield.framelib import ecliptic_J2000_frame

from scheduler.sky.ephemeris import ephemeris, moment_of, times_of
from scheduler.sky.showers import solar_longitude_deg, when_solar_longitude

START_S, END_S = (datetime(year, 1, 1, tzinfo=UTC).timestamp() for year in (2026, 2029))


def test_longitude_is_the_apparent_suns_on_the_ecliptic_of_2000() -> None:
    moments = np.linspace(START_S, END_S, 200).reshape(10, 20)
    sun = ephemeris()["earth"].at(times_of(moments.ravel())).observe(ephemeris()["sun"]).apparent()
    expected_deg = sun.frame_latlon(ecliptic_J2000_frame)[1].degrees.reshape(10, 20)
    off_deg = (solar_longitude_deg(moments) - expected_deg + 180.0) % 360.0 - 180.0
    assert np.abs(off_deg).max() * 3600.0 < 0.1


def test_equinoxes_of_date_stand_off_by_precession_alone() -> None:
    # Equinox 2026-03-20 14:46 UTC (from memory). Missing to 0 is ERFA's general precession since 2000.
    moment = datetime(2026, 3, 20, 14, 46, tzinfo=UTC).timestamp()
    precession_deg = np.degrees(erfa.p06e(2451545.0, 365.25 * 26.215)[12])
    assert float(solar_longitude_deg(moment)) == pytest.approx(360.0 - precession_deg, abs=0.008)


@pytest.mark.parametrize("longitude_deg", [0.0, 32.32, 140.0, 262.2, 279.9, 283.15, 359.99])
def test_every_year_has_each_longitude_once(longitude_deg: float) -> None:
    moments = when_solar_longitude(longitude_deg, START_S, END_S)
    assert len(moments) == 3
    assert np.diff(moments) / 86400.0 == pytest.approx([365.256] * 2, abs=0.03)  # the sidereal year
    off_deg = (solar_longitude_deg(moments) - longitude_deg + 180.0) % 360.0 - 180.0
    assert np.abs(off_deg).max() < 1e-7


def test_spans_are_kept_and_emptiness_is_no_trouble() -> None:
    (peak,) = when_solar_longitude(140.0, START_S, START_S + 366 * 86400.0)
    assert moment_of(peak).date().isoformat() == "2026-08-13"
    assert when_solar_longitude(140.0, peak + 1.0, peak + 100 * 86400.0).shape == (0,)
    assert when_solar_longitude(140.0, peak - 10.0, peak + 10.0) == pytest.approx([peak], abs=0.1)
    assert np.isnan(solar_longitude_deg([np.nan, np.nan])).all()
    mixed = solar_longitude_deg([np.nan, peak])
    assert np.isnan(mixed[0])
    assert mixed[1] == pytest.approx(140.0, abs=1e-6)
