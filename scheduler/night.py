"""The best programme of one night, if it is clear: which visits, when, for the largest sum of values.

Every visit is counted with the move after it and every window ends that much later; then visits may touch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .domain.checks import holds, whole
from .domain.opportunity import Floats, Ints
from .walk import Jobs, Priced, Walk, grown, hopeful, knapsack_prices

PRICINGS = 16  # rounds of prices on visiting a target twice
SLOWER = 0.6  # a round that does not better the bound shortens the steps so
DEFLECT = 0.7  # part of the last step's direction kept in the next
NARROWING = 5  # rows that cannot better the programme are dropped every so many rounds
FIRST_LABELS = 40  # part programmes kept in the first, hasty search
LABELS = 20_000  # part programmes kept at a time; more than this many are cut down to the most hopeful
TINY = 1e-9  # part of the dearest row below which a gain is rounding


@dataclass(frozen=True, eq=False)
class NightRows:
    """What a night offers: the stretches in which targets may be visited, and what a visit is worth.

    Attributes
    ----------
    target : Whose stretch it is; of one target at most one is used. int, (rows,)
    start_min, end_min : The stretch a visit lies in. int, (rows,) [min]
    minutes : Length of the visit. int, (rows,) [min]
    value : What the visit is worth; a row worth nothing, or less, is never used. (rows,)
    move_min : Left free between two visits. [min]
    """

    target: Ints
    start_min: Ints
    end_min: Ints
    minutes: Ints
    value: Floats
    move_min: int = 4

    def __post_init__(self) -> None:
        columns = self.target, self.start_min, self.end_min, self.minutes, self.value
        counts = {len(column) for column in columns}
        holds("rows", counts, len(counts) == 1, "columns of one length")
        fine = bool(((self.minutes >= 1) & (self.minutes <= 1200)).all())
        holds("minutes", "a row", fine, "numbers from 1 to 1200")
        whole("move_min", self.move_min, 0, 240)


class NightProgramme(NamedTuple):
    """The visits of a night.

    Attributes
    ----------
    rows : Position of each visit's row, by start. int, (visits,)
    start_min : Start of each visit. int, (visits,) [min]
    value : Sum of the visits' values.
    bound : No programme is worth more; `value` itself, but for rounding, where the search was complete.
    """

    rows: Ints
    start_min: Ints
    value: float
    bound: float


def best_programme(rows: NightRows, labels: int = LABELS) -> NightProgramme:
    """Return the visits of the night with the largest sum of values, each as early as the order lets it.

    Parameters
    ----------
    labels : Part programmes kept at a time: how thorough the search is.

    Notes
    -----
    Exact: `bound` equals `value`, unless more than `labels` part programmes were in hand at once, and then
    `bound` says by how much it may fall short.

    The night is first walked backwards minute by minute, as if a target might be visited again and again.
    Prices on the visits of a target, by subgradient, make that rarely pay: the walk then bounds what may
    follow from any minute on, in either direction, and rows that cannot lie in a better programme drop out.
    Part programmes are then grown visit by visit; one falls where the bound of what may follow leaves it
    behind the best found, or where the same targets were visited by an earlier minute for as much.

    References
    ----------
    N. Christofides, A. Mingozzi, P. Toth, "State-space relaxation procedures for the computation of bounds
    to routing problems", Networks 11 (1981) 145, doi:10.1002/net.3230110207, from memory.

    Examples
    --------
    An hour holds two visits of 25 minutes, and the dearest two fit in either order:

    >>> rows = NightRows(
    ...     np.array([0, 1, 2]), np.array([0, 0, 30]), np.array([60, 30, 60]), np.array([25, 25, 25]),
    ...     np.array([1.0, 0.9, 1.5]),
    ... )
    >>> found = best_programme(rows)
    >>> found.rows, found.start_min, found.value
    (array([0, 2]), array([ 0, 30]), 2.5)
    """
    fits = rows.end_min - rows.start_min >= rows.minutes
    usable = np.flatnonzero((rows.value > 0) & fits)
    if not len(usable):
        return NightProgramme(np.zeros(0, np.int64), np.zeros(0, np.int64), 0.0, 0.0)
    begin = int(rows.start_min[usable].min())
    jobs = Jobs(
        usable,
        np.unique(rows.target[usable], return_inverse=True)[1].astype(np.int64),
        rows.start_min[usable] - begin,
        rows.end_min[usable] - begin + rows.move_min,
        rows.minutes[usable] + rows.move_min,
        rows.value[usable],
    )
    tiny = TINY * float(jobs.value.max())
    priced = _priced(jobs, tiny)
    found = priced.path
    value, bound = priced.least, priced.least
    if priced.most > value + tiny:
        left = priced._replace(jobs=hopeful(priced, tiny))
        found, bound = grown(left, tiny, labels)
        value = float(rows.value[found].sum())
    return NightProgramme(found, _earliest(rows, found), value, max(value, bound))


def _priced(jobs: Jobs, tiny: float) -> Priced:
    """Return the night under prices that make visiting a target twice rarely pay."""
    walk, price = Walk(jobs), knapsack_prices(jobs)
    ahead, row = walk.values(jobs.value - price[jobs.target])
    best = Priced(jobs, price, ahead, np.zeros(0, np.int64), 0.0, float(ahead[0] + price.sum()))
    path = grown(best, tiny, FIRST_LABELS)[0]
    best = best._replace(path=path, least=float(jobs.value[np.isin(jobs.row, path)].sum()))
    trend, pace, most = np.zeros(len(price)), 1.0, best.most
    for turn in range(PRICINGS):
        if turn % NARROWING == 0:
            jobs = hopeful(best, tiny)
            best = best._replace(jobs=jobs)
            if not len(jobs.row):
                return best._replace(most=best.least)
            walk = Walk(jobs, walk.length)
            ahead, row = walk.values(jobs.value - price[jobs.target])
        slope = np.bincount(jobs.target[walk.path(ahead, row)], minlength=len(price)) - 1.0
        slope[(slope < 0) & (price <= 0)] = 0.0
        trend = slope + DEFLECT * trend
        steep = float(trend @ trend)
        if best.most <= best.least + tiny or steep == 0:
            break
        price = np.maximum(price + pace * max(most - best.least, tiny) / steep * trend, 0.0)
        ahead, row = walk.values(jobs.value - price[jobs.target])
        most = float(ahead[0] + price.sum())
        if most < best.most:
            best = best._replace(price=price, ahead=ahead, most=most)
        else:
            pace *= SLOWER
    return best


def _earliest(rows: NightRows, found: Ints) -> Ints:
    """Return the earliest starts of these rows in this order."""
    starts, free = np.zeros(len(found), np.int64), -(10**12)
    for place, row in enumerate(found.tolist()):
        starts[place] = max(free, int(rows.start_min[row]))
        free = int(starts[place] + rows.minutes[row]) + rows.move_min
    return starts
