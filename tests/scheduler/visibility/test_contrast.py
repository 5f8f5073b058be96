"""What is left of a margin, from the table and exactly; what a target looks like and may be seen through."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from scheduler.domain import Extended, Kind, Lines, Observer, Target
from scheduler.visibility.allowed import allowed_of
from scheduler.visibility.appearance import CLOSEST_ARCSEC, LEAST_SIZE_ARCMIN, Shows, appearance_of
from scheduler.visibility.contrast import exact_rest, read_rest, table_at
from scheduler.visibility.detect import DARKEST_CD_M2, increment_threshold, to_luminance, to_magnitude
from scheduler.visibility.merit import MeritSettings
from scheduler.visibility.optics import optics_of
from scheduler.visibility.profile import NAMES, PROFILES
from scheduler.visibility.reach import sky_axis

from .seeing import FULL_KIT, deep_sky, double, variable

OURS = MeritSettings()
OPTICS = optics_of(FULL_KIT, [Observer()])


def test_the_table_of_what_is_left_agrees_with_the_exact() -> None:
    rng = np.random.default_rng(4)
    profile = rng.integers(0, len(PROFILES), 600)
    log_area, log_background = rng.uniform(-10.5, 1.0, 600), rng.uniform(-6.0, 2.0, 600)
    exact = exact_rest(profile, log_area, np.maximum(log_background, -5.0))
    one_by_one = [
        read_rest(table_at(log_background[[row]]), profile[[row]], log_area[[row]])[:, 0, 0]
        for row in range(600)
    ]
    read = np.stack(one_by_one, axis=-1)
    wrong = np.abs(read - exact)
    assert wrong.max() < 0.012  # dex, where a threshold turns sharply
    assert np.quantile(wrong, 0.99) < 0.004


def test_an_even_disc_is_judged_as_a_whole() -> None:
    even, area, behind = NAMES.index("even disc"), 1e-4, 1e-3
    _, best = exact_rest(np.array(even), np.array(np.log10(area)), np.array(np.log10(behind)))
    whole = -np.log10(increment_threshold(behind, area, 1.0))
    assert_allclose(best, whole, atol=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_the_best_part_stands_out_at_least_as_well_as_the_half(name: str) -> None:
    areas = np.linspace(-9.0, 0.0, 30)
    half, best = exact_rest(np.array(NAMES.index(name)), areas, np.array(-3.0))
    assert (best >= half - 0.01).all()  # the half-light ellipse falls between two of the nested ones


class TestAppearance:
    def test_each_kind_shows_by_its_law(self) -> None:
        found = [
            deep_sky("galaxy", 9.0, 5.0), deep_sky("open cluster", 6.0, 20.0), deep_sky("dark nebula"),
            deep_sky("nova", 8.0), double(3.0, 5.0, 30.0), variable(9.0),
            Target("Mars", Kind.PLANET, body="mars"),
        ]  # fmt: skip
        laws = [Shows(one).name for one in appearance_of(found, OURS).shows.tolist()]
        assert laws == ["GLOW", "CLUSTER", "DARK", "POINT", "PAIR", "POINT", "ELSEWHERE"]

    def test_an_ellipse_has_the_area_of_an_ellipse(self) -> None:
        long = Target("x", Kind.DEEP_SKY, 1.0, 2.0, magnitude=8.0, size_arcmin=20.0,
                      nature=Extended("galaxy", 5.0, "Sb"))  # fmt: skip
        looks = appearance_of([long], OURS)
        assert_allclose(10.0**looks.log_area, np.pi / 4 * 20.0 * 5.0 * np.radians(1 / 60) ** 2)
        assert_allclose(to_magnitude(10.0**looks.log_lux), 8.0)

    def test_a_clusters_light_is_shared_by_its_stars(self) -> None:
        rich = Target("x", Kind.DEEP_SKY, 1.0, 2.0, magnitude=6.0, nature=Extended("open cluster", stars=100))
        assert_allclose(appearance_of([rich], OURS).star_mag, 11.0)

    def test_a_double_star_of_unknown_figures_takes_its_size_for_its_separation(self) -> None:
        bare = Target("x", Kind.DOUBLE_STAR, 1.0, 2.0, magnitude=6.0, size_arcmin=0.5)
        looks = appearance_of([bare], OURS)
        assert_allclose(looks.size_deg * 3600.0, 30.0)
        assert looks.star_mag > 6.0

    def test_a_size_beyond_all_reason_counts_as_the_least_that_can_be_told(self) -> None:
        tiny = [deep_sky("galaxy", magnitude, size) for magnitude in (None, 9.0) for size in (5e-324, 1e-200)]
        pair = Target("x", Kind.DOUBLE_STAR, 1.0, 2.0, magnitude=6.0, size_arcmin=5e-324)
        looks = appearance_of([*tiny, pair], OURS)
        assert_allclose(looks.size_deg[:4] * 60.0, LEAST_SIZE_ARCMIN)
        assert_allclose(looks.size_deg[4] * 3600.0, CLOSEST_ARCSEC)
        assert np.isfinite([looks.log_area, looks.log_lux]).all()

    def test_an_unknown_magnitude_is_that_of_a_typical_surface(self) -> None:
        small, large = (deep_sky("galaxy", None, size) for size in (2.0, 20.0))
        lux = 10.0 ** appearance_of([small, large], OURS).log_lux
        assert_allclose(lux[1] / lux[0], 100.0)


class TestAllowed:
    def test_a_filter_is_for_what_shines_in_lines(self) -> None:
        filtered = np.array([one.filter is not None for one in OPTICS])
        nebula, galaxy, pair = allowed_of(
            [deep_sky("planetary nebula"), deep_sky("galaxy"), double(3.0, 5.0, 30.0)], OPTICS, OURS
        )
        assert nebula.all()
        assert (galaxy == ~filtered).all()
        assert (pair == ~filtered).all()

    def test_each_sort_of_filter_counts_its_own_lines(self) -> None:
        looks = appearance_of([deep_sky("planetary nebula")], OURS)
        light = OURS.line_light[0]
        assert looks.in_lines(Lines.OXYGEN) == light.oxygen
        assert looks.in_lines(Lines.HYDROGEN) == light.hydrogen
        assert_allclose(looks.in_lines(Lines.BOTH), light.oxygen + light.hydrogen)


def test_the_skies_of_a_table_stand_where_a_threshold_turns() -> None:
    skies = sky_axis(OPTICS).values
    naked = OPTICS[0]
    for background in (DARKEST_CD_M2, 0.0869):
        for optic in (naked, OPTICS[-3]):
            turn = 12.584 - 2.5 * np.log10(background / optic.light)
            assert not skies[0] < turn < skies[-1] or np.abs(skies - turn).min() < 0.0026
    assert to_luminance(skies[0]) > 30.0


def test_skies_are_close_enough_everywhere() -> None:
    assert np.diff(sky_axis(OPTICS).values).max() <= 0.36
