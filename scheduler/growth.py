"""Part programmes of a night, grown visit by visit: the search that finds the best programme and proves it.

Many years look at the same night, see `walk`; their part programmes grow side by side.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .domain.opportunity import Floats, Ints
from .walk import Priced, Walk

ONCE = 5  # targets of which the walk ahead of a part programme knows whether they were visited
MIXING = np.uint64(0x9E3779B97F4A7C15)  # odd, its bits well spread: 2**64 over the golden ratio


class _Labels(NamedTuple):
    """Part programmes, by year. (labels,); `seen` has words of bits, `trail` the rows. (labels, n)

    `before` are the bits of those targets visited that the walk ahead knows of.
    """

    year: Ints
    time: Ints
    before: Ints
    worth: Floats
    hope: Floats
    seen: NDArray[np.uint64]
    trail: Ints

    def only(self, some: Ints | NDArray[np.bool_]) -> _Labels:
        return _Labels(
            self.year[some], self.time[some], self.before[some], self.worth[some], self.hope[some],
            self.seen[some], self.trail[some],
        )  # fmt: skip


def grown(priced: Priced, tiny: Floats, most: int) -> tuple[list[Ints], Floats, Floats]:
    """Return the rows of each year's best programme, its worth and a bound, by growing part programmes."""
    best, least, lost = list(priced.path), priced.least.copy(), np.zeros(len(priced.least))
    grow = _Growth(priced, tiny)
    labels = grow.seeds()
    while len(labels.year):
        labels = grow.longer(labels, least)
        first = np.flatnonzero(np.diff(labels.year, prepend=-1))
        if len(first):
            top = np.full(len(least), -np.inf)
            top[labels.year[first]] = np.maximum.reduceat(labels.worth, first)
            for label in np.flatnonzero(
                (labels.worth > least[labels.year]) & (labels.worth == top[labels.year])
            ):
                best[labels.year[label]] = priced.jobs.row[labels.trail[label]]
            least = np.maximum(least, top)
        labels = labels.only(labels.hope > (least + tiny)[labels.year])
        labels = labels.only(_undominated(labels))
        labels = _most_hopeful(labels, most, lost)
    return best, least, np.maximum(least, lost)


class _Growth:
    """What part programmes grow by: the rows each year may use."""

    def __init__(self, priced: Priced, tiny: Floats) -> None:
        self.jobs, self.tiny = priced.jobs, tiny
        # the targets that walks visited again most often are those the walk ahead shall know of
        many = min(ONCE, priced.again.shape[1])
        once = np.argsort(-priced.again, axis=1, kind="stable")[:, :many]
        once = np.where(np.take_along_axis(priced.again, once, axis=1) > 0, once, -1)
        once = once[:, : int((once >= 0).sum(axis=1).max(initial=0))]
        self.ahead = Walk(priced.jobs).ahead_once(priced.gain, once)
        usable = np.isfinite(priced.value)
        self.year, self.row = np.nonzero(usable)
        self.count = usable.sum(axis=1)
        self.first = np.cumsum(self.count) - self.count
        self.value = priced.value[usable]
        self.gain = priced.gain[usable]
        which = self.jobs.target[self.row][:, None] == once[self.year]
        self.before = (which << np.arange(once.shape[1])).sum(axis=1)
        self.hope = self.ahead[:, 0, 0] + priced.price.sum(axis=1)
        wanted = np.zeros(priced.price.shape, np.bool_)
        wanted[self.year, self.jobs.target[self.row]] = True
        bit = (np.cumsum(wanted, axis=1) - 1)[self.year, self.jobs.target[self.row]]
        self.flags = np.zeros((len(bit), int(wanted.sum(axis=1).max(initial=0)) // 64 + 1), np.uint64)
        self.flags[np.arange(len(bit)), bit // 64] = np.uint64(1) << (bit % 64).astype(np.uint64)
        # a target that cannot be begun any more need not be known as visited
        last = self.jobs.end - self.jobs.minutes
        open_at = np.zeros((len(usable), self.jobs.length + 1, self.flags.shape[1]), np.uint64)
        np.bitwise_or.at(open_at, (self.year, last[self.row]), self.flags)
        self.open = np.bitwise_or.accumulate(open_at[:, ::-1], axis=1)[:, ::-1]

    def seeds(self) -> _Labels:
        """Return an empty programme for each year that has rows."""
        year = np.flatnonzero(self.count)
        return _Labels(
            year, np.zeros(len(year), np.int64), np.zeros(len(year), np.int64), np.zeros(len(year)),
            self.hope[year],
            np.zeros((len(year), self.flags.shape[1]), np.uint64), np.zeros((len(year), 0), np.int64),
        )  # fmt: skip

    def longer(self, labels: _Labels, least: Floats) -> _Labels:
        """Return every programme one visit longer that may yet be better than the best."""
        many = self.count[labels.year]
        label = np.repeat(np.arange(len(many)), many)
        entry = np.arange(len(label)) + np.repeat(self.first[labels.year] - np.cumsum(many) + many, many)
        row = self.row[entry]
        end = np.maximum(labels.time[label], self.jobs.start[row]) + self.jobs.minutes[row]
        fits = end <= self.jobs.end[row]
        for word in range(self.flags.shape[1]):
            fits &= (labels.seen[label, word] & self.flags[entry, word]) == 0
        label, entry, row, end = label[fits], entry[fits], row[fits], end[fits]
        year = labels.year[label]
        # what has been gained so far is hope less what was still hoped for
        hope = (labels.hope - self.ahead[labels.year, labels.before, labels.time])[label]
        before = labels.before[label] | self.before[entry]
        hope += self.gain[entry] + self.ahead[year, before, end]
        some = hope > (least + self.tiny)[year]
        label, entry, row = label[some], entry[some], row[some]
        return _Labels(
            year[some], end[some], before[some], labels.worth[label] + self.value[entry], hope[some],
            (labels.seen[label] | self.flags[entry]) & self.open[year[some], end[some]],
            np.column_stack([labels.trail[label], row]),
        )  # fmt: skip


def _undominated(labels: _Labels) -> NDArray[np.bool_]:
    """Mark the labels but those whose targets the one before them visited by then for as much."""
    # neighbours in the order of a mixture of targets; whether they are the same is looked at after
    odd = np.arange(1, 2 * labels.seen.shape[1], 2, dtype=np.uint64)
    mixed = (labels.seen * (odd * MIXING)).sum(axis=1, dtype=np.uint64)
    order = np.lexsort((labels.time, mixed, labels.year))
    year, seen, worth = labels.year[order], labels.seen[order], labels.worth[order]
    same = (year[1:] == year[:-1]) & (seen[1:] == seen[:-1]).all(axis=1)
    kept = np.ones(len(order), np.bool_)
    kept[order[1:]] = ~(same & (worth[1:] <= worth[:-1]))
    return kept


def _most_hopeful(labels: _Labels, most: int, lost: Floats) -> _Labels:
    """Return each year's `most` most hopeful labels; `lost` is raised to the hope of those that fall."""
    first = np.flatnonzero(np.diff(labels.year, prepend=-1))
    if not len(first) or np.diff(first, append=len(labels.year)).max() <= most:
        return labels
    order = np.lexsort((-labels.hope, labels.year))
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order)) - np.repeat(first, np.diff(first, append=len(order)))
    fallen = labels.only(rank == most)
    lost[fallen.year] = np.maximum(lost[fallen.year], fallen.hope)
    return labels.only(rank < most)
