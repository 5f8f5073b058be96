"""How good odds were, seen from afterwards.

References
----------
G. W. Brier, "Verification of forecasts expressed in terms of probability", Monthly Weather Review 78 (1950)
1. I. J. Good, "Rational decisions", J. R. Statist. Soc. B 14 (1952) 107. The parts that a Brier score is the
sum of: A. H. Murphy, "A new vector partition of the probability score", J. Appl. Meteor. 12 (1973) 595. All
from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..domain.checks import holds
from ..domain.opportunity import Floats

NEVER_SURER = 0.001
"""Odds nearer to sure than this count as this in the log score: one surprise must not cost without limit."""

BINS = 5


@dataclass(frozen=True, slots=True)
class Reliability:
    """Nights given odds from `low` to `high`: how many, their mean odds, how clear they were. [0..1]"""

    low: float
    high: float
    nights: int
    mean_odds: float
    clear_share: float


def brier_score(odds: Floats, clear_share: Floats) -> float:
    """Return the mean square error of odds; less is better. [0..1]

    Parameters
    ----------
    odds : What was expected of each night. (nights,) [0..1]
    clear_share : How clear each was. (nights,) [0..1]

    Examples
    --------
    >>> round(brier_score(np.array([0.8, 0.3]), np.array([1.0, 0.0])), 3)
    0.065
    """
    odds, came = _paired(odds, clear_share)
    return float(np.mean((odds - came) ** 2))


def log_score(odds: Floats, clear_share: Floats) -> float:
    """Return the mean surprise at what came, in natural logarithms; less is better. [0..6.9]

    Examples
    --------
    >>> round(log_score(np.array([0.5, 0.5]), np.array([1.0, 0.0])), 3)
    0.693
    """
    odds, came = _paired(odds, clear_share)
    odds = np.clip(odds, NEVER_SURER, 1.0 - NEVER_SURER)
    return float(-np.mean(came * np.log(odds) + (1.0 - came) * np.log(1.0 - odds)))


def skill_of(score: float, reference: float) -> float:
    """Return which part of a reference's score is saved; below 0 where nothing is. [-inf..1]

    >>> round(skill_of(0.18, 0.20), 3)
    0.1
    """
    return 1.0 - score / reference if reference > 0.0 else 0.0


def reliability_of(odds: Floats, clear_share: Floats, bins: int = BINS) -> tuple[Reliability, ...]:
    """Return how clear the nights were that were given like odds; bins without a night are left out.

    Examples
    --------
    >>> for one in reliability_of(np.array([0.1, 0.15, 0.7]), np.array([0.0, 1.0, 1.0])):
    ...     print(one.nights, round(one.mean_odds, 3), one.clear_share)
    2 0.125 0.5
    1 0.7 1.0
    """
    odds, came = _paired(odds, clear_share)
    bin_of = np.minimum((odds * bins).astype(int), bins - 1)
    found = []
    for one in sorted(set(bin_of.tolist())):
        here = bin_of == one
        mean_odds, share = float(odds[here].mean()), float(came[here].mean())
        found.append(Reliability(one / bins, (one + 1) / bins, int(here.sum()), mean_odds, share))
    return tuple(found)


def _paired(odds: Floats, clear_share: Floats) -> tuple[Floats, Floats]:
    odds, came = np.asarray(odds, dtype=np.float64), np.asarray(clear_share, dtype=np.float64)
    paired = odds.shape == came.shape and odds.size > 0
    holds("odds", odds.shape, paired, "as many as the nights that came, at least one")
    return odds, came
