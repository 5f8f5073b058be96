"""From a window and the merit along it to the stretches a visit may use: the prime one and the fair one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..domain.opportunity import Floats, Ints

Bools: TypeAlias = NDArray[np.bool_]

SAMPLES = 17
"""Visits tried along a window, first to last."""

PRIME_SHARE = 0.85
"""A moment is prime while it shows at least this share of the window's best merit (our judgement)."""

FAIR_SHARE = 0.5
"""A fair stretch is kept while it shows at least this share of the prime one (our judgement)."""


@dataclass(frozen=True, eq=False)
class Stretches:
    """Stretches of one rank for a list of windows; `kept` marks the windows that have one.

    All arrays are (windows,); minutes count from the season's epoch.
    """

    kept: Bools
    start_min: Ints
    end_min: Ints
    best_min: Ints
    merit: Floats


def visit_starts(start_min: Ints, end_min: Ints, minutes: Ints) -> Ints:
    """Return when the visits tried along each window start. (windows, SAMPLES) [min]

    Examples
    --------
    >>> visit_starts(np.array([0]), np.array([52]), np.array([20]))[0, [0, 8, 16]]
    array([ 0, 16, 32])
    """
    slack = (end_min - start_min - minutes)[:, None]
    return np.asarray(start_min[:, None] + np.rint(slack * np.linspace(0.0, 1.0, SAMPLES)), dtype=np.int64)


def prime_and_fair(
    starts_min: Ints, minutes: Ints, merit: Floats, least_merit: float
) -> tuple[Stretches, Stretches]:
    """Return the prime stretch round each window's best moment, and the fair one round all of it.

    Parameters
    ----------
    starts_min : Starts of the visits tried, as `visit_starts` gives them. int, (windows, SAMPLES) [min]
    minutes : Length of a visit. int, (windows,) [min]
    merit : Merit in the middle of each of those visits. (windows, SAMPLES) [0..1]
    least_merit : Stretches below this are not kept.

    Notes
    -----
    A stretch promises the mean merit of the moments it alone adds: the prime one of its own, the fair
    one of those outside the prime. So a visit in the fair stretch is never promised the prime's merit.
    """
    windows, columns = np.arange(len(merit)), np.arange(SAMPLES)
    best = merit.argmax(axis=1)
    good = merit >= PRIME_SHARE * merit[windows, best][:, None]
    before = np.where(~good & (columns < best[:, None]), columns, -1).max(axis=1)
    after = np.where(~good & (columns > best[:, None]), columns, SAMPLES).min(axis=1)
    inside = (columns > before[:, None]) & (columns < after[:, None])
    middle = starts_min[windows, best] + minutes // 2
    prime_merit = _mean(merit, inside)
    fair_merit = _mean(merit, ~inside)
    prime = Stretches(
        prime_merit >= least_merit, starts_min[windows, before + 1],
        starts_min[windows, after - 1] + minutes, middle, prime_merit,
    )  # fmt: skip
    kept = (~inside).any(axis=1) & (fair_merit >= np.maximum(least_merit, FAIR_SHARE * prime_merit))
    fair = Stretches(kept, starts_min[:, 0], starts_min[:, -1] + minutes, middle, fair_merit)
    return prime, fair


def _mean(values: Floats, chosen: Bools) -> Floats:
    return np.asarray((values * chosen).sum(axis=1) / np.maximum(chosen.sum(axis=1), 1))
