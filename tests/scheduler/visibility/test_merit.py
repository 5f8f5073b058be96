"""Merit of every kind: in 0..1, without jumps, and turning only the ways the sky allows."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from scheduler.domain import NAKED_EYE, Barlow, Binoculars, Eyepiece, Kind, Kit, Site, Target, Telescope
from scheduler.errors import InvalidValue
from scheduler.visibility.brightness import airmass, dark_sky_nl, moonlight_nl, to_sky_brightness
from scheduler.visibility.judgement import _BOUNDS, LineLight
from scheduler.visibility.merit import (
    MeritSettings,
    dark_nebula_merit,
    eclipse_merit,
    hourly_rate,
    moon_feature_merit,
    planet_merit,
    shower_merit,
)
from scheduler.visibility.pairs import pair_merit, pair_need_arcsec

from .seeing import EYEPIECES, FULL_KIT, SITE, airs, deep_sky, double, kits, merit, skies, targets

OURS = MeritSettings()
DIGITS = 1e-9
fewer = settings(max_examples=50)
"""For what looks through a whole kit several times."""


@fewer
@given(pair=targets(), kit=kits(), sky=skies, air=airs, age=st.integers(8, 90))
def test_merit_lies_in_0_to_1(
    pair: tuple[Target, Target], kit: Kit, sky: float, air: float, age: int
) -> None:
    assert 0.0 <= merit(pair[0], kit, sky, air, age) <= 1.0


@fewer
@given(pair=targets(), kit=kits(), sky=skies, darker=st.floats(0.0, 3.0), air=airs)
def test_a_darker_sky_never_hurts(
    pair: tuple[Target, Target], kit: Kit, sky: float, darker: float, air: float
) -> None:
    assert merit(pair[0], kit, sky + darker, air) >= merit(pair[0], kit, sky, air) - DIGITS


@fewer
@given(pair=targets(fainter_mag=0.7), kit=kits(), sky=skies, air=airs)
def test_a_brighter_target_never_shows_less(
    pair: tuple[Target, Target], kit: Kit, sky: float, air: float
) -> None:
    assert merit(pair[0], kit, sky, air) >= merit(pair[1], kit, sky, air) - DIGITS


@fewer
@given(pair=targets(), kit=kits(), sky=skies, air=airs, focal=st.floats(3.0, 50.0))
def test_one_more_eyepiece_never_hurts(
    pair: tuple[Target, Target], kit: Kit, sky: float, air: float, focal: float
) -> None:
    more = replace(kit, eyepieces=(*kit.eyepieces, Eyepiece("more", focal)))
    assert merit(pair[0], more, sky, air) >= merit(pair[0], kit, sky, air) - DIGITS


@fewer
@given(pair=targets(), kit=kits(), sky=skies, air=airs, wider=st.floats(1.0, 2.0))
def test_more_aperture_at_one_focal_length_and_obstruction_never_hurts(
    pair: tuple[Target, Target], kit: Kit, sky: float, air: float, wider: float
) -> None:
    scope = kit.telescopes[0]
    larger = replace(kit, telescopes=(replace(scope, aperture_mm=wider * scope.aperture_mm),))
    assert merit(pair[0], larger, sky, air) >= merit(pair[0], kit, sky, air) - DIGITS


@fewer
@given(pair=targets(), kit=kits(), sky=skies, air=airs, age=st.integers(8, 80), later=st.integers(1, 20))
def test_age_never_helps(
    pair: tuple[Target, Target], kit: Kit, sky: float, air: float, age: int, later: int
) -> None:
    assert merit(pair[0], kit, sky, air, age + later) <= merit(pair[0], kit, sky, air, age) + DIGITS


@fewer
@given(pair=targets(), kit=kits(), sky=skies, air=airs, more=st.floats(0.0, 0.15))
def test_a_larger_obstruction_never_helps(
    pair: tuple[Target, Target], kit: Kit, sky: float, air: float, more: float
) -> None:
    scope = replace(kit.telescopes[0], obstruction_mm=max(kit.telescopes[0].obstruction_mm, 1.0))
    wider = replace(scope, obstruction_mm=scope.obstruction_mm + more * scope.aperture_mm)
    here, there = (replace(kit, telescopes=(one,)) for one in (scope, wider))
    assert merit(pair[0], there, sky, air) <= merit(pair[0], here, sky, air) + DIGITS


def under(target: Target, site: Site, altitude_deg: float, moon: tuple[float, float, float] | None) -> float:
    """Merit at an altitude; the Moon's phase angle, distance and altitude, or None with it down. [deg]"""
    light = dark_sky_nl(site.sky_brightness, site.extinction_mag, altitude_deg)
    if moon is not None:
        light = light + moonlight_nl(*moon, altitude_deg, site.extinction_mag)
    sky = float(to_sky_brightness(light))
    return merit(target, FULL_KIT, sky, float(airmass(altitude_deg)), site=site)


