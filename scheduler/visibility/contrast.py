"""How far a spread-out light stands above the threshold: exactly for a few, from a table for many.

A margin is taken apart so that little of it needs a table: the light and area of the object, the dimming of
glass and filter and the need of the eye are plain sums of logarithms; what is left depends on the profile,
the magnified area and the background in the eye, and on nothing that a user can set.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from ..domain.opportunity import Floats, Ints
from .detect import increment_threshold
from .judgement import AnyFloats
from .profile import AREA_STEP_DEX, LOG_AREAS, PROFILES

LOG_AREA_LOW, AREA_STEPS = -12.0, 156
"""Magnified areas of the table run from here for so many steps, to far beyond the whole sky. [log sr]"""
LOG_B_LOW, LOG_B_STEP, B_STEPS = -5.0, 0.1, 91
"""Backgrounds of the table, from the darkest the eye knows to full day. [log cd/m2]"""


def exact_rest(profile: Ints, log_area: Floats, log_background: Floats) -> Floats:
    """Return what is left of two margins, exactly: of the half-light and of the best ellipse. [dex]

    Parameters
    ----------
    profile : By position in `PROFILES`. int, any shape
    log_area : Magnified area of the catalogue's ellipse; broadcasts with `profile`. [log sr]
    log_background : Luminance of the sky in the eye; broadcasts likewise. [log cd/m2]

    Returns
    -------
    shape (2, ...) : Log of the share of light over the share of area and over the threshold.
    """
    profile, log_area, log_background = np.broadcast_arrays(profile, log_area, log_background)
    shares = np.log10([one.light_share for one in PROFILES])
    halves = np.array([one.log_half_area for one in PROFILES])
    background = 10.0**log_background

    def above(log_share: Floats, log_part: Floats, area: Floats, behind: Floats) -> Floats:
        need = increment_threshold(behind, 10.0 ** (area + log_part), 1.0)
        return np.asarray(log_share - log_part - np.log10(need))

    half = above(np.full(profile.shape, np.log10(0.5)), halves[profile], log_area, background)
    nested = above(shares[profile], LOG_AREAS, log_area[..., None], background[..., None])
    return np.stack([half, nested.max(axis=-1)])


@cache
def rest_table() -> Floats:
    """Return the same on a grid. (2, profiles, areas, backgrounds) [dex]

    The nested ellipses lie on the grid of areas, so one grid of thresholds, shifted, does for all of them.
    """
    log_b = LOG_B_LOW + LOG_B_STEP * np.arange(B_STEPS)
    log_area = LOG_AREA_LOW + AREA_STEP_DEX * np.arange(AREA_STEPS)
    low, high = round(LOG_AREAS[-1] / AREA_STEP_DEX), round(LOG_AREAS[0] / AREA_STEP_DEX)
    wide = LOG_AREA_LOW + AREA_STEP_DEX * np.arange(low, AREA_STEPS + high)
    need = np.log10(increment_threshold(10.0**log_b, 10.0 ** wide[:, None], 1.0))
    table = np.empty((2, len(PROFILES), AREA_STEPS, B_STEPS))
    for row, one in enumerate(PROFILES):
        part = one.log_half_area
        of_half = increment_threshold(10.0**log_b, 10.0 ** (log_area[:, None] + part), 1.0)
        table[0, row] = np.log10(0.5) - part - np.log10(of_half)
        best = np.full((AREA_STEPS, B_STEPS), -np.inf)
        for share, log_part in zip(np.log10(one.light_share), LOG_AREAS, strict=True):
            first = round(log_part / AREA_STEP_DEX) - low
            np.maximum(best, share - log_part - need[first : first + AREA_STEPS], out=best)
        table[1, row] = best
    return table


def table_at(log_background: Floats) -> Floats:
    """Return the table for some backgrounds in the eye. (2, profiles, areas, backgrounds asked for) [dex]"""
    steps = np.clip((log_background - LOG_B_LOW) / LOG_B_STEP, 0.0, B_STEPS - 1.001)
    before = steps.astype(np.int64)
    share = steps - before
    table = rest_table()
    return np.asarray(table[..., before] * (1.0 - share) + table[..., before + 1] * share)


def read_rest(table: AnyFloats, profile: Ints, log_area: Floats) -> Floats:
    """Return the two margins' rest for objects from `table_at`. (2, objects, backgrounds) [dex]"""
    steps = np.clip((log_area - LOG_AREA_LOW) / AREA_STEP_DEX, 0.0, AREA_STEPS - 1.001)
    before = steps.astype(np.int64)
    share = (steps - before)[:, None]
    return np.asarray(table[:, profile, before] * (1.0 - share) + table[:, profile, before + 1] * share)
