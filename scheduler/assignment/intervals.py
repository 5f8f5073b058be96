"""How much can be seen between two moments of a night: inequalities every programme obeys.

Every visit is counted with the move that follows it, and every window ends that much later; then visits
may touch, and between `a` and `b` there is room for `b - a` minutes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np

from ..domain.opportunity import Floats, Ints
from .problem import Problem

Minutes: TypeAlias = Ints | np.int64


@dataclass(frozen=True, eq=False)
class Windows:
    """The usable rows of a problem, by night, moves counted in.

    Attributes
    ----------
    rows : Position in the problem's opportunities. int, (usable,)
    target, night : int, (usable,)
    start, end : The window; the end includes the move after the visit. int, (usable,) [min]
    minutes : Length of the visit and the move after it. int, (usable,) [min]
    value : (usable,)
    first : The rows of night n are first[n] to first[n + 1]. int, (nights + 1,)
    """

    rows: Ints
    target: Ints
    night: Ints
    start: Ints
    end: Ints
    minutes: Ints
    value: Floats
    first: Ints

    def of_night(self, night: int) -> slice:
        """Return where the night's rows stand."""
        return slice(int(self.first[night]), int(self.first[night + 1]))


def windows_of(problem: Problem) -> Windows:
    """Return the usable rows of `problem` as columns."""
    o, rows = problem.opportunities, problem.usable
    target, night = o.target[rows], o.night[rows]
    return Windows(
        rows, target, night, o.start_min[rows], o.end_min[rows] + problem.move_min,
        problem.minutes[target] + problem.move_min, problem.value[rows],
        np.searchsorted(night, np.arange(o.nights + 1)).astype(np.int64),
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Cut:
    """An inequality `coefficient @ x <= room` that every programme `x` of a night obeys.

    Attributes
    ----------
    coefficient : By row of the night. (rows of the night,)
    time : Whether it is about the night's minutes, rather than one target's visits.
    """

    night: int
    coefficient: Floats
    room: float
    time: bool = True


def overlap_min(a: Minutes, b: Minutes, start: Minutes, end: Minutes, minutes: Minutes) -> Ints:
    """Return the least time a visit spends between `a` and `b`, pushed to either end. [min], broadcast

    References
    ----------
    J. Erschler, P. Lopez, C. Thuriot, "Scheduling under time and resource constraints" (1991): energetic
    reasoning.

    Examples
    --------
    >>> overlap_min(np.int64(10), np.int64(40), np.int64(0), np.int64(45), np.int64(24))
    np.int64(14)
    """
    left, right = start + minutes - a, b - (end - minutes)
    shortest = np.minimum(np.minimum(left, right), np.minimum(minutes, b - a))
    least: Ints = np.maximum(shortest, 0)
    return least


@lru_cache(maxsize=100_000)
def _reachable(lengths: tuple[int, ...], most: int) -> tuple[int, ...]:
    """For each room up to `most`, the longest sum of some of `lengths` (each any number of times)."""
    reach, mask = 1, (1 << (most + 1)) - 1
    for length in lengths:
        step = length
        while step <= most:
            reach |= (reach << step) & mask
            step *= 2
    best, table = 0, []
    for room in range(most + 1):
        if reach >> room & 1:
            best = room
        table.append(best)
    return tuple(table)


def reachable_min(lengths: Ints, most: int) -> Ints:
    """Return for each room 0..most how much of it visits of these lengths can fill at best. (most + 1,) [min]

    Examples
    --------
    >>> reachable_min(np.array([24]), 50)[[23, 24, 47, 48, 50]]
    array([ 0, 24, 24, 48, 48])
    """
    return np.array(_reachable(tuple(np.unique(lengths).tolist()), most), dtype=np.int64)


def whole_night_cut(windows: Windows, night: int) -> Cut:
    """Return the cut that the night's visits fill no more than the night."""
    mine = windows.of_night(night)
    minutes = windows.minutes[mine]
    length = int(windows.end[mine].max() - windows.start[mine].min())
    return Cut(night, minutes.astype(np.float64), float(reachable_min(minutes, length)[length]))


def violated_cuts(windows: Windows, night: int, x: Floats, most: int = 3, excess: float = 0.005) -> list[Cut]:
    """Return the cuts of a night that `x` breaks worst, at most `most` of either kind.

    Parameters
    ----------
    x : How far each row of the night is used. (rows of the night,) [0..1]
    excess : Least breach worth a cut, as a fraction of the room.

    Notes
    -----
    Two kinds: each visit's least overlap with the stretch; and visits wholly inside it, where the stretch
    holds no more than visits of these lengths can fill.
    """
    mine = windows.of_night(night)
    start, end, minutes = windows.start[mine], windows.end[mine], windows.minutes[mine]
    used = np.flatnonzero(x > 1e-6)
    a, b = np.unique(start[used])[:, None], np.unique(end[used])[None, :]
    room = b - a
    wide = room > 0
    least = overlap_min(a[..., None], b[..., None], start[used], end[used], minutes[used])
    load = least @ x[used]
    full = (minutes[used] * x[used])[None, :]
    inside = ((start[used] >= a) * full) @ (end[used][:, None] <= b)
    table = reachable_min(minutes[used], int(max(room.max(initial=0), 0)))
    filled = table[np.maximum(room, 0)]
    cuts = []
    for i, j in _worst(load / np.maximum(room, 1) - 1, wide, most, excess):
        coefficient = overlap_min(a[i, 0], b[0, j], start, end, minutes)
        cuts.append(Cut(night, coefficient.astype(np.float64), float(room[i, j])))
    for i, j in _worst(inside / np.maximum(filled, 1) - 1, wide & (inside > 0), most, excess):
        within = (start >= a[i, 0]) & (end <= b[0, j])
        space = int(reachable_min(minutes[within], int(room[i, j]))[room[i, j]])
        if (inside[i, j] > space * (1 + excess)) and space < room[i, j]:
            cuts.append(Cut(night, np.where(within, minutes, 0).astype(np.float64), float(space)))
    return cuts


def pair_cuts(windows: Windows, night: int, x: Floats, out: float) -> list[Cut]:
    """Return the cuts that no target is visited more than once on a night, and only if it is spent outside,
    where `x` breaks them: `out` is how far the night is spent outside. [0..1]
    """  # noqa: D205
    target = windows.target[windows.of_night(night)]
    made = np.bincount(target, x)
    broken = np.flatnonzero(made > out + 1e-3).tolist()
    return [Cut(night, (target == each).astype(np.float64), 1.0, time=False) for each in broken]


def _worst(breach: Floats, allowed: np.ndarray, most: int, excess: float) -> list[tuple[int, int]]:
    breach = np.where(allowed, breach, -1.0)
    order = np.argsort(-breach, axis=None, kind="stable")[:most]
    return [
        (int(i), int(j))
        for i, j in zip(*np.unravel_index(order, breach.shape), strict=True)
        if breach[i, j] > excess
    ]