altitudes = st.floats(5.0, 85.0)
sites = st.builds(
    lambda sky, air: replace(SITE, sky_brightness=sky, extinction_mag=air),
    st.floats(17.0, 22.0), st.floats(0.12, 0.4),
)  # fmt: skip
moons = st.tuples(st.floats(0.0, 120.0), st.floats(11.0, 80.0), st.floats(1.0, 60.0))


@fewer
@given(pair=targets(), site=sites, altitude=altitudes, higher=st.floats(0.0, 5.0))
def test_height_never_hurts_without_the_moon(
    pair: tuple[Target, Target], site: Site, altitude: float, higher: float
) -> None:
    if (
        pair[0].name == "dark nebula"
    ):  # it asks for the sky behind it alone, which airglow may brighten upwards
        return
    assert under(pair[0], site, altitude + higher, None) >= under(pair[0], site, altitude, None) - DIGITS


@fewer
@given(pair=targets(), site=sites, altitude=altitudes, moon=moons, change=st.floats(0.0, 5.0))
def test_a_lower_slimmer_or_more_distant_moon_never_hurts(
    pair: tuple[Target, Target], site: Site, altitude: float, moon: tuple[float, float, float], change: float
) -> None:
    phase, apart, up = moon
    here = under(pair[0], site, altitude, moon)
    # the scattering model has its least at 93 deg from the Moon: nothing is claimed beyond 85
    for easier in ((phase + change, apart, up), (phase, apart + change, up), (phase, apart, up - change)):
        assert under(pair[0], site, altitude, easier) >= here - DIGITS
    assert under(pair[0], site, altitude, None) >= here - DIGITS


@fewer
@given(pair=targets(fainter_mag=0.02), kit=kits(), sky=skies, air=airs)
def test_a_small_change_is_a_small_change(
    pair: tuple[Target, Target], kit: Kit, sky: float, air: float
) -> None:
    here = merit(pair[0], kit, sky, air)
    for there in (
        merit(pair[1], kit, sky, air), merit(pair[0], kit, sky + 0.02, air),
        merit(pair[0], kit, sky, air + 0.02),
    ):  # fmt: skip
        assert abs(there - here) <= 0.025  # 1.25 a magnitude: no step of ours is steeper


@given(
    sky=skies, size=st.floats(1.0, 200.0), what=st.sampled_from(["galaxy", "open cluster", "emission nebula"])
)
def test_growing_beyond_the_field_costs_smoothly(sky: float, size: float, what: str) -> None:
    kit = Kit(FULL_KIT.telescopes, EYEPIECES[:1])
    here, there = (
        merit(deep_sky(what, 6.0, arcmin, "telescope"), kit, sky) for arcmin in (size, 1.002 * size)
    )
    assert abs(there - here) <= 0.01


