"""Assign a season: bound, dive, then improve a few nights at a time. Start reading at `assign`."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from ..domain.opportunity import Floats, Ints
from ..domain.progress import Cancel, Progress, Report, ignore_progress, never_cancelled
from ..errors import Cancelled
from .bound import Bound, Relaxation, relax
from .neighbourhood import Neighbourhood, Programme, Search, left_of, nothing
from .problem import Assignment, Problem, Stage

CLOSED = 1e-4  # a proven gap this small ends the search
DIVE_NIGHTS = 3
DIVE_WORK = 0.15
FREE = 4


def assign(
    problem: Problem,
    *,
    seed: int = 0,
    seconds: float = 10.0,
    report: Report = ignore_progress,
    cancel: Cancel = never_cancelled,
) -> Assignment:
    """Return an assignment within every rule, and how far it can be from the best."""
    road = _Road(problem, np.random.default_rng(seed), report, cancel)
    relaxation, bound = road.bound()
    road.dive(relaxation)
    road.improve(bound, seconds)
    return road.assignment()


@dataclass
class _Road:
    problem: Problem
    random: np.random.Generator
    report: Report
    cancel: Cancel
    best: Programme = nothing
    value: float = np.inf
    work: float = 0.0
    stages: list[Stage] = field(default_factory=list)

    def bound(self) -> tuple[Relaxation, Bound]:
        relaxation, bound = relax(self.problem, np.ones(len(self.problem.night_day)), self.cancel)
        self.value = bound.value
        self.windows = bound.windows
        self._tell("bound", 0.1)
        self._end("bound")
        return relaxation, bound

    def objective(self) -> float:
        return float(self.windows.value[self.best.columns].sum())

    def gap(self) -> float:
        return (self.value - self.objective()) / max(self.value, 1e-12)

    def dive(self, relaxation: Relaxation) -> None:
        w = self.windows
        nights = np.unique(w.night)
        near = 0.001 * w.value.max(initial=0.0)
        for i in range(0, len(nights), DIVE_NIGHTS):
            freed = nights[i : i + DIVE_NIGHTS]
            bound = relaxation.bound(0.0)
            guided = np.zeros(len(self.problem.opportunities))
            guided[w.rows] = np.maximum(w.value - bound.keep, 0.0) + 1e-3 * w.value
            good = (w.value - bound.cost - bound.keep > -near) | (bound.share > 1e-6)
            left, columns = left_of(self.problem, w, self.best, freed)
            columns = columns[good[columns] & (guided[w.rows[columns]] > 0)]
            if len(columns):
                self._settle([self._about(left, columns, guided, nothing, bound, freed, DIVE_WORK)], [freed], False)
            relaxation.hold(freed, self.best.on(w, freed).columns)
        self._tell("dive", 0.3)
        self._end("dive")

    def _about(self, left: Problem, columns: Ints, value: Floats, hint: Programme, bound: Bound, freed: Ints, work: float) -> Neighbourhood:
        cuts = tuple(cut for cut in bound.cuts if cut.night in freed)
        return Neighbourhood(left, columns, value, hint, cuts, work)

    def improve(self, bound: Bound, seconds: float) -> None:
        w = self.windows
        ties = _ties(self.problem, bound)
        begun, turn = self.work, 0
        while self.work - begun < seconds and self.gap() > CLOSED:
            jobs, sets = [], []
            freed = self._pick(bound, ties, FREE)
            held = self.best.on(w, freed, outside=True)
            left, columns = left_of(self.problem, w, held, freed)
            jobs.append(self._about(left, columns, self.problem.value, self.best.on(w, freed), bound, freed, 0.4))
            sets.append(freed)
            self._settle(jobs, sets, True)
            turn += 1
            self._tell("improve", 0.3 + 0.7 * (self.work - begun) / seconds)
        self._end("improve")

    def _pick(self, bound: Bound, ties: Floats, most: int) -> Ints:
        """Nights drawn by how much of the gap they hold, and those that could trade with the first."""
        w = self.windows
        loss, missed = _losses(self.problem, bound, self.best)
        share = ties / np.maximum(ties.sum(axis=1, keepdims=True), 1e-9)
        loss = loss + (missed[:, None] * share).sum(axis=0)
        reached = np.unique(w.night)
        odds = loss[reached] + 0.02 * loss.sum() / len(reached)
        first = int(self.random.choice(reached, p=odds / odds.sum()))
        mine = w.target[self.best.columns[w.night[self.best.columns] == first]]
        pull = ties[mine].sum(axis=0) + (missed * ties[:, first]) @ ties / max(missed.max(initial=0.0), 1e-9)
        pull = pull * (0.3 + loss / max(loss.max(), 1e-12)) * (0.2 + self.random.random(len(pull)))
        pull[first] = -1
        return np.sort(np.concatenate([[first], np.argsort(-pull, kind="stable")[: most - 1]])).astype(np.int64)

    def _settle(self, jobs: list[Neighbourhood], sets: list[Ints], only_better: bool) -> None:
        w = self.windows
        searches = [Search(w, job, int(self.random.integers(2**31))) for job in jobs]
        for search, job, freed in zip(searches, jobs, sets, strict=True):
            found = search.run()
            self.work += search.work
            if found is None:
                continue
            held = self.best.on(w, freed, outside=True)
            new = held.joined(found)
            if not only_better or w.value[new.columns].sum() >= self.objective() - 1e-12:
                self.best = new

    def _tell(self, stage: str, fraction: float) -> None:
        if self.cancel.is_set():
            raise Cancelled
        self.report(Progress(stage, min(fraction, 1.0), self.objective(), self.value))

    def _end(self, name: str) -> None:
        self.stages.append(Stage(name, self.objective(), self.value, self.work))

    def assignment(self) -> Assignment:
        w = self.windows
        order = np.lexsort((self.best.start_min, w.night[self.best.columns]))
        rows = w.rows[self.best.columns[order]]
        objective = float(self.problem.value[rows].sum())
        return Assignment(rows, self.best.start_min[order], objective, max(self.value, objective), tuple(self.stages))


def _ties(problem: Problem, bound: Bound) -> Floats:
    """How nearly as good every night is for every target. (targets, nights) [0..1]"""
    w = bound.windows
    loss = bound.keep + bound.cost - w.value
    scale = 0.03 * float(w.value.max(initial=1.0))
    ties = np.zeros((len(problem.visits), len(problem.night_day)))
    np.maximum.at(ties, (w.target, w.night), np.exp(-np.maximum(loss, 0.0) / scale))
    return ties


def _losses(problem: Problem, bound: Bound, best: Programme) -> tuple[Floats, Floats]:
    """Where the gap lies: by night (poor rows, room unsold) and by target (visits not made)."""
    w, nights = bound.windows, len(problem.night_day)
    used = np.zeros(len(w.rows))
    used[best.columns] = 1.0
    loss = np.bincount(w.night, used * np.maximum(bound.keep + bound.cost - w.value, 0.0), nights)
    for cut, price in zip(bound.cuts, bound.cut_price.tolist(), strict=True):
        loss[cut.night] += price * max(0.0, cut.room - float(cut.coefficient @ used[w.of_night(cut.night)]))
    keep = np.zeros(len(problem.visits))
    keep[w.target] = bound.keep
    missed = problem.visits - np.bincount(w.target[best.columns], minlength=len(keep))
    return loss, keep * np.maximum(missed, 0)
