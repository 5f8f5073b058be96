"""A few nights set free and solved again exactly, the rest of the season held fast."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from ortools.sat.python import cp_model

from ..domain.opportunity import Floats, Ints
from .goals import worth_less_the_nights_out
from .intervals import Cut, Windows
from .problem import NO_LIMIT_DAYS, NightLimit, Problem
from .rules import all_rules
from .variables import Variables, variables_of


@dataclass(frozen=True, eq=False)
class Programme:
    """Chosen visits: places in the windows and starts. int, (visits,) each"""

    columns: Ints
    start_min: Ints

    def on(self, windows: Windows, nights: Ints, *, outside: bool = False) -> Programme:
        """Return the visits on `nights`, or those on all others."""
        mine = np.isin(windows.night[self.columns], nights, invert=outside)
        return Programme(self.columns[mine], self.start_min[mine])

    def joined(self, other: Programme) -> Programme:
        """Return the visits of both."""
        return Programme(
            np.concatenate([self.columns, other.columns]), np.concatenate([self.start_min, other.start_min])
        )


nothing = Programme(np.zeros(0, np.int64), np.zeros(0, np.int64))


@dataclass(frozen=True, eq=False)
class Neighbourhood:
    """Nights set free.

    Attributes
    ----------
    problem : What is left of the season's problem beside the visits held fast.
    columns : The rows to choose from, places in the windows. int, (choices,)
    value : What each row counts, for this search only. (rows of the problem,)
    hint : The visits to start from.
    cuts : Cuts of these nights known to bind; they say nothing new, but sooner.
    work : Most solver work. [deterministic seconds]
    slack : Stop when this close to the best, as a fraction.
    held : The visits held fast on other nights, where what is chosen must follow them soon enough.
    must : Of these rows, places in the windows, one is chosen; None asks for none. int, (some,)
    """

    problem: Problem
    columns: Ints
    value: Floats
    hint: Programme
    cuts: tuple[Cut, ...]
    work: float
    slack: float = 0.0
    held: Programme = nothing
    must: Ints | None = None


class Found(NamedTuple):
    """What a search found.

    Attributes
    ----------
    made : The best programme found, None if none was.
    proven : Whether none counts for more, within the slack asked for.
    limit : No programme counts for more than this.
    work : Solver work done. [deterministic seconds]
    """

    made: Programme | None
    proven: bool
    limit: float
    work: float


def left_of(problem: Problem, windows: Windows, held: Programme, nights: Ints) -> tuple[Problem, Ints]:
    """Return what is left of `problem` on `nights` when `held` visits on other nights stay, and the rows
    still open there as places in the windows.
    """  # noqa: D205
    taken = windows.target[held.columns]
    left = problem.visits - np.bincount(taken, minlength=len(problem.visits))
    columns = np.concatenate([np.arange(windows.first[n], windows.first[n + 1]) for n in np.sort(nights)])
    columns = columns[left[windows.target[columns]] > 0]
    if problem.spaced:
        columns = _far_enough(problem, windows, held, columns)
    out = np.unique(windows.night[held.columns])
    limits = tuple(
        NightLimit(limit.nights, max(0, limit.most - int(np.isin(out, limit.nights).sum())))
        for limit in problem.limits
    )
    return replace(problem, visits=np.maximum(left, 0), limits=limits), columns


def _far_enough(problem: Problem, windows: Windows, held: Programme, columns: Ints) -> Ints:
    """Drop the rows too close to a held visit of their target."""
    target, day = windows.target[columns], problem.night_day[windows.night[columns]]
    near = np.zeros(len(columns), np.bool_)
    twice = held.columns[problem.visits[windows.target[held.columns]] > 1]
    for column in twice.tolist():
        t, d = int(windows.target[column]), int(problem.night_day[windows.night[column]])
        near |= (target == t) & (np.abs(day - d) < max(1, int(problem.spacing_days[t])))
    return columns[~near]


class Search:
    """One exact search in a neighbourhood, which can be asked to stop."""

    def __init__(self, windows: Windows, neighbourhood: Neighbourhood, seed: int) -> None:
        self._windows, self._about = windows, neighbourhood
        self._model = cp_model.CpModel()
        self._solver = cp_model.CpSolver()
        parameters = self._solver.parameters
        parameters.num_workers = 1
        parameters.catch_sigint_signal = False  # the caller decides what Ctrl-C does
        parameters.random_seed = seed
        parameters.max_deterministic_time = neighbourhood.work
        parameters.linearization_level = 2
        parameters.relative_gap_limit = neighbourhood.slack

    def stop(self) -> None:
        """Ask the search to end now."""
        self._solver.stop_search()

    def run(self) -> Found:
        """Return the best programme of the freed nights found."""
        about, windows = self._about, self._windows
        if not len(about.columns):
            return Found(nothing, True, 0.0, 0.0)
        rows = windows.rows[about.columns]
        variables = variables_of(self._model, about.problem, rows, self._held_days())
        all_rules(self._model, about.problem, variables)
        unit = worth_less_the_nights_out(self._model, about.value, about.problem.outing_cost, variables)
        self._add_cuts(variables)
        self._add_must(variables)
        self._add_hint(variables)
        status = self._solver.solve(self._model)
        work = float(self._solver.deterministic_time)
        # every visit's value and night's cost was rounded by up to half a unit
        rounded = 0.5 * (len(variables.visits) + len(variables.out))
        limit = (self._solver.best_objective_bound + rounded) / unit
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Found(None, False, np.inf, work)
        made = self._read(variables, dict(zip(rows.tolist(), about.columns.tolist(), strict=True)))
        return Found(made, status == cp_model.OPTIMAL, limit, work)

    def _held_days(self) -> dict[int, tuple[int, ...]]:
        """Days of the visits held fast, of the targets whose visits must follow soon enough."""
        problem, windows, held = self._about.problem, self._windows, self._about.held.columns
        days: dict[int, tuple[int, ...]] = {}
        for column in held[problem.longest_spacing_days[windows.target[held]] < NO_LIMIT_DAYS].tolist():
            target, day = int(windows.target[column]), int(problem.night_day[windows.night[column]])
            days[target] = (*days.get(target, ()), day)
        return days

    def _read(self, variables: Variables, column_of: dict[int, int]) -> Programme:
        columns, starts = [], []
        for visit in variables.visits:
            for row in visit.rows:
                if self._solver.boolean_value(variables.row[row]):
                    columns.append(column_of[row])
                    starts.append(variables.night_start[visit.night] + self._solver.value(visit.start))
        return Programme(np.array(columns, np.int64), np.array(starts, np.int64))

    def _add_cuts(self, variables: Variables) -> None:
        for cut in self._about.cuts:
            if (cut.coefficient % 1).any():
                continue  # the model wants whole numbers
            mine = self._windows.of_night(cut.night)
            places = np.flatnonzero(cut.coefficient)
            terms = [
                (variables.row[row], int(cut.coefficient[place]))
                for row, place in zip(self._windows.rows[mine][places].tolist(), places.tolist(), strict=True)
                if row in variables.row
            ]
            if len(terms) > 1:
                weighted = cp_model.LinearExpr.weighted_sum([t[0] for t in terms], [t[1] for t in terms])
                self._model.add(weighted <= int(cut.room))

    def _add_must(self, variables: Variables) -> None:
        if self._about.must is not None:
            rows = self._windows.rows[self._about.must].tolist()
            self._model.add_bool_or([variables.row[row] for row in rows if row in variables.row])

    def _add_hint(self, variables: Variables) -> None:
        hint = self._about.hint
        chosen = dict(zip(self._windows.rows[hint.columns].tolist(), hint.start_min.tolist(), strict=True))
        for row, variable in variables.row.items():
            self._model.add_hint(variable, row in chosen)
        spent = set(self._windows.night[hint.columns].tolist())
        for night, out in variables.out.items():
            self._model.add_hint(out, night in spent)
        for visit in variables.visits:
            made = [row for row in visit.rows if row in chosen]
            if len(visit.rows) > 1:
                self._model.add_hint(visit.made, bool(made))
            for row in made:
                self._model.add_hint(visit.start, chosen[row] - variables.night_start[visit.night])
