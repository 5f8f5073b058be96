"""Which rows the linear programme starts from."""

from __future__ import annotations

import numpy as np

from ..domain.opportunity import Floats, Ints
from .intervals import Windows
from .problem import Problem


def first_columns(problem: Problem, windows: Windows, most: int = 8) -> Ints:
    """Return the best few rows of every target at rough prices: a better start than by value alone."""
    if not len(windows.rows):
        return windows.rows
    gain = windows.value - _rough_prices(problem, windows)[windows.night] * windows.minutes
    return best_columns(problem, windows, np.arange(len(gain)), gain, most)


def best_columns(problem: Problem, windows: Windows, among: Ints, gain: Floats, most: int) -> Ints:
    """Return the rows of highest `gain` among some, `most` for each visit wanted of a target, sorted."""
    order = among[np.lexsort((among, -gain[among], windows.target[among]))]
    target = windows.target[order]
    place = np.arange(len(order)) - np.searchsorted(target, target)
    return np.sort(order[place < most * np.minimum(problem.visits[target], 4)])


def _rough_prices(problem: Problem, windows: Windows, steps: int = 60) -> Floats:
    """Prices of the nights' minutes at which the targets' best rows about fill the nights, by subgradient."""
    nights = len(problem.night_day)
    order = np.argsort(windows.target, kind="stable")
    target, night, minutes = windows.target[order], windows.night[order], windows.minutes[order]
    begins = np.flatnonzero(np.diff(target, prepend=-1))
    count = np.diff(np.append(begins, len(target)))
    length = np.ones(nights)
    for each in np.unique(night).tolist():
        mine = windows.of_night(each)
        length[each] = windows.end[mine].max() - windows.start[mine].min()
    stride = 0.02 * float(windows.value.max(initial=0.0)) / 30.0 / length.mean()
    price, mean = np.zeros(nights), np.zeros(nights)
    for step in range(steps):
        gain = windows.value[order] - price[night] * minutes
        best = np.repeat(np.maximum.reduceat(gain, begins), count)
        taken = (gain >= best) & (gain > 0)
        load = np.bincount(night[taken], (minutes * problem.visits[target])[taken], nights)
        price = np.maximum(0.0, price + stride / (1 + step / 8) * (load - length))
        mean += price if step >= steps // 2 else 0.0
    return mean / (steps - steps // 2)
