"""Sky brightness against published figures, and the ways it may and may not turn."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from scheduler.visibility.brightness import (
    airmass,
    dark_sky_nl,
    moonlight_nl,
    pickering_airmass,
    scattering_airmass,
    to_nanolamberts,
    to_sky_brightness,
    twilight_nl,
)

angles = st.floats(0.0, 90.0)


@pytest.mark.parametrize(
    ("altitude_deg", "expected"),
    # pvlib 0.16.1, pvlib.atmosphere.get_relative_airmass(model="kastenyoung1989")
    [(90, 0.9997119918558381), (60, 1.1539922333636758), (30, 1.9942928525292494), (15, 3.812911869220776),
     (5, 10.305791327930304), (1, 26.310555068385266)],
)  # fmt: skip
def test_airmass_agrees_with_pvlib(altitude_deg: float, expected: float) -> None:
    assert_allclose(airmass(altitude_deg), expected, atol=1e-6)


@pytest.mark.parametrize(
    ("altitude_deg", "expected"),
    # pvlib 0.16.1, pvlib.atmosphere.get_relative_airmass(model="pickering2002")
    [(90, 1.000000196171337), (60, 1.1540579205733472), (30, 1.9931538464145713), (15, 3.8081682504977614),
     (5, 10.333705599375577), (1, 26.643769397640778)],
)  # fmt: skip
def test_the_second_airmass_formula_agrees_with_pvlib(altitude_deg: float, expected: float) -> None:
    assert_allclose(pickering_airmass(altitude_deg), expected, atol=1e-6)


def test_airmass_at_the_horizon_is_that_of_the_published_formula() -> None:
    # Kasten & Young 1989: 37.92 by formula, 38.09 in their table (from memory)
    assert_allclose(airmass(0.0), 37.92, atol=0.1)


def test_the_worked_example_of_moonlight_agrees() -> None:
    # documentation of the desihub/specsim package: zenith angle 20, Moon's 70, 50 deg apart, phase .25, k .15
    assert_allclose(to_sky_brightness(moonlight_nl(45.0, 50.0, 20.0, 70.0, 0.15)), 19.855, atol=0.002)


def test_the_dark_sky_of_mauna_kea_is_79_nanolamberts() -> None:
    # Krisciunas & Schaefer 1991: B0 = 79 nL at V = 21.587 (from memory)
    assert_allclose(to_nanolamberts(21.587), 79.0, atol=0.1)


def test_twilight_follows_the_fit_made_at_paranal() -> None:
    # Patat et al. 2006, V: 11.84 + 1.518 x - 0.057 x^2 with x the Sun's depth less 5 deg (from memory)
    assert_allclose(to_sky_brightness(twilight_nl(-12.0) + to_nanolamberts(21.95)), 19.67, atol=0.02)


@given(luminance=st.floats(1.0, 1e9))
def test_luminance_and_magnitude_are_inverse(luminance: float) -> None:
    assert_allclose(to_nanolamberts(to_sky_brightness(luminance)), luminance, rtol=1e-9)


@given(low=angles, high=angles)
def test_air_never_thickens_with_altitude(low: float, high: float) -> None:
    low, high = sorted((low, high))
    assert airmass(high) <= airmass(low)
    assert pickering_airmass(high) <= pickering_airmass(low) + 1e-6
    assert scattering_airmass(high) <= scattering_airmass(low)


@given(phase=st.floats(0, 179), apart=st.floats(1, 84), moon=st.floats(0.5, 90), altitude=st.floats(5, 90))
def test_moonlight_weakens_with_phase_angle_and_with_distance(
    phase: float, apart: float, moon: float, altitude: float
) -> None:
    here = moonlight_nl(phase, apart, moon, altitude, 0.2)
    assert moonlight_nl(phase + 1, apart, moon, altitude, 0.2) < here
    # the two scattering branches meet at 10 deg with a step of a few percent in the published model
    if not 9.0 <= apart <= 10.0:
        assert moonlight_nl(phase, apart + 1, moon, altitude, 0.2) < here


@given(phase=st.floats(0, 180), apart=st.floats(0, 180), moon=st.floats(-90, 0), altitude=st.floats(0, 90))
def test_a_moon_below_the_horizon_adds_nothing(
    phase: float, apart: float, moon: float, altitude: float
) -> None:
    assert moonlight_nl(phase, apart, moon, altitude, 0.25) == 0.0


@given(sun=st.floats(-60, 20), step=st.floats(0, 10))
def test_twilight_never_grows_as_the_sun_sinks_and_ends_at_night(sun: float, step: float) -> None:
    assert twilight_nl(sun - step) <= twilight_nl(sun)
    assert twilight_nl(min(sun, -18.4)) < 1e-6


def test_a_dark_sky_is_as_given_at_the_zenith_and_brighter_lower_down() -> None:
    assert_allclose(to_sky_brightness(dark_sky_nl(21.3, 0.26, 90.0)), 21.3)
    assert (np.diff(dark_sky_nl(21.3, 0.15, np.linspace(30, 90, 13))) < 0).all()
