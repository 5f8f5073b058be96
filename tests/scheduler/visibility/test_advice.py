"""Which way of looking is advised among those that show a thing alike."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scheduler.domain import BINOCULARS, Kind, Observer, Target
from scheduler.visibility.advice import AIM_MM, advised, ranks_of
from scheduler.visibility.optics import optics_of

from .seeing import FULL_KIT, deep_sky, double, variable

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
