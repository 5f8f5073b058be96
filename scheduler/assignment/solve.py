"""Assign a season: bound it, dive to a first plan, improve it a few nights at a time."""

from __future__ import annotations

import numpy as np

from ..domain.checks import within
from ..domain.opportunity import Ints
from ..domain.progress import Cancel, Progress, Report, ignore_progress, never_cancelled
from .bound import bound_at, relax
from .crew import Crew
from .dive import dive
from .improve import Improver
from .neighbourhood import Programme
from .problem import Assignment, Problem, Stage
from .relaxation import Relaxation
from .sharpen import sharpen
from .start import begun

CLOSED = 1e-4  # a proven gap this small ends the search
SHARPENING = (
    0.15  # part of the time spent on a sharper bound, once the gap is NEAR closed or half of it is over
)
NEAR = 4e-3
BOUND, DIVE = "proving how good the year can be", "a first plan, night by night"
SHARPEN, IMPROVE = "sharpening the proof", "improving the plan"
ROUNDING = 1e-6  # a bound below this part of the dearest row is nothing but rounding
LEAST = 0.2  # part of the time that improving gets even where bound and dive took all of it


def assign(
    problem: Problem,
    *,
    seed: int = 0,
    seconds: float = 10.0,
    begin: tuple[Ints, Ints] | None = None,
    report: Report = ignore_progress,
    cancel: Cancel = never_cancelled,
) -> Assignment:
    """Return an assignment within every rule, every night in walkable order, and a bound on the best.

    Parameters
    ----------
    seed : Draws the neighbourhoods. The same problem, seed and seconds give the same assignment.
    seconds : How long to search, about; counted in work done, not by the clock, so that the outcome does
        not depend on the machine. Less is used where the gap closes or nothing more is won. [s]
    begin : Rows and starts of a plan to begin with, instead of one made from nothing; what of it breaks a
        rule is left out. int, (visits,) each, [min]
    report : Hears of the stages `BOUND`, `DIVE`, `SHARPEN` and `IMPROVE`, in words.

    Raises
    ------
    Cancelled
        When asked to stop, within a second.
    """
    within("seconds", seconds, 0.0, 86400.0)
    if not len(problem.usable):
        return Assignment(np.zeros(0, np.int64), np.zeros(0, np.int64), 0.0, 0.0)
    asked, problem = problem, problem.favoured
    random = np.random.default_rng(seed)
    report(Progress(BOUND, 0.06))
    relaxation, value = relax(problem, np.ones(len(problem.night_day)), cancel)
    bound, work = bound_at(relaxation, value), relaxation.work
    proven, more = _plain_bound(asked, relaxation, value, cancel)
    work += more
    stages = [Stage("bound", 0.0, proven, work)]
    report(Progress(DIVE, 0.1, 0.0, proven))

    def worth(made: Programme) -> float:
        return asked.worth_of(bound.windows.rows[made.columns])

    def tell(done: float, made: Programme) -> None:
        report(Progress(DIVE, 0.1 + 0.2 * done, worth(made), proven))

    def stage(name: str) -> Stage:
        return Stage(name, worth(improver.best), min(proven, improver.value), work + crew.work)

    with Crew(bound.windows, random, cancel) as crew:
        if begin is None:
            first, dived = dive(problem, bound, crew, cancel, tell)
        else:
            first, dived = begun(problem, bound.windows, *begin), 0.0
        improver = Improver(problem, bound, first, crew, random)
        work += dived
        stages.append(stage("dive"))
        before, sharp = crew.work, False
        most = max(seconds - work - before, LEAST * seconds)

        def now(words: str) -> None:
            done = min(1.0, (crew.work - before) / most)
            report(Progress(words, 0.3 + 0.7 * done, *stage("")[1:3]))

        while crew.work - before < most and improver.gap > CLOSED:
            late = crew.work - before > most / 2
            if not sharp and (improver.gap < NEAR or improver.spent or late):
                now(SHARPEN)
                work -= relaxation.work
                improver.sharpened(sharpen(problem, relaxation, value, crew, SHARPENING * seconds))
                better, more = _plain_bound(asked, relaxation, improver.value, cancel)
                work, sharp, proven = work + relaxation.work + more, True, min(proven, better)
                stages.append(stage("sharpen"))
            elif improver.spent:
                break
            else:
                improver.turn()
            now(IMPROVE)
        stages.append(stage("improve"))
    return _assignment(asked, improver, min(proven, improver.value), tuple(stages))


def _plain_bound(asked: Problem, relaxation: Relaxation, value: float, cancel: Cancel) -> tuple[float, float]:
    """Return the bound on the worth asked about, without what is favoured in the search, and the work.

    What is favoured makes nothing worth less, so that the search's own bound `value` holds too; a relaxation
    without it, begun with the rows and cuts of the search's, proves a closer one.
    """
    same = np.array_equal(asked.usable, relaxation.windows.rows)  # else the cuts may speak of other rows
    if not asked.favour.any() or not same:
        return value, 0.0
    plain, proven = relax(asked, np.ones(len(asked.night_day)), cancel, like=relaxation)
    return min(value, proven), plain.work


def _assignment(problem: Problem, improver: Improver, bound: float, stages: tuple[Stage, ...]) -> Assignment:
    windows, best = improver.windows, improver.best
    order = np.lexsort((best.start_min, windows.night[best.columns]))
    rows = windows.rows[best.columns[order]]
    objective = problem.worth_of(rows)
    if objective < 0.0:  # worth going out for only where what is favoured counts more: better stay at home
        return Assignment(rows[:0], order[:0], 0.0, max(bound, 0.0), stages)
    bound = max(bound, objective)
    if bound < ROUNDING * float(windows.value.max()):
        bound = objective  # else staying at home would be as far as can be from a best plan worth nothing
    return Assignment(rows, best.start_min[order], objective, bound, stages)
