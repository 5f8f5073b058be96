"""The contrast threshold: the ways it may and may not turn. Published figures are in tests/published."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from scheduler.visibility.detect import (
    DARKEST_CD_M2,
    contrast_threshold,
    increment_threshold,
    joint_exponent,
    large_patch_contrast,
    small_patch_sr,
    star_limit,
    star_threshold_lux,
    to_luminance,
    to_lux,
    to_magnitude,
    to_surface_brightness,
)

AREAS_SR = np.logspace(-11.0, 2.0, 40)
BACKGROUNDS = np.logspace(-7.0, 4.0, 22_001)


@pytest.mark.parametrize("area_sr", AREAS_SR[::3])
def test_a_darker_sky_never_hides_a_patch(area_sr: float) -> None:
    # the published fit alone dips by 10 % between 0.022 and 0.087 cd/m2
    needed = increment_threshold(BACKGROUNDS, area_sr, 1.0)
    assert (np.diff(needed) >= -1e-12 * needed[1:]).all()


@pytest.mark.parametrize("area_sr", AREAS_SR[::3])
def test_dimming_target_and_sky_alike_never_helps(area_sr: float) -> None:
    contrast = contrast_threshold(BACKGROUNDS, area_sr, 1.0)
    assert (np.diff(contrast) <= 1e-12 * contrast[1:]).all()


def test_a_brighter_sky_hides_stars() -> None:
    assert (np.diff(star_threshold_lux(BACKGROUNDS)) >= 0.0).all()
    assert star_limit(to_luminance(18.0)) < star_limit(to_luminance(21.0))


def test_a_star_is_a_patch_of_no_size() -> None:
    tiny_sr = 1e-13
    light = increment_threshold(2e-4, tiny_sr, 2.0) * tiny_sr
    assert_allclose(light, star_threshold_lux(2e-4, 2.0), rtol=1e-4)


@given(background=st.floats(1e-6, 1e3), area=st.floats(-10.0, 1.0), step=st.floats(0.0, 1.0))
def test_a_larger_patch_needs_less_contrast_but_more_light(
    background: float, area: float, step: float
) -> None:
    small, large = 10.0**area, 10.0 ** (area + step)
    small_need, large_need = (increment_threshold(background, one) for one in (small, large))
    assert large_need <= small_need * (1 + 1e-12)
    assert large_need * large >= small_need * small * (1 - 1e-12)


@given(background=st.floats(1e-9, 1e-5), area=st.floats(-10.0, 1.0))
def test_below_what_the_eye_takes_for_black_nothing_more_is_gained(background: float, area: float) -> None:
    assert_allclose(
        increment_threshold(background, 10.0**area), increment_threshold(DARKEST_CD_M2, 10.0**area)
    )


@given(background=st.floats(1e-6, 1e3), factor=st.floats(0.5, 5.0))
def test_the_field_factor_is_a_plain_factor(background: float, factor: float) -> None:
    assert_allclose(
        increment_threshold(background, 1e-4, factor), factor * increment_threshold(background, 1e-4, 1.0)
    )


@pytest.mark.parametrize("law", [small_patch_sr, large_patch_contrast, joint_exponent])
def test_the_pieces_of_each_law_meet(law: object) -> None:
    assert callable(law)
    values = law(np.logspace(-5.0, 4.0, 900_001))
    assert np.abs(np.diff(np.log10(values))).max() < 1e-4


@given(magnitude=st.floats(-5.0, 25.0))
def test_scales_are_inverse(magnitude: float) -> None:
    assert_allclose(to_magnitude(to_lux(magnitude)), magnitude, atol=1e-9)
    assert_allclose(to_surface_brightness(to_luminance(magnitude)), magnitude, atol=1e-9)
