"""A season's linear relaxation, kept so that it can be solved again with nights held."""

from __future__ import annotations

import numpy as np

from ..domain.opportunity import Floats, Ints
from ..domain.progress import Cancel
from ..errors import Cancelled
from .intervals import Cut, Windows, pair_cuts, violated_cuts
from .linear import LinearModel
from .problem import Problem
from .start import best_columns

NEW_COLUMNS = 4  # rows let in at a time, for each visit wanted of a target


class Relaxation:
    """The linear programme over part of a season, solved to its optimum `best` over the rows let in.

    Parameters
    ----------
    among : Places of the rows that may be let in, in the windows; `first` of them from the start.
    cuts : Cuts to start from.
    odds : How much of a target's wanted visits a row uses up, by night. (nights,) [0..1]
    """

    def __init__(self, problem: Problem, windows: Windows, odds: Floats, among: Ints, first: Ints,
                 cuts: list[Cut], cancel: Cancel) -> None:  # fmt: skip
        self.problem, self.windows, self.odds, self._cancel = problem, windows, odds, cancel
        self._open = np.zeros(len(windows.rows), np.bool_)
        self._open[among] = True
        self.model = LinearModel(problem, windows, odds)
        self.model.add_cuts(cuts)
        self.model.add_columns(first.tolist())
        self.solve()

    def solve(self) -> None:
        """Solve over what is let in."""
        if self._cancel.is_set():
            raise Cancelled
        self.best = self.model.solve()

    @property
    def work(self) -> float:
        """Work so far, about the seconds it takes."""
        return self.model.work

    def cost(self, *, time_only: bool = False) -> Floats:
        """Return the price of each usable row's time, and of its share in going out. (usable,)"""
        cost = np.zeros(len(self.windows.rows))
        for cut, price in zip(self.model.cuts, self.best.cut_price.tolist(), strict=True):
            if price > 0 and (cut.time or not time_only):
                cost[self.windows.of_night(cut.night)] += price * cut.coefficient
        return cost

    def refine(self) -> bool:
        """Let in what is missing and solve again; return whether anything was.

        Columns and rows go in one after the other: the last basis serves only if just one kind is new.
        """
        columns = self._add_columns()
        if columns:
            self.solve()
        rows = self._add_rows()
        if rows:
            self.solve()
        return columns or rows

    def hold(self, nights: Ints, chosen: Ints) -> None:
        """Hold `nights` to the `chosen` rows, all of them let in before."""
        self._add_rows()
        self.model.fix(nights, chosen)
        self._open[np.isin(self.windows.night, nights)] = False
        self.solve()

    def _add_columns(self) -> bool:
        w = self.windows
        gain = w.value - self.cost() - self.best.keep
        scale = float(w.value.max(initial=0.0))
        paying = np.flatnonzero(self._open & (gain > 1e-7 * scale) & ~self.model.admitted())
        self.model.add_columns(best_columns(self.problem, w, paying, gain, NEW_COLUMNS).tolist())
        return bool(len(paying))

    def _add_rows(self) -> bool:
        w, share = self.windows, self.best.share
        cuts: list[Cut] = []
        for night in np.unique(w.night[share > 1e-6]).tolist():
            mine = w.of_night(night)
            cuts += violated_cuts(w, night, share[mine])
            if night in self.best.out or self.odds[night] < 1:
                cuts += pair_cuts(w, night, share[mine], self.best.out.get(night, 1.0))
        self.model.add_cuts(cuts)
        spaced = self.problem.spaced and self.model.add_spacing(share)
        return bool(cuts) or spaced
