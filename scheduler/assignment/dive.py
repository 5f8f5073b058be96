"""A first plan: walk the nights, settle a few at a time, and price the rest anew."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ..domain.opportunity import Floats, Ints
from ..domain.progress import Cancel
from .bound import Bound, bound_at
from .chain import chains_of, on_chains
from .crew import Crew
from .neighbourhood import Neighbourhood, Programme, left_of, nothing
from .relaxation import Relaxation
from .start import best_columns

if TYPE_CHECKING:
    from collections.abc import Callable

    from .problem import Problem

BLOCKS = 8  # the linear programme is rebuilt, smaller, this many times on the way
POOL = 6  # rows of each target a rebuilt linear programme starts from
REFINEMENTS = 1
SLACK = 0.01  # a night settled this near its best will do: what follows mends it
WORK = 0.1
NEAR = 0.001  # rows may lose this part of the dearest row's value against the best elsewhere
LEAN = 0.4  # of a date's sites, one is gone to where the linear programme leans to it as far as this
SPARE = 0.001  # where minutes cost nothing, a visit still counts this part of its value


def dive(
    problem: Problem, bound: Bound, crew: Crew, cancel: Cancel, tell: Callable[[float, Programme], None]
) -> tuple[Programme, float]:
    """Return a plan within every rule, and the linear programme's work."""
    made, work = nothing, 0.0
    # the linear programme knows no chains; a target that needs one is bound to its best at the first prices
    chained = on_chains(bound.windows, chains_of(problem, bound.windows, bound.windows.value - bound.cost))
    steps = _steps(problem, np.unique(bound.windows.night))
    blocks = np.array_split(np.arange(len(steps)), min(BLOCKS, len(steps)))
    for place, block in enumerate(blocks):
        ahead = np.sort(np.concatenate(steps[int(block[0]) :]))
        relaxation = _rest(problem, bound, made, ahead, chained, cancel)
        for step in block.tolist():
            bound = bound_at(relaxation, bound.value)
            admitted = relaxation.model.admitted()
            nights = steps[step].tolist()
            jobs = _dealt(bound, [_night(problem, bound, made, night, admitted) for night in nights])
            for found in crew.settle(jobs):
                made = made.joined(found.made or nothing)
            relaxation.hold(steps[step], made.on(bound.windows, steps[step]).columns)
        work += relaxation.work
        bound = bound_at(relaxation, bound.value)
        tell((place + 1) / len(blocks), made)
    return made, work


def _steps(problem: Problem, nights: Ints) -> list[Ints]:
    """The nights in pairs half a season apart, which share few targets; one by one under limits."""
    if problem.limits or len(nights) < 4:
        return [nights[i : i + 1] for i in range(len(nights))]
    half = (len(nights) + 1) // 2
    return [nights[i::half] for i in range(half)]


def _dealt(bound: Bound, jobs: list[Neighbourhood]) -> list[Neighbourhood]:
    """Deal each target to the one night of the step that the linear programme leans to."""
    if len(jobs) == 1:
        return jobs
    w = bound.windows
    lean = np.zeros((2, int(w.target.max()) + 1))
    for mine, job in zip(lean, jobs, strict=True):
        np.add.at(mine, w.target[job.columns], bound.share[job.columns] + 1e-6)
    first, both = lean[0] >= lean[1], np.zeros(lean.shape[1], np.bool_)
    both[np.intersect1d(jobs[0].problem.chained, w.target)] = True  # their chains keep every rule
    own = (first | both, ~first | both)
    return [
        replace(job, columns=job.columns[mine[w.target[job.columns]]])
        for mine, job in zip(own, jobs, strict=True)
    ]


def _rest(
    problem: Problem, bound: Bound, made: Programme, ahead: Ints, among: np.ndarray, cancel: Cancel
) -> Relaxation:
    """The linear programme over the nights ahead and some of the rows, begun from the present prices."""
    left, columns = left_of(problem, bound.windows, made, ahead)
    columns = columns[among[columns]]
    gain = bound.windows.value - bound.cost
    first = np.union1d(
        best_columns(left, bound.windows, columns, gain, POOL), columns[bound.share[columns] > 1e-6]
    )
    cuts = [cut for cut in bound.cuts if cut.night in ahead]
    odds = np.ones(len(problem.night_day))
    relaxation = Relaxation(left, bound.windows, odds, columns, first, cuts, cancel)
    for _ in range(REFINEMENTS):
        if not relaxation.refine():
            break
    return relaxation


def _night(
    problem: Problem, bound: Bound, made: Programme, night: int, admitted: np.ndarray
) -> Neighbourhood:
    """One night, in which a visit counts what it is worth above its worth elsewhere."""
    w = bound.windows
    guided: Floats = np.zeros(len(problem.opportunities))
    guided[w.rows] = np.maximum(w.value - bound.keep, 0.0) + SPARE * w.value
    loss = bound.keep + bound.cost - w.value
    left, columns = left_of(problem, w, made, np.array([night]))
    if problem.dated and bound.out[night] < LEAN:
        columns = columns[:0]
    good = (loss[columns] < NEAR * w.value.max(initial=0.0)) | (bound.share[columns] > 1e-6)
    cuts = tuple(cut for cut in bound.cuts if cut.time and cut.night == night)
    return Neighbourhood(left, columns[good & admitted[columns]], guided, nothing, cuts, WORK, SLACK)
