"""Sharpen the bound: where no one programme of a night is worth what the fractions promise, say so."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ..domain.opportunity import Floats
from .bound import bound_at, value_at_prices
from .intervals import Cut
from .neighbourhood import Neighbourhood, nothing

if TYPE_CHECKING:
    from .bound import Bound
    from .crew import Crew
    from .problem import Problem
    from .relaxation import Relaxation

WORK = 0.1  # most solver work for one night
REFINEMENTS = 4
TRIFLE = 1e-5  # of the dearest row
VAIN = 6  # so many nights in a row without a cut end the sweep


def sharpen(problem: Problem, relaxation: Relaxation, value: float, crew: Crew, most: float) -> Bound:
    """Return the relaxation with programme cuts, within about `most` seconds of work.

    Notes
    -----
    At the present prices a visit on a night counts what it is worth above its worth elsewhere. The exact
    one-night problem says how much one programme can gather so; the fractions may not gather more. When no
    night's fractions do, the bound is the one that column generation over whole programmes would give. A
    charged night gathers as far as it is spent outside; what that costs the linear programme pays.

    References
    ----------
    E. A. Boyd, "Fenchel cutting planes for integer programs", Operations Research 42 (1994) 53,
    doi:10.1287/opre.42.1.53.
    """
    spent, begun = 0.0, relaxation.work
    problem = replace(problem, outing_cost=np.zeros(len(problem.night_day)))
    while spent + relaxation.work - begun < most:
        before = crew.work
        cuts = _programme_cuts(
            problem, bound_at(relaxation, value), crew, most - spent - relaxation.work + begun
        )
        spent += crew.work - before
        if not cuts:
            break
        relaxation.model.add_cuts(cuts)
        relaxation.solve()
        value = min(value, value_at_prices(relaxation))
        for _ in range(REFINEMENTS):
            if not relaxation.refine():
                break
            value = min(value, value_at_prices(relaxation))
    return bound_at(relaxation, value)


def _programme_cuts(problem: Problem, bound: Bound, crew: Crew, most: float) -> list[Cut]:
    """The broken programme cuts of the nights used in fractions, dearest first, while work lasts."""
    w, begun = bound.windows, crew.work
    counts: Floats = np.zeros(len(problem.opportunities))
    counts[w.rows] = np.maximum(w.value - bound.keep, 0.0)
    counts[counts < TRIFLE * w.value.max()] = 0.0  # the linear programme's numbers stay of one size
    promise = np.bincount(w.night, counts[w.rows] * bound.share, len(problem.night_day))
    parts = (bound.share > 1e-4) & (bound.share < 1 - 1e-4)
    nights = np.unique(w.night[parts])
    nights = nights[np.argsort(-promise[nights], kind="stable")]
    cuts, vain = [], 0
    for pair in (nights[i : i + 2].tolist() for i in range(0, len(nights), 2)):
        if crew.work - begun >= most or vain >= VAIN:
            break
        vain += len(pair)
        for night, found in zip(
            pair, crew.settle([_night(problem, bound, counts, n) for n in pair]), strict=True
        ):
            if promise[night] > found.limit * bound.out[night] * (1 + 1e-4):
                mine = w.rows[w.of_night(night)]
                most_of_one = float(counts[mine].max())
                cuts.append(Cut(night, counts[mine] / most_of_one, found.limit / most_of_one))
                vain = 0
    return cuts


def _night(problem: Problem, bound: Bound, counts: Floats, night: int) -> Neighbourhood:
    mine = bound.windows.of_night(night)
    columns = np.arange(mine.start, mine.stop)
    columns = columns[counts[bound.windows.rows[columns]] > 0]
    cuts = tuple(cut for cut in bound.cuts if cut.time and cut.night == night)
    return Neighbourhood(problem, columns, counts, nothing, cuts, WORK)
