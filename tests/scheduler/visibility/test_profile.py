"""How light is spread: shares that grow to one, and a profile for everything a catalogue names."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose

from scheduler.catalogue.deep_sky import WHAT
from scheduler.visibility.profile import (
    LOG_AREAS,
    NAMES,
    PROFILES,
    TYPICAL,
    Profile,
    bulge_share,
    exponential_share,
    galaxy_profile,
    globular_share,
)


@pytest.mark.parametrize("profile", PROFILES, ids=NAMES)
def test_the_share_of_light_grows_with_the_ellipse_to_at_most_all_of_it(profile: Profile) -> None:
    share = profile.light_share
    assert (np.diff(share) <= 0.0).all()  # from the largest ellipse to the smallest
    assert 0.0 < share[-1] < share[0] <= 1.0
    half = np.interp(profile.log_half_area, LOG_AREAS[::-1], share[::-1])
    assert_allclose(half, 0.5, atol=0.01)


def test_half_the_light_lies_within_the_published_half_light_radii() -> None:
    assert_allclose(exponential_share(1.678, 1.0), 0.5, atol=1e-3)  # the root of (1 + x) exp(-x) = 1/2
    assert_allclose(bulge_share(1.0, 1.0), 0.5, atol=1e-3)  # de Vaucouleurs 1948, 7.669
    assert_allclose(globular_share(1.0, 1.0), 0.5)  # Plummer 1911


def test_a_disc_like_freemans_holds_four_fifths_of_its_light_within_the_25th_isophote() -> None:
    # Freeman 1970: 21.65 mag/arcsec2 in the middle, so 3.35 mag fainter at 3.1 scale lengths
    scales = (25.0 - 21.65) / (2.5 * np.log10(np.e))
    assert_allclose(scales, 3.09, atol=0.01)
    assert_allclose(exponential_share(scales, 1.0), 0.81, atol=0.01)


def test_the_earlier_the_type_the_more_the_light_gathers() -> None:
    halves = [PROFILES[NAMES.index(name)].log_half_area for name in ("lenticular galaxy", "Sa", "Sb", "Sc")]
    assert all(before < after for before, after in pairwise(halves))


@pytest.mark.parametrize(
    ("hubble", "profile"),
    [("E", "elliptical galaxy"), ("E0", "elliptical galaxy"), ("dE", "elliptical galaxy"),
     ("cD", "elliptical galaxy"), ("E-S0", "lenticular galaxy"), ("S0", "lenticular galaxy"),
     ("S0-a", "lenticular galaxy"), ("SBa", "Sa"), ("Sab", "Sa"), ("SABb", "Sb"), ("Sbc", "Sb"),
     ("SABc", "Sc"), ("Scd", "Sc"), ("SBm", "Sc"), ("Sd", "Sc"), ("I", "irregular galaxy"),
     ("IB", "irregular galaxy"), ("S?", "Sc"), ("", "Sc"), (None, "Sc")],
)  # fmt: skip
def test_every_type_of_galaxy_has_its_profile(hubble: str | None, profile: str) -> None:
    assert galaxy_profile(hubble) == profile


def test_whatever_the_catalogue_calls_an_object_has_typical_figures() -> None:
    assert set(WHAT.values()) - {"double star"} <= TYPICAL.keys() | {"planet"}
    assert {one.profile for one in TYPICAL.values() if one.profile} <= set(NAMES)
