"""Where searches start: rows for the linear programme, a plan made before for the search."""

from __future__ import annotations

import numpy as np

from ..domain.opportunity import Floats, Ints
from .intervals import Windows
from .neighbourhood import Programme
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


def begun(problem: Problem, windows: Windows, rows: Ints, start_min: Ints) -> Programme:
    """Return visits in these rows at these starts as a programme, without what breaks a rule.

    Whoever comes first in time stays. What must follow soon enough is looked after by `chain.linked`.
    """
    column_of = {row: column for column, row in enumerate(windows.rows.tolist())}
    columns, starts = list[int](), list[int]()
    free_from, left = np.full(len(problem.night_day), -(2**62)), problem.visits.copy()
    last_day = np.full(len(problem.visits), -(2**31))
    out = set[int]()
    for place in np.argsort(start_min, kind="stable").tolist():
        column, start = column_of.get(int(rows[place]), -1), int(start_min[place])
        if column < 0:
            continue
        target, night = int(windows.target[column]), int(windows.night[column])
        end, day = start + int(windows.minutes[column]), int(problem.night_day[night])
        fits = windows.start[column] <= start and end <= windows.end[column] and free_from[night] <= start
        rested = day - last_day[target] >= max(1, int(problem.spacing_days[target]))
        if fits and rested and left[target] > 0 and _may_go_out(problem, out, night):
            out.add(night)
            columns.append(column)
            starts.append(start)
            free_from[night], last_day[target] = end, day
            left[target] -= 1
    return Programme(np.array(columns, np.int64), np.array(starts, np.int64))


def _may_go_out(problem: Problem, out: set[int], night: int) -> bool:
    """Tell whether a night may be spent outside beside those that are."""
    after = out | {night}
    return all(len(after.intersection(limit.nights)) <= limit.most for limit in problem.limits)


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
