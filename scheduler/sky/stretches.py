"""When something is true: stretches of time in which a margin is positive."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .ephemeris import Floats

Ints: TypeAlias = NDArray[np.int64]
Margin: TypeAlias = Callable[[Ints, Floats], Floats]
"""Gives the margin of rows at times; both arrays of one shape, or shapes that broadcast."""

SAMPLE_S = 600.0
"""Ten minutes between samples: brackets are then narrow enough for everything that moves with the sky."""


def sample_times(start_unix_s: Floats, end_unix_s: Floats) -> Floats:
    """Return times from start to end, ends included and at most ten minutes apart, (rows, samples)."""
    longest_s = np.nanmax(end_unix_s - start_unix_s, initial=SAMPLE_S)
    count = int(np.ceil(longest_s / SAMPLE_S - 1e-9))
    share = np.linspace(0.0, 1.0, count + 1)
    return np.asarray(start_unix_s[:, None] + (end_unix_s - start_unix_s)[:, None] * share)


def stretches_of(unix_s: Floats, sampled: Floats, margin: Margin, keep: int) -> Floats:
    """Return the longest stretches in which the margin is positive, in order of time, NaN where none.

    Parameters
    ----------
    unix_s, sampled : arrays (rows, samples)
        Times at most some ten minutes apart, and the margin there; NaN counts as not positive.
    margin : function
        The margin of given rows at given times.
    keep : int
        How many stretches a row may have; the longest are kept.

    Returns
    -------
    array (rows, keep, 2)
        Start and end. [unix s]

    Notes
    -----
    The highest sample of a row is first moved to the peak of the parabola through its neighbours, so that a
    stretch shorter than the sampling is still met; every end is then found to 0.01 s.
    """
    unix_s, sampled = _with_peak(unix_s, sampled, margin)
    positive = sampled > 0.0
    row, left = np.nonzero(positive[:, 1:] != positive[:, :-1])
    crossing = crossings_of(
        margin, row, unix_s[row, left], unix_s[row, left + 1], sampled[row, left], sampled[row, left + 1]
    )
    rising = positive[row, left + 1]
    rows = np.arange(len(unix_s))
    start_row = np.concatenate([rows[positive[:, 0]], row[rising]])
    start = np.concatenate([unix_s[positive[:, 0], 0], crossing[rising]])
    end_row = np.concatenate([row[~rising], rows[positive[:, -1]]])
    end = np.concatenate([crossing[~rising], unix_s[positive[:, -1], -1]])
    in_time = np.lexsort((start, start_row))
    return longest_of(
        start_row[in_time], start[in_time], end[np.lexsort((end, end_row))], rows=len(unix_s), keep=keep
    )


def longest_of(row: Ints, start: Floats, end: Floats, rows: int, keep: int) -> Floats:
    """Return each row's `keep` longest stretches in order of time, (rows, keep, 2), NaN where none."""
    found = np.full((rows, keep, 2), np.nan)
    by_length = np.lexsort((start - end, row))
    kept = by_length[_rank(row[by_length]) < keep]
    kept = kept[np.lexsort((start[kept], row[kept]))]
    place = _rank(row[kept])
    found[row[kept], place, 0] = start[kept]
    found[row[kept], place, 1] = end[kept]
    return found


def crossings_of(
    margin: Margin, row: Ints, low: Floats, high: Floats, at_low: Floats, at_high: Floats
) -> Floats:
    """Return where the margin changes sign between `low` and `high`, to 0.01 s; all arrays (n,).

    False position with the Illinois rule, which keeps the bracket; a jump (a wall) is closed in on by
    halving every third step.
    """
    low, high, at_low, at_high = low.copy(), high.copy(), at_low.copy(), at_high.copy()
    at_low = np.where(np.isfinite(at_low), at_low, -1.0)
    at_high = np.where(np.isfinite(at_high), at_high, -1.0)
    for step in range(48):
        if not len(row) or float((high - low).max()) < 0.01:
            break
        guess = low + (high - low) * np.clip(at_low / (at_low - at_high), 1e-5, 1 - 1e-5)
        if step % 3 == 2:
            guess = 0.5 * (low + high)
        found = margin(row, guess)
        in_lower = (found > 0.0) != (at_low > 0.0)
        high = np.where(in_lower, guess, high)
        low = np.where(in_lower, low, guess)
        at_high = np.where(in_lower, found, 0.5 * at_high)
        at_low = np.where(in_lower, 0.5 * at_low, found)
    return np.asarray(0.5 * (low + high))


def _with_peak(unix_s: Floats, sampled: Floats, margin: Margin) -> tuple[Floats, Floats]:
    """Move each row's highest inner sample to the top of the parabola through it."""
    unix_s, sampled = unix_s.copy(), sampled.copy()
    rows = np.arange(len(unix_s))
    peak = np.clip(np.argmax(np.nan_to_num(sampled, nan=-np.inf), axis=1), 1, sampled.shape[1] - 2)
    before, at, after = (sampled[rows, peak + k] for k in (-1, 0, 1))
    bend = before - 2.0 * at + after
    usable = (bend < 0.0) & (at >= before) & (at >= after)
    shift = np.where(usable, 0.5 * (before - after) / np.where(usable, bend, 1.0), 0.0)
    step_s = unix_s[rows, peak + 1] - unix_s[rows, peak]
    moved = unix_s[rows, peak] + np.clip(shift, -0.5, 0.5) * step_s
    higher = margin(rows, moved)
    better = usable & (higher > at)
    unix_s[rows[better], peak[better]] = moved[better]
    sampled[rows[better], peak[better]] = higher[better]
    return unix_s, sampled


def _rank(row: Ints) -> Ints:
    """Return each entry's place among those of its row; equal rows stand together."""
    first = np.concatenate([[True], row[1:] != row[:-1]]) if len(row) else np.zeros(0, bool)
    begin = np.maximum.accumulate(np.where(first, np.arange(len(row)), 0))
    return np.asarray(np.arange(len(row)) - begin)