class TestKinds:
    def test_a_cluster_wider_than_the_field_is_better_in_binoculars(self) -> None:
        pleiades = deep_sky("open cluster", 1.2, 110.0)
        telescope, glass = (merit(replace(pleiades, instrument=one)) for one in ("telescope", "binoculars"))
        assert glass > telescope + 0.03

    def test_a_nebula_wider_than_the_field_loses_a_little(self) -> None:
        free, bound = MeritSettings(wide_cost_dex=0.0), MeritSettings(wide_cost_dex=0.5)
        north_america = deep_sky("emission nebula", 4.0, 120.0, "200 mm")
        shown = [merit(north_america, sky_brightness=21.5, settings=one) for one in (free, bound)]
        assert shown[0] > shown[1] + 0.05

    def test_globular_clusters_and_galaxies_lose_alike_by_moonlight_in_contrast_not_in_merit(self) -> None:
        galaxy, globular = deep_sky("galaxy", 9.5, 6.0), deep_sky("globular cluster", 6.5, 12.0)
        dark, moonlit = 21.5, 18.0
        lost = [
            merit(one, sky_brightness=dark) - merit(one, sky_brightness=moonlit) for one in (galaxy, globular)
        ]
        assert lost[0] > 0.3 > lost[1]

    def test_a_filter_helps_a_nebula_and_is_never_asked_of_a_galaxy(self) -> None:
        bare = replace(FULL_KIT, filters=())
        veil, galaxy = deep_sky("supernova remnant", 8.4, 6.0), deep_sky("galaxy", 9.0, 10.0)
        assert merit(veil, FULL_KIT, 19.5) > merit(veil, bare, 19.5) + 0.1
        assert merit(galaxy, FULL_KIT, 19.5) == merit(galaxy, bare, 19.5)

    def test_a_dark_nebula_waits_for_the_darkest_sky(self) -> None:
        here = [merit(deep_sky("dark nebula", None, 30.0), sky_brightness=sky) for sky in (18.0, 21.0, 21.8)]
        assert here[0] < 0.01
        assert_allclose(here[1:], dark_nebula_merit([21.0, 21.8], OURS), atol=0.01)

    def test_a_double_star_hardly_minds_the_moon(self) -> None:
        albireo = double(3.2, 4.7, 34.6)
        assert merit(albireo, sky_brightness=16.5) > 0.95 * merit(albireo, sky_brightness=21.5)

    def test_a_pair_closer_than_dawes_is_not_split(self) -> None:
        assert merit(double(5.0, 5.0, 0.45)) < 0.1
        assert merit(double(5.0, 5.0, 4.0)) > 0.8

    def test_the_naked_eye_splits_what_people_split(self) -> None:
        # common practice, no source: Mizar and Alcor are easy, epsilon Lyrae is a test for good eyes
        mizar, epsilon = (
            replace(double(*one), instrument=NAKED_EYE) for one in ((2.2, 4.0, 708.0), (4.7, 4.6, 208.0))
        )
        assert merit(mizar) > 0.8
        assert 0.2 < merit(epsilon) < 0.8

    def test_what_the_catalogue_does_not_know_still_has_a_merit(self) -> None:
        bare = [Target("x", kind, 1.0, 2.0) for kind in (Kind.DEEP_SKY, Kind.DOUBLE_STAR, Kind.VARIABLE_STAR)]
        for target in (*bare, deep_sky("galaxy"), deep_sky("open cluster"), deep_sky("never heard of")):
            assert 0.02 < merit(target, sky_brightness=21.5) <= 1.0


class TestPairs:
    def test_dawes_and_the_seeing_add_as_squares(self) -> None:
        need = pair_need_arcsec(100.0, 1e9, 2.0, 0.0, OURS)
        assert_allclose(need, np.hypot(1.158, 0.9), atol=0.001)

    @given(split=st.floats(-1.0, 2.0), light=st.floats(-2.0, 4.0), more=st.floats(0.0, 1.0))
    def test_more_room_or_light_never_hurts(self, split: float, light: float, more: float) -> None:
        here = pair_merit(split, light, OURS)
        assert pair_merit(split + more, light, OURS) >= here
        assert pair_merit(split, light + more, OURS) >= here
        assert here <= min(pair_merit(split, 9.0, OURS), pair_merit(9.0, light, OURS)) + DIGITS


