"""What a kit offers to look through, and how much light reaches the eye."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from scheduler.domain import Barlow, Eyepiece, Kit, Observer, Telescope
from scheduler.visibility.optics import eye_pupil_mm, light_in_eye, optics_of, resolution_arcsec
from scheduler.visibility.reach import preference

from .seeing import FULL_KIT


def test_the_naked_eye_comes_first_then_binoculars_then_all_that_fits_the_telescope() -> None:
    optics = optics_of(FULL_KIT, [Observer()])
    assert [one.family for one in optics[:3]] == ["naked eye", "binoculars", "telescope"]
    assert len(optics) == 2 + 3 * 2 * 3  # eyepieces, without and with the Barlow, no filter and two
    assert len(set(optics)) == len(optics)


def test_an_eyepiece_is_used_only_where_it_fits() -> None:
    scopes = (Telescope("A", 80, 600), Telescope("B", 300, 1500))
    kit = Kit(scopes, (Eyepiece("both", 25), Eyepiece("only B", 10, telescope="B")))
    used = {(one.instrument, one.eyepiece) for one in optics_of(kit, [Observer()])}
    assert used == {("naked eye", None), ("A", "both"), ("B", "both"), ("B", "only B")}


def test_magnification_field_and_exit_pupil_are_those_of_the_trade() -> None:
    plain, doubled = optics_of(
        Kit((Telescope("T", 200, 1000),), (Eyepiece("E", 25, 50),), Barlow(2.0)), [Observer()]
    )[1:]
    assert (plain.magnification, plain.true_field_deg, plain.exit_pupil_mm) == (40.0, 1.25, 5.0)
    assert (doubled.magnification, doubled.true_field_deg, doubled.exit_pupil_mm) == (80.0, 0.625, 2.5)
    assert doubled.barlow
    assert not plain.barlow


def test_the_oldest_eye_of_those_who_look_counts() -> None:
    young, old = Observer("young", 20, ("T",)), Observer("old", 80, ("10x50",))
    scope = Kit((Telescope("T", 200, 800),), (Eyepiece("E", 40),), binoculars=FULL_KIT.binoculars)
    naked, glass, through = optics_of(scope, [young, old])
    assert (naked.observers, glass.observers, through.observers) == (("young", "old"), ("old",), ("young",))
    assert_allclose(naked.exit_pupil_mm, eye_pupil_mm(80))
    alone = optics_of(scope, [replace(young, instruments=())])[-1]
    assert through.light == alone.light


def test_an_instrument_nobody_uses_is_left_out() -> None:
    optics = optics_of(FULL_KIT, [Observer("one", 40, ("10x50",))])
    assert [one.instrument for one in optics] == ["naked eye", "10x50"]


def test_a_telescope_is_for_one_eye_and_binoculars_for_two() -> None:
    naked, glass, *telescope = optics_of(FULL_KIT, [Observer()])
    assert naked.field_factor == glass.field_factor == 2.0
    assert_allclose([one.field_factor for one in telescope], 2.0 * np.sqrt(2.0))


@given(
    beam=st.floats(0.1, 15.0), shadow=st.floats(0.0, 0.6), more=st.floats(0.0, 0.4), age=st.integers(5, 109)
)
def test_light_never_grows_with_age_or_obstruction(beam: float, shadow: float, more: float, age: int) -> None:
    here = light_in_eye(beam, shadow * beam, eye_pupil_mm(age), 0.8)
    assert light_in_eye(beam, (shadow + more) * beam, eye_pupil_mm(age), 0.8) <= here
    assert light_in_eye(beam, shadow * beam, eye_pupil_mm(age + 1), 0.8) <= here
    assert 0.0 < here <= 1.0


def test_a_shadow_wider_than_the_pupil_leaves_next_to_nothing() -> None:
    assert light_in_eye(20.0, 8.0, 6.5, 0.8) < 1e-6


def test_a_larger_aperture_resolves_more() -> None:
    assert_allclose(resolution_arcsec([100.0, 200.0]), [1.158, 0.579], atol=0.001)


def test_a_telescope_is_preferred_and_in_it_the_lowest_power_without_a_filter() -> None:
    optics = optics_of(FULL_KIT, [Observer()])
    ranked = [optics[one] for one in preference(optics)]
    assert [one.family for one in ranked[-2:]] == ["binoculars", "naked eye"]
    assert (ranked[0].eyepiece, ranked[0].barlow, ranked[0].filter) == ("32 mm", False, None)
    plain = [one.magnification for one in ranked if one.family == "telescope" and one.filter is None]
    assert plain == sorted(plain)
