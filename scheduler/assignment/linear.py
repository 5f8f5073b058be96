"""The linear programme behind the bound, grown column by column and cut by cut."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from ortools.linear_solver import pywraplp

from ..domain.opportunity import Floats, Ints
from .intervals import Cut, Windows
from .problem import Problem

if TYPE_CHECKING:
    from collections.abc import Iterable


_INFINITE = float("inf")
_SECONDS_PER_PIVOT_ROW = 1e-7  # measured, roughly; a count that is the same on every machine
# without presolve the last basis is where the next solve starts
_PARAMETERS = "use_preprocessing: false"
_AFRESH = "use_preprocessing: true"  # for when that basis leads nowhere


class Optimum(NamedTuple):
    """An optimum of the rows let in so far.

    Attributes
    ----------
    objective : Its value.
    share : How far each usable row is used. (usable,) [0..1]
    keep : Price of a visit of each usable row's target: what it is worth elsewhere. (usable,)
    cut_price : Price of each cut's room, by cut. (cuts,) [1/min]
    limit_price : Price of a night of each night limit. (limits,)
    out : How far each charged night is spent outside, by night. [0..1]
    """

    objective: float
    share: Floats
    keep: Floats
    cut_price: Floats
    limit_price: Floats
    out: dict[int, float]


class LinearModel:
    """A linear programme over some of the usable rows; it remembers its last basis.

    Parameters
    ----------
    odds : How much of a target's wanted visits a row uses up, by night. (nights,) [0..1]
    """

    def __init__(self, problem: Problem, windows: Windows, odds: Floats) -> None:
        self.problem, self.windows, self.odds = problem, windows, odds
        self.cuts: list[Cut] = []
        self.work = 0.0
        self._model = pywraplp.Solver.CreateSolver("GLOP")
        self._model.Objective().SetMaximization()
        self._column: dict[int, pywraplp.Variable] = {}
        self._rows: list[pywraplp.Constraint] = []
        self._cuts_of: dict[int, list[tuple[Cut, pywraplp.Constraint]]] = {}
        self._target = {
            int(t): self._model.Constraint(-_INFINITE, float(problem.visits[t]))
            for t in np.unique(windows.target)
        }
        self._spacing: dict[int, list[tuple[int, int, pywraplp.Constraint]]] = {}
        self._out = {night: self._model.NumVar(0.0, 1.0, "") for night in problem.charged}
        for night, out in self._out.items():
            self._model.Objective().SetCoefficient(out, -float(problem.outing_cost[night]))
        self._last = Optimum(  # at no prices, should the solver never find any
            0.0, np.zeros(len(windows.rows)), np.zeros(len(windows.rows)), np.zeros(0),
            np.zeros(len(problem.limits)), dict.fromkeys(problem.charged, 1.0),
        )  # fmt: skip
        self._limits = [self._limit_row(limit.nights, limit.most) for limit in problem.limits]

    def _limit_row(self, nights: tuple[int, ...], most: int) -> pywraplp.Constraint:
        row = self._model.Constraint(-_INFINITE, float(most))
        for night in set(nights):
            row.SetCoefficient(self._out[night], 1.0)
        return row

    def admitted(self) -> np.ndarray:
        """Tell which usable rows are let in. bool, (usable,)"""
        mask = np.zeros(len(self.windows.rows), np.bool_)
        mask[list(self._column)] = True
        return mask

    def add_columns(self, columns: Iterable[int]) -> None:
        """Let in usable rows, by their place in the windows."""
        w = self.windows
        for column in columns:
            target, night = int(w.target[column]), int(w.night[column])
            use, place = float(self.odds[night]), column - int(w.first[night])
            x = self._model.NumVar(0.0, 1.0 if use < 1 else _INFINITE, "")
            self._column[column] = x
            self._model.Objective().SetCoefficient(x, float(w.value[column]))
            self._target[target].SetCoefficient(x, use)
            for first, end, row in self._spacing.get(target, ()):
                if first <= night < end:
                    row.SetCoefficient(x, use)
            for cut, row in self._cuts_of.get(night, ()):
                if cut.coefficient[place]:
                    row.SetCoefficient(x, float(cut.coefficient[place]))

    def add_cuts(self, cuts: Iterable[Cut]) -> None:
        """Add cuts; on a charged night their room is there only if the night is spent outside."""
        for cut in cuts:
            charged = cut.night in self._out
            row = self._model.Constraint(-_INFINITE, 0.0 if charged else cut.room)
            if charged:
                row.SetCoefficient(self._out[cut.night], -cut.room)
            first = int(self.windows.first[cut.night])
            for place in np.flatnonzero(cut.coefficient).tolist():
                if first + place in self._column:
                    row.SetCoefficient(self._column[first + place], float(cut.coefficient[place]))
            self.cuts.append(cut)
            self._rows.append(row)
            self._cuts_of.setdefault(cut.night, []).append((cut, row))

    def add_spacing(self, share: Floats) -> bool:
        """Add the rows "one visit in a spacing's days" which `share` breaks; return whether any was."""
        w, day = self.windows, self.problem.night_day
        often = np.flatnonzero(self.problem.visits > 1)
        use = np.zeros((len(self.problem.visits), len(day) + 1))
        np.add.at(use, (w.target, w.night + 1), share * self.odds[w.night])
        total = np.cumsum(use[often], axis=1)
        spacing = np.maximum(self.problem.spacing_days[often], 1)
        end = np.searchsorted(day, day[None, :] + spacing[:, None])
        within = np.take_along_axis(total, end, axis=1) - total[:, :-1]
        broken = (within > 1 + 1e-3) & (use[often, 1:] > 0)
        for i, night in zip(*np.nonzero(broken), strict=True):
            self._add_spacing_row(int(often[i]), int(night), int(end[i, night]))
        return bool(broken.any())

    def _add_spacing_row(self, target: int, first: int, end: int) -> None:
        row = self._model.Constraint(-_INFINITE, 1.0)
        self._spacing.setdefault(target, []).append((first, end, row))
        for column in np.flatnonzero(self.windows.target == target).tolist():
            night = int(self.windows.night[column])
            if column in self._column and first <= night < end:
                row.SetCoefficient(self._column[column], float(self.odds[night]))

    def fix(self, nights: Ints, chosen: Ints) -> None:
        """Hold these nights to the `chosen` rows, places in the windows."""
        kept = set(chosen.tolist())
        for column in np.flatnonzero(np.isin(self.windows.night, nights)).tolist():
            if column in self._column:
                held = self._column.pop(column)  # no longer asked for its share
                held.SetBounds(*((1.0, 1.0) if column in kept else (0.0, 0.0)))

    def solve(self) -> Optimum:
        """Return an optimum over the rows let in."""
        if not self._solved() and not self._solved(_AFRESH):
            # the last prices still prove a bound, whatever was added since
            more = np.zeros(len(self._rows) - len(self._last.cut_price))
            return self._last._replace(cut_price=np.append(self._last.cut_price, more))
        columns = np.fromiter(self._column, np.int64, len(self._column))
        share = np.zeros(len(self.windows.rows))
        share[columns] = np.maximum([x.solution_value() for x in self._column.values()], 0.0)
        self._last = Optimum(
            self._model.Objective().Value(),
            share,
            self._keep(),
            _prices(self._rows),
            _prices(self._limits),
            {night: out.solution_value() for night, out in self._out.items()},
        )
        return self._last

    def _solved(self, parameters: str = _PARAMETERS) -> bool:
        """Solve, and tell whether an optimum was reached."""
        self._model.SetSolverSpecificParametersAsString(parameters)
        status: int = self._model.Solve()
        self.work += self._model.NumConstraints() * max(0, self._model.iterations()) * _SECONDS_PER_PIVOT_ROW
        return status == int(pywraplp.Solver.OPTIMAL)

    def _keep(self) -> Floats:
        w = self.windows
        price = np.zeros(len(self.problem.visits))
        price[list(self._target)] = _prices(self._target.values())
        keep: Floats = price[w.target] * self.odds[w.night]
        for target, rows in self._spacing.items():
            by_night = np.zeros(len(self.odds) + 1)
            for (first, end, _), price in zip(rows, _prices(row for _, _, row in rows), strict=True):
                by_night[first] += price
                by_night[end] -= price
            mine = np.flatnonzero(w.target == target)
            keep[mine] += np.cumsum(by_night)[w.night[mine]] * self.odds[w.night[mine]]
        return keep


def _prices(rows: Iterable[pywraplp.Constraint]) -> Floats:
    return np.maximum(np.array([row.dual_value() for row in rows], np.float64), 0.0)
