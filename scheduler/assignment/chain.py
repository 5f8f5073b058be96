"""Visits that must follow one another soon enough: the best such chain, and a plan's broken ones mended."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..domain.opportunity import Floats, Ints
from .intervals import Windows
from .neighbourhood import Programme
from .problem import Problem


class Chain(NamedTuple):
    """Nights on which one target is visited, and what that gains."""

    gain: float
    nights: tuple[int, ...]


def best_chain(problem: Problem, target: int, gain: Floats) -> Chain:
    """Return the most a target can gain from one visit or more, within its visits and spacings. Exact.

    Parameters
    ----------
    gain : Of a visit of the target on each night; minus infinity where it cannot be made. (nights,)

    Notes
    -----
    With `V[k, n]` the most gained after a visit on night n with k visits left, none or more of them made::

        V[0, n] = 0,   V[k, n] = max(0, max over the nights m allowed next of gain[m] + V[k-1, m])

    Visits in between may lose, if they link those that gain. Where visits stand before the season, the first
    has to follow the last of them soon enough; other visits that stand are left out of account, so that the
    gain may come out too large, never too small.
    """
    open_nights = np.flatnonzero(np.isfinite(gain))
    if not len(open_nights) or problem.visits[target] < 1:
        return Chain(0.0, ())
    here, day = gain[open_nights], problem.night_day[open_nights]
    apart = day[None, :] - day[:, None]
    least = max(1, int(problem.spacing_days[target]))
    allowed = (apart >= least) & (apart <= problem.longest_spacing_days[target])
    value, then = np.zeros(len(day)), list[Ints]()
    for _ in range(int(problem.visits[target]) - 1):
        after = np.where(allowed, here + value, -np.inf)
        following = after.argmax(axis=1)
        best = after[np.arange(len(day)), following]
        then.append(np.where(best > 0, following, -1))
        value = np.maximum(best, 0.0)
    total = np.where(day <= _latest_first(problem, target), here + value, -np.inf)
    first = int(total.argmax())
    if not np.isfinite(total[first]):
        return Chain(0.0, ())
    places = [first]
    while then and (place := int(then.pop()[places[-1]])) >= 0:
        places.append(place)
    return Chain(float(total[first]), tuple(open_nights[places].tolist()))


def _latest_first(problem: Problem, target: int) -> float:
    """Return the day by which the first visit must be made, after visits that stand before the season."""
    held = problem.held_days.get(target, ())
    if not held or max(held) >= problem.night_day[0]:
        return np.inf
    return float(max(held) + problem.longest_spacing_days[target])


def chains_of(problem: Problem, windows: Windows, gain: Floats) -> dict[int, Chain]:
    """Return the best chain of each target whose visits must follow soon enough.

    `gain` : Of each usable row. (usable,)
    """
    nights = len(problem.night_day)
    best = np.full((len(problem.visits), nights), -np.inf)
    np.maximum.at(best, (windows.target, windows.night), gain)
    return {target: best_chain(problem, target, best[target]) for target in problem.chained.tolist()}


def on_chains(windows: Windows, chains: dict[int, Chain]) -> np.ndarray:
    """Tell which usable rows lie on their target's chain; rows of a target without one all do. (usable,)"""
    on = np.ones(len(windows.rows), np.bool_)
    for target, chain in chains.items():
        on &= (windows.target != target) | np.isin(windows.night, chain.nights)
    return on


def linked(problem: Problem, windows: Windows, made: Programme) -> Programme:
    """Return `made` without the visits that follow too late: of each target the run worth most is kept, or
    those that link up with what stands.
    """  # noqa: D205
    kept = np.ones(len(made.columns), np.bool_)
    target, day = windows.target[made.columns], problem.night_day[windows.night[made.columns]]
    for each in problem.chained.tolist():
        mine = np.flatnonzero(target == each)
        mine = mine[np.argsort(day[mine], kind="stable")]
        if held := problem.held_days.get(each):
            loose = _loose(day[mine].tolist(), held, int(problem.longest_spacing_days[each]))
            kept[mine[loose]] = False
            continue
        breaks = np.flatnonzero(np.diff(day[mine]) > problem.longest_spacing_days[each]) + 1
        runs = np.split(mine, breaks)
        best = max(runs, key=lambda run: float(windows.value[made.columns[run]].sum()))
        kept[np.setdiff1d(mine, best)] = False
    return Programme(made.columns[kept], made.start_min[kept])


def _loose(days: list[int], held: tuple[int, ...], longest_days: int) -> list[int]:
    """Return the places of the visits, by rising day, that must go so that all link up with those held."""
    left, gone = sorted({*days, *held}), list[int]()
    while True:
        gaps = [(a, b) for a, b in pairwise(left) if b - a > longest_days and not (a in held and b in held)]
        if not gaps:
            return gone
        a, b = gaps[0]
        lost = a if b in held else b
        left.remove(lost)
        gone.append(days.index(lost))