class TestMovingKinds:
    @given(
        altitude=st.floats(0, 89), disc=st.floats(1, 60), share=st.floats(0.2, 1), detail=st.floats(0.3, 3)
    )
    def test_a_planet_gains_by_height_disc_and_resolution(
        self, altitude: float, disc: float, share: float, detail: float
    ) -> None:
        here = planet_merit(altitude, disc, share, detail, OURS)
        assert 0.0 <= here <= 1.0
        assert planet_merit(altitude + 1.0, disc, share, detail, OURS) >= here
        assert planet_merit(altitude, 1.1 * disc, share, detail, OURS) >= here
        assert planet_merit(altitude, disc, share, 0.9 * detail, OURS) >= here

    def test_neptune_keeps_the_merit_of_a_dot(self) -> None:
        assert planet_merit(60.0, 2.3, 1.0, 116 / 60, OURS) == pytest.approx(OURS.dot, abs=0.01)

    def test_a_moon_feature_shows_at_its_sunrise_and_sunset_and_not_at_its_noon(self) -> None:
        plateau = moon_feature_merit([2.0, 4.0, 6.0, 8.0], 60.0, OURS)
        assert plateau.min() > 0.95
        assert moon_feature_merit([-2.0, 25.0, 60.0], 60.0, OURS).max() < 0.01
        assert moon_feature_merit(4.0, 10.0, OURS) < 0.2

    def test_a_shower_follows_the_published_hourly_rate(self) -> None:
        # IMO: 100 an hour overhead at 6.5 mag leave 25 at 30 deg and 5.5 mag for r = 2
        assert_allclose(hourly_rate(100.0, 2.0, 30.0, 5.5), 25.0)
        assert shower_merit(100.0, 2.2, 60.0, 6.0, OURS) > 0.75
        assert shower_merit(10.0, 2.2, 60.0, 4.0, OURS) < 0.2

    @given(rate=st.floats(1, 1000), r=st.floats(1.5, 4.0), altitude=st.floats(-20, 85), lm=st.floats(2, 7))
    def test_a_shower_gains_by_rate_height_and_darkness(
        self, rate: float, r: float, altitude: float, lm: float
    ) -> None:
        here = shower_merit(rate, r, altitude, lm, OURS)
        assert 0.0 <= here <= 1.0
        assert shower_merit(1.1 * rate, r, altitude, lm, OURS) >= here
        assert shower_merit(rate, r, altitude + 3.0, lm, OURS) >= here
        assert shower_merit(rate, r, altitude, lm + 0.1, OURS) >= here

    def test_an_eclipse_wants_the_moon_up(self) -> None:
        assert eclipse_merit([0.0, 40.0], OURS).round(1).tolist() == [0.0, 1.0]


class TestSettings:
    def test_every_constant_is_checked_on_construction(self) -> None:
        names = {one.name for one in fields(MeritSettings)} - {"line_light"}
        assert names == _BOUNDS.keys()
        for name, (low, high) in _BOUNDS.items():
            for value in (low - 1.0, high + 1.0, float("nan")):
                wrong: dict[str, Any] = {name: value}
                with pytest.raises(InvalidValue, match=name):
                    MeritSettings(**wrong)

    def test_line_light_is_a_share_and_named_once(self) -> None:
        with pytest.raises(InvalidValue):
            LineLight("planetary nebula", 0.8, 0.3)
        with pytest.raises(InvalidValue):
            MeritSettings(line_light=(LineLight("nebula", 0.1, 0.1), LineLight("nebula", 0.2, 0.1)))

    @pytest.mark.parametrize(
        ("changed", "target"),
        [({"field_factor": 1.0}, deep_sky("galaxy", 11.0, 3.0)),
         ({"seen_dex": 0.1}, deep_sky("galaxy", 11.0, 3.0)),
         ({"dark_nebula_sky": 20.0}, deep_sky("dark nebula", None, 30.0)),
         ({"cluster_room": 1.0}, deep_sky("open cluster", 7.0, 70.0, "telescope")),
         ({"unequal_dex_per_mag": 0.05}, double(4.0, 8.0, 2.5))],
    )  # fmt: skip
    def test_a_kinder_judgement_shows_more(self, changed: dict[str, Any], target: Target) -> None:
        kinder = MeritSettings(**changed)
        assert merit(target, sky_brightness=20.5, settings=kinder) > merit(target, sky_brightness=20.5) + 0.02


def test_binoculars_alone_are_a_kit() -> None:
    kit = Kit(binoculars=Binoculars("8x40", 8.0, 40.0))
    assert merit(deep_sky("open cluster", 1.2, 110.0), kit) > 0.8


def test_a_barlow_never_hurts() -> None:
    plain = Kit((Telescope("T", 200, 1200),), EYEPIECES[:1])
    for target in (deep_sky("planetary nebula", 9.0, 1.0), double(5.0, 6.0, 2.0)):
        assert merit(target, replace(plain, barlow=Barlow())) >= merit(target, plain)
