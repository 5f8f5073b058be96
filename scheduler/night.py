"""The best programme of one night, if it is clear: which visits, when, for the largest sum of values.

Every visit is counted with the move after it and every window ends that much later; then visits may touch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .domain.checks import holds, whole
from .domain.opportunity import Floats, Ints
from .growth import grown
from .walk import Jobs, Priced, Walk, hopeful, knapsack_prices

SEARCHES = (8, 0), (8, 10), (8, 0)  # rounds of prices on second visits, then part programmes kept at a time
LAST_ROUNDS = 4  # before the last search
SLOWER = 0.9  # a round that does not better the bound shortens the steps so
DEFLECT = 0.5  # part of the last step's direction kept in the next
AT_ONCE = 2_000_000  # figures of a year, a row and a minute looked at together
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
    Part programmes are then grown visit by visit, the few targets that walks visited again most often known
    to the bound of what may follow; one falls where that bound leaves it behind the best found, or where the
    same targets, of those that may still be begun, were visited by an earlier minute for as much.

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
    return best_programmes(rows, rows.value[None, :], labels)[0]


def best_programmes(rows: NightRows, value: Floats, labels: int = LABELS) -> list[NightProgramme]:
    """Return the best programmes of one night under many values of its rows, as `best_programme` would.

    Parameters
    ----------
    value : What each row is worth, in place of `rows.value`. (years, rows)
    """
    found = [NightProgramme(np.zeros(0, np.int64), np.zeros(0, np.int64), 0.0, 0.0)] * len(value)
    fit = np.flatnonzero(rows.end_min - rows.start_min >= rows.minutes)
    value = np.where(value[:, fit] > 0, value[:, fit], -np.inf)
    some = np.flatnonzero(np.isfinite(value).any(axis=1))
    if not len(some):
        return found
    jobs = _jobs_of(rows, fit)
    size = max(1, AT_ONCE // (len(fit) * jobs.length))
    for first in range(0, len(some), size):
        years = some[first : first + size]
        paths, bounds = _chosen(jobs, value[years], labels)
        for year, path, bound in zip(years.tolist(), paths, bounds.tolist(), strict=True):
            worth = float(value[year, np.searchsorted(fit, path)].sum())
            found[year] = NightProgramme(path, _earliest(rows, path), worth, max(worth, bound))
    return found


def _jobs_of(rows: NightRows, some: Ints) -> Jobs:
    """Return some rows with the move after each visit counted in, on minutes from the first start."""
    start, move = rows.start_min[some] - rows.start_min[some].min(), rows.move_min
    end, minutes = start + rows.end_min[some] - rows.start_min[some] + move, rows.minutes[some] + move
    target = np.unique(rows.target[some], return_inverse=True)[1].astype(np.int64)
    return Jobs(some, target, start, end, minutes, int(end.max()), int(minutes.max()))


def _chosen(jobs: Jobs, value: Floats, labels: int) -> tuple[list[Ints], Floats]:
    """Return the rows of each year's programme and a bound."""
    tiny = TINY * value.max(axis=1)
    best = _first_priced(jobs, value)
    pace = np.ones(len(value))
    for rounds, kept in (*SEARCHES, (LAST_ROUNDS, labels)):
        unsure = best.unsure(tiny)
        if not len(unsure):
            break
        some, pace[unsure] = _repriced(best.only(unsure), tiny[unsure], pace[unsure], rounds)
        if kept:
            path, least, bound = grown(hopeful(some, tiny[unsure]), tiny[unsure], kept)
            some = some._replace(path=path, least=least, most=np.minimum(some.most, bound))
        best = hopeful(best.with_(unsure, some), tiny)
    return best.path, np.where(best.usable, best.most, best.least)


def _first_priced(jobs: Jobs, value: Floats) -> Priced:
    """Return the nights under the prices of knapsacks."""
    price, walk = knapsack_prices(jobs, value, int(jobs.target.max()) + 1), Walk(jobs)
    ahead = walk.ahead(walk.steps(value - price[:, jobs.target]))
    none = [np.zeros(0, np.int64)] * len(value)
    most = ahead[:, 0] + price.sum(axis=1)
    return Priced(jobs, value, price, ahead, none, np.zeros(len(value)), most, np.zeros(price.shape))


def _better(nights: Priced, year: Ints, row: Ints) -> None:
    """Let walks be programmes, every target's first visit kept, where they are better than those known."""
    targets = nights.price.shape[1]
    once = np.sort(np.unique(year * targets + nights.jobs.target[row], return_index=True)[1])
    year, row = year[once], row[once]
    worth = np.bincount(year, nights.value[year, row], len(nights.least))
    for some in np.flatnonzero(worth > nights.least).tolist():
        nights.least[some], nights.path[some] = worth[some], nights.jobs.row[row[year == some]]


def _repriced(nights: Priced, tiny: Floats, pace: Floats, rounds: int) -> tuple[Priced, Floats]:
    """Return the nights under prices, by subgradient, that make visiting a target twice rarely pay."""
    jobs, walk = nights.jobs, Walk(nights.jobs)
    price, ahead, most = nights.price, nights.ahead, nights.most
    best = nights._replace(price=price.copy(), ahead=ahead.copy(), most=most.copy())
    trend = np.zeros(price.shape)
    for _ in range(rounds):
        year, row = walk.paths(nights.value - price[:, jobs.target], ahead)
        _better(best, year, row)
        slope = np.zeros(price.shape)
        np.add.at(slope, (year, jobs.target[row]), 1.0)
        slope -= 1.0
        best.again[:] += np.maximum(slope, 0.0)
        slope[(slope < 0) & (price <= 0)] = 0.0
        trend = slope + DEFLECT * trend
        steep = (trend**2).sum(axis=1)
        step = pace * np.maximum(most - best.least, tiny) / np.where(steep > 0, steep, np.inf)
        price = np.maximum(price + step[:, None] * trend, 0.0)
        ahead = walk.ahead(walk.steps(nights.value - price[:, jobs.target]))
        most = ahead[:, 0] + price.sum(axis=1)
        better = most < best.most
        best.price[better], best.ahead[better], best.most[better] = price[better], ahead[better], most[better]
        pace = np.where(better, pace, SLOWER * pace)
    return best, pace


def _earliest(rows: NightRows, found: Ints) -> Ints:
    """Return the earliest starts of these rows in this order."""
    starts, free = np.zeros(len(found), np.int64), -(10**12)
    for place, row in enumerate(found.tolist()):
        starts[place] = max(free, int(rows.start_min[row]))
        free = int(starts[place] + rows.minutes[row]) + rows.move_min
    return starts
