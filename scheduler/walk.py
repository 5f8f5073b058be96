"""A night walked backwards, and part programmes grown along the walk: the two halves of `night`.

Every visit is counted with the move after it and every window ends that much later; then visits may touch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .domain.opportunity import Floats, Ints

LONGEST = 1441  # no visit and the move after it take longer than a day [min]


@dataclass(frozen=True, eq=False)
class Jobs:
    """Rows that may be used, moves counted in; `row` is their place, `target` numbered from 0."""

    row: Ints
    target: Ints
    start: Ints
    end: Ints
    minutes: Ints
    value: Floats

    def only(self, some: NDArray[np.bool_]) -> Jobs:
        """Return some of the rows."""
        return Jobs(
            self.row[some], self.target[some], self.start[some], self.end[some], self.minutes[some],
            self.value[some],
        )  # fmt: skip

    def mirrored(self, length: int) -> Jobs:
        """Return the same night of `length` run backwards."""
        return replace(self, start=length - self.end, end=length - self.start)


class Priced(NamedTuple):
    """A night under prices of its targets; `ahead[t]` bounds the priced value of what follows minute t."""

    jobs: Jobs
    price: Floats
    ahead: Floats
    path: Ints
    least: float
    most: float


class Walk:
    """The night walked backwards, targets visited any number of times."""

    def __init__(self, jobs: Jobs, length: int = 0) -> None:
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


def knapsack_prices(jobs: Jobs) -> Floats:
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


def hopeful(priced: Priced, tiny: float) -> Jobs:
    """Return the jobs that may lie in a better programme than the one found."""
    jobs, gain = priced.jobs, priced.jobs.value - priced.price[priced.jobs.target]
    length = len(priced.ahead) - LONGEST
    walk = Walk(jobs, length)
    behind = Walk(jobs.mirrored(length), length).values(gain)[0][length::-1]
    through = (walk.barred + behind[None, :length] + priced.ahead[walk.next]).max(axis=1) + gain
    return jobs.only(through + float(priced.price.sum()) > priced.least + tiny)


def grown(priced: Priced, tiny: float, most: int) -> tuple[Ints, float]:
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
