"""The best programme of one night, if it is clear: which visits, when, for the largest sum of values.

Every visit is counted with the move after it and every window ends that much later; then visits may touch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .domain.checks import holds, whole
from .domain.opportunity import Floats, Ints

DEFLECT = 0.7
SLOWER = 0.6
FIRST_LABELS = 40
NARROWING = 5
LONGEST = 1441
PRICINGS = 16  # rounds of prices on visiting a target twice
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
        holds("minutes", "a row", bool((self.minutes >= 1).all()), "at least one minute")
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

    Notes
    -----
    Exact: `bound` equals `value`, unless more than `LABELS` part programmes were in hand at once, and then
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
    jobs = _Jobs(
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
        hopeful = priced._replace(jobs=_hopeful(priced, tiny))
        found, bound = _grown(hopeful, tiny, labels)
        value = float(rows.value[found].sum())
    return NightProgramme(found, _earliest(rows, found), value, max(value, bound))


@dataclass(frozen=True, eq=False)
class _Jobs:
    """Rows that may be used, moves counted in; `row` is their place, `target` numbered from 0."""

    row: Ints
    target: Ints
    start: Ints
    end: Ints
    minutes: Ints
    value: Floats

    def only(self, some: NDArray[np.bool_]) -> _Jobs:
        return _Jobs(
            self.row[some], self.target[some], self.start[some], self.end[some], self.minutes[some],
            self.value[some],
        )  # fmt: skip

    def mirrored(self, length: int) -> _Jobs:
        """Return the same night of `length` run backwards."""
        return replace(self, start=length - self.end, end=length - self.start)


class _Priced(NamedTuple):
    """A night under prices of its targets; `ahead[t]` bounds the priced value of what follows minute t."""

    jobs: _Jobs
    price: Floats
    ahead: Floats
    path: Ints
    least: float
    most: float


class _Walk:
    """The night walked backwards, targets visited any number of times."""

    def __init__(self, jobs: _Jobs, length: int = 0) -> None:
        self.jobs, self.length = jobs, length or int(jobs.end.max())
        self._block = int(jobs.minutes.min())
        minute = np.arange(self.length)[None, :]
        begins = (minute >= jobs.start[:, None]) & (minute + jobs.minutes[:, None] <= jobs.end[:, None])
        self.barred = np.where(begins, 0.0, -np.inf)
        self.next = minute + jobs.minutes[:, None]

    def values(self, gain: Floats) -> tuple[Floats, Ints]:
        """Return the best sum of gains from each minute on, and the row then begun, if it is begun then."""
        ahead = np.zeros(self.length + LONGEST)
        row = np.zeros(self.length, np.int64)
        # within a block no visit ends, so that its minutes do not wait for each other
        for last in range(self.length, 0, -self._block):
            some = slice(max(0, last - self._block), last)
            table = ahead[self.next[:, some]]
            table += self.barred[:, some]
            table += gain[:, None]
            row[some] = table.argmax(axis=0)
            best = table.max(axis=0)
            best[-1] = max(best[-1], ahead[last])
            ahead[some] = np.maximum.accumulate(best[::-1])[::-1]
        return ahead, row

    def path(self, ahead: Floats, row: Ints) -> list[int]:
        """Return the rows of the best walk, by start."""
        found, minute = [], 0
        value, begun = ahead.tolist(), row.tolist()
        minutes = self.jobs.minutes.tolist()
        while minute < self.length and value[minute] > 0:
            while value[minute + 1] == value[minute]:
                minute += 1
            found.append(begun[minute])
            minute += minutes[begun[minute]]
        return found


def _priced(jobs: _Jobs, tiny: float) -> _Priced:
    """Return the night under prices that make visiting a target twice rarely pay."""
    walk, price = _Walk(jobs), _first_prices(jobs)
    ahead, row = walk.values(jobs.value - price[jobs.target])
    best = _Priced(jobs, price, ahead, np.zeros(0, np.int64), 0.0, float(ahead[0] + price.sum()))
    path = _grown(best, tiny, FIRST_LABELS)[0]
    best = best._replace(path=path, least=float(jobs.value[np.isin(jobs.row, path)].sum()))
    trend, pace, most = np.zeros(len(price)), 1.0, best.most
    for turn in range(PRICINGS):
        if turn % NARROWING == 0:
            jobs = _hopeful(best, tiny)
            best = best._replace(jobs=jobs)
            if not len(jobs.row):
                return best._replace(most=best.least)
            walk = _Walk(jobs, walk.length)
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


def _first_prices(jobs: _Jobs) -> Floats:
    """Return the prices of the night as a knapsack: what a target's best row brings above its minutes' rate.

    G. B. Dantzig, "Discrete-variable extremum problems", Operations Research 5 (1957) 266, from memory.
    """
    targets = int(jobs.target.max()) + 1
    dearest, minutes = np.zeros(targets), np.ones(targets)
    np.maximum.at(dearest, jobs.target, jobs.value)
    minutes[jobs.target] = jobs.minutes
    order = np.argsort(-dearest / minutes, kind="stable")
    room = int(jobs.end.max() - jobs.start.min())
    last = int(np.searchsorted(np.cumsum(minutes[order]), room, side="right"))
    rate = float(dearest[order[last]] / minutes[order[last]]) if last < targets else 0.0
    return np.maximum(dearest - rate * minutes, 0.0)


def _hopeful(priced: _Priced, tiny: float) -> _Jobs:
    """Return the jobs that may lie in a better programme than the one found."""
    jobs, gain = priced.jobs, priced.jobs.value - priced.price[priced.jobs.target]
    length = len(priced.ahead) - LONGEST
    walk = _Walk(jobs, length)
    behind = _Walk(jobs.mirrored(length), length).values(gain)[0][length::-1]
    through = (walk.barred + behind[None, :length] + priced.ahead[walk.next]).max(axis=1) + gain
    return jobs.only(through + float(priced.price.sum()) > priced.least + tiny)


def _grown(priced: _Priced, tiny: float, most: int = LABELS) -> tuple[Ints, float]:
    """Return the rows of the best programme and a bound, by growing part programmes."""
    jobs, all_prices = priced.jobs, float(priced.price.sum())
    best, least, lost = priced.path, priced.least, 0.0
    gain = jobs.value - priced.price[jobs.target]
    names, bit = np.unique(jobs.target, return_inverse=True)
    flags = np.zeros((len(jobs.row), len(names) // 64 + 1), np.uint64)
    flags[np.arange(len(bit)), bit // 64] = np.uint64(1) << (bit % 64).astype(np.uint64)
    time, worth, priced_worth = np.zeros(1, np.int64), np.zeros(1), np.zeros(1)
    seen, trail = np.zeros((1, flags.shape[1]), np.uint64), np.zeros((1, 0), np.int64)
    while len(time) and len(jobs.row):
        end = np.maximum(time[:, None], jobs.start) + jobs.minutes
        hope = priced_worth[:, None] + gain + priced.ahead[np.minimum(end, len(priced.ahead) - 1)]
        new = ((seen[:, None, :] & flags) == 0).all(axis=2)
        label, row = np.nonzero(new & (end <= jobs.end) & (hope + all_prices > least + tiny))
        time, hope = end[label, row], hope[label, row] + all_prices
        worth, priced_worth = worth[label] + jobs.value[row], priced_worth[label] + gain[row]
        seen, trail = seen[label] | flags[row], np.column_stack([trail[label], row])
        if len(worth) and worth.max() > least:
            least, best = float(worth.max()), jobs.row[trail[worth.argmax()]]
        kept = _undominated(time, worth, seen)
        if len(kept) > most:
            kept = kept[np.argsort(-hope[kept], kind="stable")]
            lost, kept = max(lost, float(hope[kept[most]])), kept[:most]
        time, worth, priced_worth, seen, trail = (
            time[kept], worth[kept], priced_worth[kept], seen[kept], trail[kept],
        )  # fmt: skip
    return best, max(least, lost)


def _undominated(time: Ints, worth: Floats, seen: NDArray[np.uint64]) -> Ints:
    """Return the labels but those whose targets the one before them visited by then for as much."""
    order = np.lexsort((-worth, time, *seen.T))
    same = (seen[order][1:] == seen[order][:-1]).all(axis=1)
    kept = np.ones(len(order), np.bool_)
    kept[1:] = ~(same & (worth[order][1:] <= worth[order][:-1]))
    return order[kept]


def _earliest(rows: NightRows, found: Ints) -> Ints:
    """Return the earliest starts of these rows in this order."""
    starts, free = np.zeros(len(found), np.int64), -(10**12)
    for place, row in enumerate(found.tolist()):
        starts[place] = max(free, int(rows.start_min[row]))
        free = int(starts[place] + rows.minutes[row]) + rows.move_min
    return starts
