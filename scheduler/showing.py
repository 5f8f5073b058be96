"""When in the season each target shows: free nights counted by week."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .domain import GOOD_SHARE, FreeNight, Opportunities, Season, Showing, Target


def showing_of(
    season: Season, targets: Sequence[Target], nights: Sequence[FreeNight], every: Opportunities
) -> tuple[Showing, ...]:
    """Return on how many nights of each week each target shows, at all and well, in the targets' order.

    An evening counts by the best site it may be spent at, wherever the plan spends it.

    Parameters
    ----------
    nights : The plan's free nights, one an evening.
    every : Where each target shows on their evenings, at home or at any site away, seen already or not; what
        is for standbys alone does not count.
    """
    merit = np.zeros((len(targets), len(nights)))
    of_visits = ~every.standby_only
    np.maximum.at(merit, (every.target[of_visits], every.night[of_visits]), every.merit[of_visits])
    shown = merit > 0
    good = shown & (merit >= GOOD_SHARE * merit.max(axis=1, initial=0.0, keepdims=True))
    days = np.array([(night.evening - season.start).days for night in nights], dtype=np.int64)
    in_week = days[:, None] // 7 == np.arange(-(-season.nights // 7))
    return tuple(
        Showing(target.name, shown_digits, good_digits)
        for target, shown_digits, good_digits in zip(
            targets, _digits(shown, in_week), _digits(good, in_week), strict=True
        )
    )


def _digits(nights: NDArray[np.bool_], in_week: NDArray[np.bool_]) -> list[str]:
    """Return the nights of each target counted by week, a digit a week. (targets, nights), (nights, weeks)"""
    counts = nights.astype(np.int64) @ in_week.astype(np.int64)
    return [bytes(row).decode("ascii") for row in (counts + ord("0")).astype(np.uint8)]
