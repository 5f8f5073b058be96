"""The odds of a clear night, from monthly figures to single evenings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from ..domain import ClearOdds
from ..domain.opportunity import Floats


def clear_odds_of(odds: ClearOdds, evenings: Sequence[date]) -> Floats:
    """Return the probability of a usable night on each evening, without steps between months. [0..1]

    Parameters
    ----------
    odds : The monthly figures.
    evenings : Dates of the evenings, any order.

    Returns
    -------
    array, (nights,)

    Notes
    -----
    Straight lines between mid-months would flatten every peak and trough. So the knots they run between are
    shifted first, until the mean over each month is the month's own figure again; this holds to 0.001 in the
    mean of every month, leap years included, wherever the knots stay within 0..1. Where a month of sure cloud
    or sure clear sky would need a knot beyond, the knot stops there and the month's mean gives way.

    Examples
    --------
    >>> odds = ClearOdds((0.2, 0.3, 0.4, 0.5, 0.5, 0.6, 0.6, 0.6, 0.5, 0.4, 0.3, 0.2))
    >>> clear_odds_of(odds, [date(2027, 1, 16), date(2027, 1, 31), date(2027, 2, 14)]).round(2)
    array([0.19, 0.24, 0.3 ])
    """
    if not evenings:
        return np.zeros(0)
    place = np.array([_months_after_mid_january(evening) for evening in evenings])
    before = np.floor(place).astype(int)
    share = place - before
    knots = _knots(np.array(odds.monthly))
    found: Floats = (1.0 - share) * knots[before % 12] + share * knots[(before + 1) % 12]
    return found


def _months_after_mid_january(evening: date) -> float:
    """Return how many months lie between the middle of January and noon of the day. [-0.5..11.5)"""
    first = evening.replace(day=1)
    following = date(evening.year + evening.month // 12, evening.month % 12 + 1, 1)
    return evening.month - 1.5 + (evening.day - 0.5) / (following - first).days


def _knots(monthly: Floats) -> Floats:
    """Return the mid-month values whose straight joins have the monthly figures as their means."""
    # A month's mean over two straight halves is 3/4 of its own knot and 1/8 of each neighbour's.
    month = np.arange(12)
    means = np.zeros((12, 12))
    means[month, month] = 0.75
    means[month, (month - 1) % 12] = means[month, (month + 1) % 12] = 0.125
    knots: Floats = np.clip(np.linalg.solve(means, monthly), 0.0, 1.0)
    return knots
