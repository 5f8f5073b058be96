"""Solar longitudes of showers and heliocentric dates of variables; sources stand in sky.csv."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from scheduler.domain import LightCurve
from scheduler.sky.showers import solar_longitude_deg, when_solar_longitude
from scheduler.sky.variables import heliocentric_s, hjd_of, moments_of

from .sky_figures import FIGURES


def unix_s(*when: int) -> float:
    return datetime(*when, tzinfo=UTC).timestamp()  # type: ignore[misc, arg-type]


@pytest.mark.parametrize("check", [name for name in FIGURES if "ids 20" in name])
def test_showers_peak_when_their_lists_say(check: str) -> None:
    year, longitude_deg = int(check.split()[1]), float(check.split()[-1])
    (found,) = when_solar_longitude(longitude_deg, unix_s(year, 1, 1), unix_s(year + 1, 1, 1))
    assert abs(found - FIGURES[check].unix_s) <= FIGURES[check].tolerance
    assert solar_longitude_deg(found) == pytest.approx(longitude_deg, abs=1e-6)


@pytest.mark.parametrize("check", [name for name in FIGURES if name.startswith("heliocentric")])
def test_light_passes_the_sun_when_starlink_says(check: str) -> None:
    _, day, clock, _, ra, dec = check.split()
    moment = datetime.fromisoformat(f"{day}T{clock}+00:00").timestamp()
    assert FIGURES[check].holds(float(heliocentric_s(float(ra), float(dec), moment)))


def test_a_heliocentric_date_worked_out_in_print() -> None:
    place = (20 + 9 / 60 + 7.8 / 3600) * 15.0, 37 + 9 / 60 + 7 / 3600
    found = float(hjd_of(*place, unix_s(1973, 6, 15, 11, 40))) - 2_400_000.0
    assert FIGURES["V402 Cyg heliocentric 1973-06-15 11:40"].holds(found)


def test_a_minimum_of_algol() -> None:
    algol = LightCurve(2.1, 3.4, 2445641.554, 2.867328, wide_h=9.0)
    (found,) = moments_of(algol, 47.042, 40.956, unix_s(2022, 9, 17), unix_s(2022, 9, 19))
    figure = FIGURES["Algol minimum 2022-09-18"]
    assert abs(found - figure.unix_s) <= figure.tolerance
