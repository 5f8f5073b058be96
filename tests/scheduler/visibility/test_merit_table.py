"""The table of merit against the direct computation, and what it says of every sort of target."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from scheduler.domain import (
    BINOCULARS,
    NAKED_EYE,
    TELESCOPE,
    Barlow,
    Extended,
    Eyepiece,
    Kind,
    Kit,
    LightCurve,
    Observer,
    Orbit,
    Phase,
    Shower,
    Target,
    Telescope,
)
from scheduler.visibility.advice import ranks_of, smaller_costs
from scheduler.visibility.axis import Axis
from scheduler.visibility.merit import MeritSettings
from scheduler.visibility.merit_table import NO_OPTIC, MeritTable, merit_table_of
from scheduler.visibility.optics import Optic, optics_of
from scheduler.visibility.reach import point_merit, reach_of, star_reach_mag
from scheduler.visibility.through import merits_through, shows_in

from .seeing import FULL_KIT, SITE, WHATS, deep_sky, double, never_falls, skies, targets, variable

OPTICS = optics_of(FULL_KIT, [Observer()])
SLACK = MeritSettings().advice_slack


def mixed(count: int, seed: int) -> list[Target]:
    """Targets of every law, half of them asking for an instrument."""
    rng = np.random.default_rng(seed)
    found: list[Target] = []
    for row in range(count):
        if row % 4 == 0:
            bright = rng.uniform(0.0, 8.0)
            one = double(bright, bright + rng.uniform(0.0, 5.0), 10.0 ** rng.uniform(0.0, 2.0))
        elif row % 4 == 1:
            one = variable(rng.uniform(1.0, 14.0))
        else:
            one = deep_sky(str(rng.choice(WHATS)), rng.uniform(3.0, 14.0), 10.0 ** rng.uniform(-1.0, 2.0))
        asked = str(rng.choice([TELESCOPE, BINOCULARS, NAKED_EYE])) if rng.random() < 0.5 else None
        found.append(replace(one, instrument=asked))
    return found


@pytest.fixture(scope="module")
def many() -> tuple[list[Target], MeritTable]:
    found = mixed(400, seed=11)
    return found, merit_table_of(found, OPTICS, SITE)


def test_the_table_is_as_good_as_the_direct_computation(many: tuple[list[Target], MeritTable]) -> None:
    found, table = many
    rng, rows = np.random.default_rng(2), np.arange(len(found))
    wrong = []
    for _ in range(10):
        sky, air = rng.uniform(13.0, 22.5, len(found)), rng.uniform(1.0, 6.0, len(found))
        wrong.append(table.at(rows, sky, air) - merits_through(found, OPTICS, sky, air, SITE).max(axis=0))
    assert np.abs(wrong).max() < 0.015  # where two optics change places between entries
    assert np.quantile(np.abs(wrong), 0.995) < 0.004


def test_in_bright_dusk_it_is_nearly_as_good(many: tuple[list[Target], MeritTable]) -> None:
    found, table = many
    rng, rows = np.random.default_rng(3), np.arange(len(found))
    sky, air = rng.uniform(8.0, 13.0, len(found)), rng.uniform(1.0, 6.0, len(found))
    direct = merits_through(found, OPTICS, sky, air, SITE).max(axis=0)
    assert_allclose(table.at(rows, sky, air), direct, atol=0.02)


def test_advice_is_within_the_slack_and_nothing_preferred_to_it_is(
    many: tuple[list[Target], MeritTable],
) -> None:
    found, table = many
    sky, air = table.sky.values[70], table.air.values[3]
    direct = merits_through(found, OPTICS, sky, air, SITE)
    advised = table.optic_at(np.arange(len(found)), np.full(len(found), sky), np.full(len(found), air))
    ranks = ranks_of(found, OPTICS)
    direct = direct - smaller_costs(found, OPTICS, MeritSettings().smaller_cost).T
    for row, one in enumerate(advised.tolist()):
        slack = MeritSettings().pair_advice_slack if found[row].kind is Kind.DOUBLE_STAR else SLACK
        best = direct[:, row].max()
        assert direct[one, row] >= best - slack - 1e-3
        preferred = np.flatnonzero(ranks[row] < ranks[row, one])
        assert (direct[preferred, row] < best - slack + 1e-3).all()


@settings(max_examples=30)
@given(pair=targets(fainter_mag=0.5), sky=skies, air=st.floats(1.0, 12.0))
def test_looked_up_merit_turns_the_same_ways(pair: tuple[Target, Target], sky: float, air: float) -> None:
    table = merit_table_of(pair, OPTICS[:5], SITE)
    rows = np.zeros(30, dtype=np.int64)
    assert never_falls(table.at(rows, np.linspace(sky, sky + 2.0, 30), air) + 1e-6 * np.arange(30))
    assert never_falls(table.at(rows, sky, np.linspace(air + 2.0, air, 30)) + 1e-6 * np.arange(30))
    bright, faint = table.at(np.array([0, 1]), sky, air)
    assert bright >= faint - 1e-6


def test_what_a_target_asks_to_be_seen_with_holds() -> None:
    asked = [
        replace(deep_sky("open cluster", 3.0, 60.0), instrument=one) for one in (NAKED_EYE, "10x50", "200 mm")
    ]
    table = merit_table_of(asked, OPTICS, SITE)
    advised = table.optic_at(np.arange(3), np.full(3, 20.0), np.ones(3))
    assert [OPTICS[one].instrument for one in advised] == [NAKED_EYE, "10x50", "200 mm"]


def test_an_instrument_nobody_looks_through_shows_nothing() -> None:
    only_glass = optics_of(FULL_KIT, [Observer("one", 40, ("10x50",))])
    asked = [deep_sky("galaxy", 5.0, 20.0, "200 mm")]
    table = merit_table_of(asked, only_glass, SITE)
    assert table.at(np.array([0]), 22.0, 1.0) < 1e-9
    assert table.optic_at(np.array([0]), 22.0, 1.0) == NO_OPTIC


def test_a_small_instrument_is_advised_only_where_it_shows_more() -> None:
    wide, small = deep_sky("open cluster", 1.2, 110.0), deep_sky("globular cluster", 6.0, 15.0)
    table = merit_table_of([wide, small], OPTICS, SITE)
    advised = table.optic_at(np.arange(2), np.full(2, 21.0), np.ones(2))
    assert [OPTICS[one].family for one in advised] == [BINOCULARS, TELESCOPE]


def test_a_filter_is_advised_for_a_faint_nebula_only() -> None:
    found = [deep_sky("supernova remnant", 8.4, 6.0), deep_sky("galaxy", 10.0, 6.0), double(5.0, 6.0, 3.0)]
    table = merit_table_of(found, OPTICS, SITE)
    advised = table.optic_at(np.arange(3), np.full(3, 19.5), np.ones(3))
    assert [OPTICS[one].filter is not None for one in advised] == [True, False, False]


def test_targets_of_other_kinds_have_merit_one_and_no_optic() -> None:
    others = [
        Target("Mars", Kind.PLANET, body="mars"),
        Target("Perseids", Kind.METEOR_SHOWER, 48.0, 58.0, nature=Shower(140.0, 100.0)),
        Target("Ceres", Kind.MINOR_BODY, nature=Orbit(2461000.0, 2.55, 0.08, 10.6, 80.3, 73.6, 3.3)),
    ]
    table = merit_table_of(others, OPTICS, SITE)
    assert_allclose(table.at(np.arange(3), 9.0, 30.0), 1.0, atol=1e-9)
    assert (table.optic == NO_OPTIC).all()


def test_a_clubs_shed_full_of_eyepieces_fits_the_table() -> None:
    scopes = tuple(Telescope(f"T{row}", 100.0 + 40.0 * row, 900.0) for row in range(6))
    eyepieces = tuple(Eyepiece(f"E{row}", 5.0 + 4.0 * row) for row in range(8))
    optics = optics_of(Kit(scopes, eyepieces, Barlow(), filters=FULL_KIT.filters), [Observer()])
    assert len(optics) > 256
    found = [deep_sky("planetary nebula", 10.0, 0.5, "T5"), deep_sky("galaxy", 10.0, 4.0)]
    table = merit_table_of(found, optics, SITE)
    direct = merits_through(found, optics, 20.0, 1.2, SITE).max(axis=0)
    assert_allclose(table.at(np.arange(2), 20.0, 1.2), direct, atol=0.015)
    assert optics[int(table.optic_at(np.array([0]), 20.0, 1.2)[0])].instrument == "T5"


def test_an_empty_wish_list_has_an_empty_table() -> None:
    assert merit_table_of([], OPTICS, SITE).log_odds.shape[0] == 0


@given(value=st.floats(-5.0, 50.0))
def test_an_axis_finds_what_stands_before_a_value(value: float) -> None:
    axis = Axis.through([1.0, 1.5, 1.505, 4.0, 40.0], 0.005)
    before, share = axis.place(value)
    clipped = min(max(value, 1.0), 40.0)
    assert 0.0 <= share <= 1.0
    between = axis.values[before] + share * (axis.values[before + 1] - axis.values[before])
    assert_allclose(between, clipped, atol=0.006)


class TestBinocularsFirst:
    GLASS: tuple[Optic, ...] = tuple(one for one in OPTICS if one.family == BINOCULARS)

    def test_binoculars_show_the_bright_and_not_the_faint(self) -> None:
        andromeda = replace(deep_sky("galaxy", 3.4, 178.0), nature=Extended("galaxy", 70.0, "Sb"))
        found = [andromeda, deep_sky("galaxy", 12.0, 3.0)]
        bright, faint = shows_in(found, self.GLASS, 21.0, 1.2, SITE)
        assert bright > 0.8
        assert faint < 0.05

    def test_it_asks_nothing_of_what_the_target_wants(self) -> None:
        found = [deep_sky("open cluster", 3.0, 60.0, TELESCOPE)]
        assert shows_in(found, self.GLASS, 21.0, 1.2, SITE) > 0.8
        assert merits_through(found, self.GLASS, 21.0, 1.2, SITE) == 0.0

    def test_without_binoculars_nothing_shows(self) -> None:
        assert shows_in([deep_sky("galaxy", 3.4, 170.0)], (), 21.0, 1.2, SITE) == 0.0


class TestReach:
    BARE: tuple[Optic, ...] = tuple(
        one for one in OPTICS if one.filter is None and one.exit_pupil_mm >= MeritSettings().finest_pupil_mm
    )

    def test_a_star_is_shown_as_a_variable_of_its_magnitude_is(self) -> None:
        stars = np.linspace(4.0, 14.0, 20)
        through = merits_through([variable(one) for one in stars], self.BARE, 20.7, 1.5, SITE)
        reach = reach_of(self.BARE)
        assert_allclose(reach.merits(stars, 20.7, 1.5 * SITE.extinction_mag), through, atol=0.004)
        assert_allclose(point_merit(stars, 20.7, 1.5 * 0.25, reach), through.max(axis=0), atol=0.004)

    def test_a_coma_is_shown_as_a_nebula_of_its_size_is(self) -> None:
        magnitudes = np.linspace(5.0, 12.0, 15)
        comas = [deep_sky("reflection nebula", one, 6.0) for one in magnitudes]
        through = merits_through(comas, self.BARE, 21.0, 1.3, SITE)
        found = reach_of(self.BARE, size_arcmin=6.0).merits(magnitudes, 21.0, 1.3 * 0.25)
        framed = np.array(
            [one.true_field_deg > 0.4 for one in self.BARE]
        )  # a comet is not asked to fit the field
        assert_allclose(found[framed], through[framed], atol=0.01)

    def test_a_coma_shows_less_than_a_star_as_bright(self) -> None:
        assert point_merit(9.0, 20.0, 0.3, reach_of(OPTICS, size_arcmin=10.0)) < point_merit(
            9.0, 20.0, 0.3, reach_of(OPTICS)
        )

    def test_a_telescope_reaches_deeper_than_binoculars_and_these_than_the_eye(self) -> None:
        naked, glass, *telescope = (float(star_reach_mag(one, 21.0)) for one in OPTICS)
        assert naked < glass < min(telescope[::3])
        # common practice, no source: about 6 by eye, 10 in 10x50, 13 to 14 in 200 mm
        assert 5.5 < naked < 6.3
        assert 9.3 < glass < 10.8
        assert 12.5 < max(telescope) < 14.5

    def test_the_advised_optic_for_a_bright_star_is_the_lowest_power(self) -> None:
        chosen = OPTICS[int(reach_of(OPTICS).optic(6.0, 20.0, 0.3))]
        assert (chosen.family, chosen.eyepiece, chosen.barlow) == (TELESCOPE, "32 mm", False)
        assert reach_of(OPTICS).optic(np.full((2, 3), 12.0), 20.0, 0.3).shape == (2, 3)


def test_binoculars_alone_are_enough_for_a_table() -> None:
    optics = optics_of(Kit(binoculars=FULL_KIT.binoculars), [Observer()])
    table = merit_table_of([deep_sky("open cluster", 1.2, 110.0)], optics, SITE)
    assert table.at(np.array([0]), 21.0, 1.1) > 0.9


def test_stars_and_clusters_are_not_tried_at_the_smallest_exit_pupils() -> None:
    settings = MeritSettings()
    tiny = [one for one in OPTICS if one.exit_pupil_mm < settings.finest_pupil_mm and one.filter is None]
    assert tiny
    cluster, galaxy, star = deep_sky("open cluster", 8.0, 10.0), deep_sky("galaxy", 10.0, 5.0), variable(9.0)
    found = merits_through([cluster, galaxy, star], tiny, 21.0, 1.2, SITE)
    assert (found > 0.0).all()  # where nothing else is at hand
    among_all = merits_through([cluster, galaxy, star], OPTICS, 21.0, 1.2, SITE)
    for one in tiny:
        at_cluster, at_galaxy, at_star = among_all[OPTICS.index(one)]
        assert at_cluster == at_star == 0.0
        assert at_galaxy > 0.0


def test_a_variable_is_judged_by_how_bright_it_is_when_watched_and_by_the_smallest_glass() -> None:
    mira = LightCurve(2.0, 10.1, 2450000.0, 332.0, Phase.MAXIMUM, 720.0)
    curves = (mira, replace(mira, phase=Phase.MINIMUM))
    bright, dim = (replace(variable(9.0), nature=curve) for curve in curves)
    table = merit_table_of([bright, dim], OPTICS, SITE)
    advised = table.optic_at(np.arange(2), np.full(2, 20.0), np.full(2, 1.2))
    assert [OPTICS[one].family for one in advised] == [BINOCULARS, TELESCOPE]
    assert table.at(np.array(0), np.array(20.0), np.array(1.2)) > 0.95
