"""A night walked minute by minute, targets visited any number of times: what bounds its programmes.

Many years look at the same night, each with values of its own: figures have a row a year. Every visit is
counted with the move after it and every window ends that much later; then visits may touch.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .domain.opportunity import Floats, Ints


@dataclass(frozen=True, eq=False)
class Jobs:
    """Rows that may be used, moves counted in; `row` is their place, `target` numbered from 0. (rows,)

    `length` is the night's, `longest` that of its longest visit. [min]
    """

    row: Ints
    target: Ints
    start: Ints
    end: Ints
    minutes: Ints
    length: int
    longest: int

    def only(self, some: Ints) -> Jobs:
        """Return some of the rows."""
        return Jobs(
            self.row[some], self.target[some], self.start[some], self.end[some], self.minutes[some],
            self.length, self.longest,
        )  # fmt: skip


class Priced(NamedTuple):
    """Nights of some years under prices of their targets.

    Attributes
    ----------
    jobs : The rows; some years may not use them all.
    value : What each row is worth, -inf where the year may not use it. (years, rows)
    price : Price of every visit to a target. (years, targets)
    ahead : Bounds the priced value of what follows each minute. (years, minutes)
    path : Rows of the best programme known, and its worth. one array a year, (years,)
    most : No programme is worth more. (years,)
    again : How often walks under prices visited a target again. (years, targets)
    """

    jobs: Jobs
    value: Floats
    price: Floats
    ahead: Floats
    path: list[Ints]
    least: Floats
    most: Floats
    again: Floats

    @property
    def gain(self) -> Floats:
        """Value less price. (years, rows)"""
        gain: Floats = self.value - self.price[:, self.jobs.target]
        return gain

    @property
    def usable(self) -> NDArray[np.bool_]:
        """Whether a year has rows left. (years,)"""
        return np.asarray(np.isfinite(self.value).any(axis=1))

    def unsure(self, tiny: Floats) -> Ints:
        """Return the years whose best programme may not have been found."""
        return np.flatnonzero((self.most > self.least + tiny) & self.usable)

    def with_(self, years: Ints, some: Priced) -> Priced:
        """Return these nights with what was found of some years."""
        self.price[years], self.ahead[years] = some.price, some.ahead
        self.least[years], self.most[years], self.again[years] = some.least, some.most, some.again
        for year, path in zip(years.tolist(), some.path, strict=True):
            self.path[year] = path
        return self

    def only(self, years: Ints) -> Priced:
        """Return some of the years, without the rows that none of them may use."""
        value = self.value[years]
        some = np.flatnonzero(np.isfinite(value).any(axis=0))
        return Priced(
            self.jobs.only(some), value[:, some], self.price[years], self.ahead[years],
            [self.path[year] for year in years.tolist()], self.least[years], self.most[years],
            self.again[years],
        )  # fmt: skip


class Walk:
    """The night walked, targets visited any number of times."""

    def __init__(self, jobs: Jobs) -> None:
        self.jobs, self.length = jobs, jobs.length
        self.lasting = np.unique(jobs.minutes).tolist()  # how long visits take
        minute = np.arange(self.length)
        begins = (minute >= jobs.start[:, None]) & (minute + jobs.minutes[:, None] <= jobs.end[:, None])
        self.barred = np.where(begins, 0.0, -np.inf)
        # visits that take equally long: their rows, pieces of the night in which the same ones may begin,
        # the piece of every minute, and what may not begin in each piece
        self._alike: list[tuple[Ints, Ints, Ints, Floats]] = []
        for minutes in self.lasting:
            rows = np.flatnonzero(jobs.minutes == minutes)
            change = (begins[rows, 1:] != begins[rows, :-1]).any(axis=0)
            first = np.flatnonzero(np.concatenate([[True], change]))
            piece = np.cumsum(np.concatenate([[0], change]))
            self._alike.append((rows, first, piece, self.barred[rows][:, first]))

    def steps(self, gain: Floats) -> Floats:
        """Return the best gain begun in each minute, by how long it takes. (years, lasting, minutes)"""
        found = np.empty((len(gain), len(self.lasting), self.length))
        for place, (rows, _, piece, barred) in enumerate(self._alike):
            found[:, place] = (gain[:, rows, None] + barred).max(axis=1)[:, piece]
        return found

    def ahead(self, steps: Floats) -> Floats:
        """Return the best sum of gains from each minute on. (years, minutes and the longest visit's)"""
        ahead = np.zeros((len(steps), self.length + self.jobs.longest + 1))
        # within a block no visit ends, so that its minutes do not wait for each other
        for last in range(self.length, 0, -self.lasting[0]):
            first = max(0, last - self.lasting[0])
            best = np.full((len(steps), last - first), -np.inf)
            for place, minutes in enumerate(self.lasting):
                np.maximum(
                    best, steps[:, place, first:last] + ahead[:, first + minutes : last + minutes], out=best
                )
            np.maximum(best[:, -1], ahead[:, last], out=best[:, -1])
            ahead[:, first:last] = np.maximum.accumulate(best[:, ::-1], axis=1)[:, ::-1]
        return ahead

    def ahead_once(self, gain: Floats, once: Ints) -> Floats:
        """Return the best sum of gains from each minute on, some targets visited once at most.

        Parameters
        ----------
        gain : Gain of each row. (years, rows)
        once : These targets, -1 for none. (years, some)

        Returns
        -------
        floats
            By which of them were visited before, as bits. (years, 2 ** some, minutes and the longest visit's)
        """
        years, some = once.shape
        its = self.jobs.target == once[:, :, None]
        free = self.steps(np.where(its.any(axis=1), -np.inf, gain))
        own = [self.steps(np.where(its[:, bit], gain, -np.inf)) for bit in range(some)]
        ahead = np.zeros((years, 1 << some, self.length + self.jobs.longest + 1))
        halves = [ahead.reshape(years, -1, 2, 1 << bit, ahead.shape[2]) for bit in range(some)]
        for last in range(self.length, 0, -self.lasting[0]):
            now = slice(max(0, last - self.lasting[0]), last)
            best = np.full((years, 1 << some, now.stop - now.start), -np.inf)
            for place, minutes in enumerate(self.lasting):
                then = slice(now.start + minutes, last + minutes)
                np.maximum(best, free[:, None, place, now] + ahead[:, :, then], out=best)
                for bit in range(some):
                    step = own[bit][:, place, now]
                    if np.isfinite(step).any():
                        half = best.reshape(years, -1, 2, 1 << bit, best.shape[2])[:, :, 0]
                        np.maximum(half, step[:, None, None] + halves[bit][:, :, 1, :, then], out=half)
            np.maximum(best[:, :, -1], ahead[:, :, last], out=best[:, :, -1])
            ahead[:, :, now] = np.maximum.accumulate(best[:, :, ::-1], axis=2)[:, :, ::-1]
        return ahead

    def behind(self, steps: Floats) -> Floats:
        """Return the best sum of gains until each minute. (years, minutes)"""
        mirrored = np.full(steps.shape, -np.inf)
        for place, minutes in enumerate(self.lasting):
            if minutes <= self.length:
                mirrored[:, place, : self.length - minutes + 1] = steps[:, place, self.length - minutes :: -1]
        return self.ahead(mirrored)[:, self.length :: -1]

    def around(self, steps: Floats, ahead: Floats) -> Floats:
        """Return the best that may stand before and after a visit in each row. (years, rows)"""
        found, behind = np.full((len(steps), len(self.jobs.row)), -np.inf), self.behind(steps)
        for minutes, (rows, first, _, barred) in zip(self.lasting, self._alike, strict=True):
            both = behind[:, : self.length] + ahead[:, minutes : minutes + self.length]
            piece = np.maximum.reduceat(both, first, axis=1)
            found[:, rows] = (piece[:, None, :] + barred).max(axis=2)
        return found

    def paths(self, gain: Floats, ahead: Floats) -> tuple[Ints, Ints]:
        """Return years and rows of the best walks."""
        falls = np.where(
            ahead[:, : self.length] > ahead[:, 1 : self.length + 1], np.arange(self.length), self.length
        )
        begin = np.minimum.accumulate(falls[:, ::-1], axis=1)[:, ::-1]
        years, rows = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
        year, minute = np.arange(len(gain)), np.zeros(len(gain), np.int64)
        while len(year):
            minute = begin[year, minute]
            some = minute < self.length
            year, minute = year[some], minute[some]
            worth = gain[year] + self.barred.T[minute]
            worth += ahead[year[:, None], minute[:, None] + self.jobs.minutes]
            row = worth.argmax(axis=1)
            years.append(year)
            rows.append(row)
            minute = minute + self.jobs.minutes[row]
            some = minute < self.length
            year, minute = year[some], minute[some]
        return np.concatenate(years), np.concatenate(rows)


def knapsack_prices(jobs: Jobs, value: Floats, targets: int) -> Floats:
    """Return the prices of the night as a knapsack: what a target's best row brings above its minutes' rate.

    By year. (years, targets)

    References
    ----------
    G. B. Dantzig, "Discrete-variable extremum problems", Operations Research 5 (1957) 266, from memory.
    """
    dearest, minutes = np.zeros((targets, len(value))), np.ones(targets)
    np.maximum.at(dearest, jobs.target, value.T)
    minutes[jobs.target] = jobs.minutes
    # in rows, so that sums over targets are taken in the same order however many years there are
    dearest = np.ascontiguousarray(dearest.T)
    order = np.argsort(-dearest / minutes, axis=1, kind="stable")
    usable = np.isfinite(value)
    room = np.where(usable, jobs.end, 0).max(axis=1) - np.where(usable, jobs.start, 10**6).min(axis=1)
    over = np.cumsum(minutes[order], axis=1) > room[:, None]
    last = order[np.arange(len(value)), over.argmax(axis=1)]
    rate = np.where(over.any(axis=1), dearest[np.arange(len(value)), last] / minutes[last], 0.0)
    prices: Floats = np.maximum(dearest - rate[:, None] * minutes, 0.0)
    return prices


def hopeful(priced: Priced, tiny: Floats) -> Priced:
    """Return the nights without the rows that cannot lie in a better programme than the one found."""
    gain, walk = priced.gain, Walk(priced.jobs)
    through = walk.around(walk.steps(gain), priced.ahead) + gain
    better = through + priced.price.sum(axis=1, keepdims=True) > (priced.least + tiny)[:, None]
    return priced._replace(value=np.where(better, priced.value, -np.inf))
