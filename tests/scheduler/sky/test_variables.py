"""Heliocentric light-time against astropy; minima inside a span, each once."""

from __future__ import annotations

import numpy as np
import pytest
from astropy.coordinates import EarthLocation, SkyCoord
from astropy.time import Time
from astropy.utils import iers

from scheduler.domain import LightCurve
from scheduler.sky.variables import heliocentric_s, hjd_of, moments_of, seen_at

ALGOL = LightCurve(2.1, 3.4, 2445641.554, 2.867328)
PLACE = (47.042, 40.956)
START_S, END_S = 1767225600.0, 1798761600.0  # 2026


@pytest.mark.parametrize(("ra_deg", "dec_deg"), [(47.042, 40.956), (270.0, -66.5), (95.0, 20.0)])
def test_light_time_is_that_of_astropy(ra_deg: float, dec_deg: float) -> None:
    # astropy counts from an observer, we from the Earth's centre, which is 0.02 s; its Earth is ERFA's epv00.
    unix_s = np.linspace(START_S, END_S, 40)
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        times = Time(unix_s, format="unix", scale="utc", location=EarthLocation.from_geodetic(0.0, 0.0, 0.0))
        expected_s = times.light_travel_time(SkyCoord(ra_deg, dec_deg, unit="deg"), "heliocentric").to_value(
            "s"
        )
    assert np.abs(heliocentric_s(ra_deg, dec_deg, unix_s) - expected_s).max() < 0.03


def test_there_and_back() -> None:
    unix_s = np.linspace(START_S, END_S, 30).reshape(5, 6)
    assert seen_at(*PLACE, hjd_of(*PLACE, unix_s)) == pytest.approx(unix_s, abs=1e-3)


def test_minima_are_all_there_each_once_and_in_order() -> None:
    moments = moments_of(ALGOL, *PLACE, START_S, END_S)
    assert len(moments) in (127, 128)  # 365 / 2.867
    assert np.diff(moments) == pytest.approx(np.full(len(moments) - 1, 2.867328 * 86400.0), abs=25.0)
    cycles = (hjd_of(*PLACE, moments) - 2445641.554) / 2.867328
    assert cycles == pytest.approx(np.round(cycles), abs=1e-7)
    assert moments[0] - START_S < 2.87 * 86400.0 > END_S - moments[-1]
    one = moments_of(ALGOL, *PLACE, float(moments[50]) - 1.0, float(moments[50]) + 1.0)
    assert one == pytest.approx(moments[50:51], abs=1e-3)
    assert not moments_of(ALGOL, *PLACE, float(moments[50]) + 1.0, float(moments[51]) - 1.0).size


def test_a_star_that_keeps_no_time_has_no_moments() -> None:
    assert moments_of(LightCurve(2.0, 10.0), *PLACE, START_S, END_S).shape == (0,)
