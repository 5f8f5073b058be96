"""Assign a season: bound it, dive to a first plan, improve it a few nights at a time."""

from __future__ import annotations

import numpy as np

from ..domain.checks import within
from ..domain.progress import Cancel, Progress, Report, ignore_progress, never_cancelled
from .bound import bound_at, relax
from .crew import Crew
from .dive import dive
from .improve import Improver
from .neighbourhood import Programme
from .problem import Assignment, Problem, Stage
from .sharpen import sharpen

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
    report: Report = ignore_progress,
    cancel: Cancel = never_cancelled,
) -> Assignment:
    """Return an assignment within every rule, every night in walkable order, and a bound on the best.

    Parameters
    ----------
    seed : Draws the neighbourhoods. The same problem, seed and seconds give the same assignment.
    seconds : How long to search, about; counted in work done, not by the clock, so that the outcome does
        not depend on the machine. Less is used where the gap closes or nothing more is won. [s]
    report : Hears of the stages `BOUND`, `DIVE`, `SHARPEN` and `IMPROVE`, in words.

    Raises
    ------
    Cancelled
        When asked to stop, within a second.
    """
    within("seconds", seconds, 0.0, 86400.0)
    if not len(problem.usable):
        return Assignment(np.zeros(0, np.int64), np.zeros(0, np.int64), 0.0, 0.0)
    random = np.random.default_rng(seed)
    report(Progress(BOUND, 0.06))
    relaxation, value = relax(problem, np.ones(len(problem.night_day)), cancel)
    bound, work = bound_at(relaxation, value), relaxation.work
    stages = [Stage("bound", 0.0, value, work)]
    report(Progress(DIVE, 0.1, 0.0, value))

    def tell(done: float, made: Programme) -> None:
        report(Progress(DIVE, 0.1 + 0.2 * done, problem.worth_of(bound.windows.rows[made.columns]), value))

    with Crew(bound.windows, random, cancel) as crew:
        first, dived = dive(problem, bound, crew, cancel, tell)
        improver = Improver(problem, bound, first, crew, random)
        work += dived
        stages.append(Stage("dive", improver.objective, value, work + crew.work))
        begun, sharp = crew.work, False
        most = max(seconds - work - begun, LEAST * seconds)

        def now(stage: str) -> None:
            done = min(1.0, (crew.work - begun) / most)
            report(Progress(stage, 0.3 + 0.7 * done, improver.objective, improver.value))

        while crew.work - begun < most and improver.gap > CLOSED:
            late = crew.work - begun > most / 2
            if not sharp and (improver.gap < NEAR or improver.spent or late):
                now(SHARPEN)
                before = relaxation.work
                improver.sharpened(sharpen(problem, relaxation, value, crew, SHARPENING * seconds))
                work, sharp = work + relaxation.work - before, True
                stages.append(Stage("sharpen", improver.objective, improver.value, work + crew.work))
            elif improver.spent:
                break
            else:
                improver.turn()
            now(IMPROVE)
        stages.append(Stage("improve", improver.objective, improver.value, work + crew.work))
    return _assignment(problem, improver, tuple(stages))


def _assignment(problem: Problem, improver: Improver, stages: tuple[Stage, ...]) -> Assignment:
    windows, best = improver.windows, improver.best
    order = np.lexsort((best.start_min, windows.night[best.columns]))
    rows = windows.rows[best.columns[order]]
    objective = problem.worth_of(rows)
    bound = max(improver.value, objective)
    if bound < ROUNDING * float(windows.value.max()):
        bound = objective  # else staying at home would be as far as can be from a best plan worth nothing
    return Assignment(rows, best.start_min[order], objective, bound, stages)
