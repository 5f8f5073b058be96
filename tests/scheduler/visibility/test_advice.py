"""Which way of looking is advised among those that show a thing alike."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scheduler.domain import BINOCULARS, Barlow, Binoculars, Eyepiece, Kind, Kit, Observer, Target, Telescope
from scheduler.visibility.advice import AIM_MM, advised, ranks_of, smaller_costs
from scheduler.visibility.merit_table import merit_table_of
from scheduler.visibility.optics import optics_of

from .seeing import FULL_KIT, SITE, deep_sky, double, variable

OPTICS = optics_of(FULL_KIT, [Observer("Ada")])


def first(target: Target) -> int:
    """Return the way of looking a target likes best, were all the same."""
    return int(ranks_of([target], OPTICS)[0].argmin())


def test_ranks_are_an_order_of_all_ways_for_every_target() -> None:
    ranks = ranks_of([deep_sky("galaxy", 9.0, 5.0), double(3.0, 5.0, 9.0), variable(8.0)], OPTICS)
    assert np.array_equal(np.sort(ranks, axis=1), np.tile(np.arange(len(OPTICS)), (3, 1)))
    assert ranks_of([], OPTICS).shape == (0, len(OPTICS))


def test_globulars_and_small_discs_are_wanted_larger_than_galaxies_and_these_than_clusters() -> None:
    powers = [
        OPTICS[first(deep_sky(what, 7.0, 8.0))].magnification
        for what in ("planetary nebula", "galaxy", "open cluster")
    ]
    assert powers[0] > powers[1] > powers[2]
    globular = OPTICS[first(deep_sky("globular cluster", 7.0, 8.0))]
    assert abs(np.log10(globular.exit_pupil_mm / AIM_MM["globular cluster"])) < 0.2


def test_what_no_telescope_frames_goes_to_the_binoculars_and_no_filter_is_put_in_for_nothing() -> None:
    assert OPTICS[first(deep_sky("open cluster", 3.0, 95.0))].family == BINOCULARS
    assert OPTICS[first(deep_sky("open cluster", 3.0, 30.0))].family == "telescope"
    assert all(OPTICS[first(deep_sky(what, 8.0, 5.0))].filter is None for what in AIM_MM)


def test_the_largest_aperture_comes_first_for_all_but_variables() -> None:
    largest = max(one.aperture_mm for one in OPTICS)
    assert OPTICS[first(double(5.0, 6.0, 4.0))].aperture_mm == largest
    assert OPTICS[first(variable(5.0))].magnification == 1.0


def test_the_plain_eyepiece_comes_before_a_barlow_of_nearly_the_same_power() -> None:
    near = [replace(OPTICS[2], barlow=True, magnification=70.0), replace(OPTICS[2], magnification=75.0)]
    ranks = ranks_of([Target("pair", Kind.DOUBLE_STAR, 1.0, 1.0)], near)
    assert ranks.tolist() == [[1, 0]]


def test_what_is_preferred_is_taken_within_the_slack_and_no_farther() -> None:
    ranks = np.array([[0, 1, 2], [2, 1, 0]])
    merit = np.array([[0.90, 0.90], [0.95, 0.95], [0.96, 0.96]])
    assert advised(merit, ranks, 0.02).tolist() == [1, 2]
    assert advised(merit, ranks, 0.10).tolist() == [0, 2]
    assert advised(merit[:, :, None], ranks, 0.0).tolist() == [[2], [2]]


def test_a_smaller_glass_must_show_more_where_a_larger_one_frames_the_object() -> None:
    framed, wide, star = deep_sky("galaxy", 9.0, 8.0), deep_sky("galaxy", 3.0, 180.0), variable(8.0)
    costs = smaller_costs([framed, wide, star], OPTICS, 0.03)
    largest = max(one.aperture_mm for one in OPTICS)
    smaller = np.array([one.aperture_mm < largest for one in OPTICS])
    assert np.array_equal(costs[0], np.where(smaller, 0.03, 0.0))
    glasses = np.array([one.family == BINOCULARS for one in OPTICS])
    assert np.all(costs[1][glasses] == 0.0), "no telescope frames it"
    assert np.all(costs[2] == 0.0)


SMALL = Kit(
    (Telescope("150 mm f/5", 150, 750, 50),), tuple(Eyepiece(f"{mm} mm", mm, 52) for mm in (25, 10, 6)),
    Barlow(2.0), Binoculars("10x50", 10, 50, 6.5),
)  # fmt: skip


@pytest.mark.parametrize(("what", "magnitude", "size_arcmin", "family"), [
    ("emission nebula", 4.0, 65.0, "telescope"),  # as the Orion Nebula
    ("galaxy", 3.4, 178.0, BINOCULARS),  # as the Andromeda Galaxy
    ("open cluster", 1.2, 110.0, BINOCULARS),  # as the Pleiades
])  # fmt: skip
def test_showpieces_are_looked_at_as_observers_do(
    what: str, magnitude: float, size_arcmin: float, family: str
) -> None:
    """Common practice, no source: what a telescope frames is looked at through it, what is wider is not."""
    optics = optics_of(SMALL, [Observer("Ada")])
    table = merit_table_of([deep_sky(what, magnitude, size_arcmin)], optics, SITE)
    assert optics[int(table.optic_at(np.array(0), 20.7, 1.6))].family == family
