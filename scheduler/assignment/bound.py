"""How good an assignment can be at most, and what the nights' minutes cost, by linear programming.

Rows are let in fractionally; the order of a night is replaced by the cuts of `intervals`, found as they
are broken. Whatever the linear solver's rounding, the bound is computed afresh from the prices alone,
each target choosing freely at these prices, and so holds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..domain.opportunity import Floats, Ints
from ..domain.progress import Cancel, never_cancelled
from ..errors import Cancelled
from .intervals import Cut, Windows, violated_cuts, whole_night_cut, windows_of
from .linear import LinearModel, Optimum, pair_cuts
from .problem import Problem

ROUNDS = 60  # the loop has always ended far sooner; ending early only costs sharpness


@dataclass(frozen=True, eq=False)
class Bound:
    """The linear relaxation, solved.

    Attributes
    ----------
    value : No assignment is worth more.
    windows : The usable rows the arrays below speak of.
    share : How far each usable row is used at the fractional optimum. (usable,) [0..1]
    cost : Price of the time of a visit in each usable row. (usable,)
    keep : What a visit of each row's target is worth elsewhere, at these prices. (usable,)
    cuts : The cuts that bind.
    night_price : Price of a minute of each night, averaged over the night. (nights,) [1/min]
    """

    value: float
    windows: Windows
    share: Floats
    cost: Floats
    keep: Floats
    cuts: tuple[Cut, ...]
    cut_price: Floats
    night_price: Floats


def bound_of(problem: Problem, cancel: Cancel = never_cancelled) -> Bound:
    """Return the bound of the linear relaxation and its prices.

    Raises
    ------
    Cancelled
        When asked to stop.
    """
    return _solve(problem, np.ones(len(problem.night_day)), cancel)


def expected_capacity_of(problem: Problem, odds: Floats, cancel: Cancel = never_cancelled) -> Bound:
    """Return the relaxation in which every night has only its expected clear time: its prices are those
    of a clear minute.

    Parameters
    ----------
    problem : With `value` the worth of a visit made, weather left out (weight x merit).
    odds : Clear odds of the nights. (nights,) [0..1]

    Notes
    -----
    With `x` the odds that a row is used given that its night is clear, at most 1: `odds @ x` uses up the
    visits wanted and earns the value, while a clear night has room for its minutes. Its `value` is the
    expected worth in this fluid model: a plan made for known weather cannot expect more.
    """  # noqa: D205
    night = problem.opportunities.night
    expected = Problem(
        problem.opportunities, problem.value * odds[night], problem.minutes, problem.visits,
        problem.spacing_days, problem.night_day, problem.move_min, problem.limits,
    )  # fmt: skip
    found = _solve(expected, np.asarray(odds, np.float64), cancel)
    with np.errstate(divide="ignore", invalid="ignore"):
        price = np.where(odds > 0, found.night_price / odds, 0.0)
        cost = np.where(odds[found.windows.night] > 0, found.cost / odds[found.windows.night], 0.0)
    return Bound(found.value, found.windows, found.share, cost, found.keep, found.cuts, found.cut_price, price)


class Relaxation:
    """The linear programme over a season, kept so that it can be solved again with nights held."""

    def __init__(self, problem: Problem, odds: Floats) -> None:
        self.problem, self.odds, self.windows = problem, odds, windows_of(problem)
        self.model = LinearModel(problem, self.windows, odds)
        nights = np.unique(self.windows.night)
        self.model.add_cuts(whole_night_cut(self.windows, int(night)) for night in nights)
        self.model.add_columns(_first_columns(problem, self.windows))
        self.best = self.model.solve()

    def refine(self) -> bool:
        """Let in what is missing and solve again; return whether anything was."""
        cost = _cost(self.windows, self.model.cuts, self.best.cut_price)
        missing = _missing_columns(self.windows, self.windows.value - cost - self.best.keep, self.model)
        cuts = _missing_cuts(self.problem, self.windows, self.best.share)
        self.model.add_columns(missing.tolist())
        self.model.add_cuts(cuts)
        self.best = self.model.solve()
        return bool(len(missing) or cuts)

    def hold(self, nights: Ints, chosen: Ints) -> None:
        """Hold `nights` to the `chosen` rows."""
        self.model.fix(nights, chosen)
        self.refine()

    def value(self) -> float:
        cost = _cost(self.windows, self.model.cuts, self.best.cut_price)
        return _value_at(self.problem, self.windows, self.model.cuts, self.best, cost, self.odds)

    def bound(self, value: float) -> Bound:
        cost = _cost(self.windows, self.model.cuts, self.best.cut_price)
        binding = np.flatnonzero(self.best.cut_price > 1e-9)
        return Bound(value, self.windows, self.best.share, cost, self.best.keep,
                     tuple(self.model.cuts[i] for i in binding), self.best.cut_price[binding],
                     _night_price(self.problem, self.windows, self.model.cuts, self.best))


def _solve(problem: Problem, odds: Floats, cancel: Cancel) -> Bound:
    return relax(problem, odds, cancel)[1]

def relax(problem: Problem, odds: Floats, cancel: Cancel) -> tuple[Relaxation, Bound]:
    """Grow the linear programme until no row and no cut is missing."""
    relaxation = Relaxation(problem, odds)
    value = relaxation.value()
    for _ in range(ROUNDS):
        if cancel.is_set():
            raise Cancelled
        if not relaxation.refine():
            break
        value = min(value, relaxation.value())
    return relaxation, relaxation.bound(value)


def _first_columns(problem: Problem, windows: Windows, most: int = 10) -> list[int]:
    """The best few rows of every target."""
    order = np.lexsort((np.arange(len(windows.rows)), -windows.value, windows.target))
    target = windows.target[order]
    begins = np.searchsorted(target, target)
    wanted = most * np.minimum(problem.visits[target], 4)
    chosen: list[int] = np.sort(order[np.arange(len(order)) - begins < wanted]).tolist()
    return chosen


def _missing_columns(windows: Windows, reduced: Floats, model: LinearModel, most: int = 4) -> Ints:
    """The few rows of each target that would pay most at the present prices."""
    scale = float(windows.value.max(initial=0.0))
    paying = np.flatnonzero(reduced > 1e-7 * scale)
    paying = paying[[column not in model for column in paying.tolist()]] if len(paying) else paying
    order = paying[np.lexsort((paying, -reduced[paying], windows.target[paying]))]
    target = windows.target[order]
    return np.sort(order[np.arange(len(order)) - np.searchsorted(target, target) < most])


def _missing_cuts(problem: Problem, windows: Windows, share: Floats) -> list[Cut]:
    cuts: list[Cut] = []
    for night in np.unique(windows.night[share > 1e-6]).tolist():
        cuts += violated_cuts(windows, night, share[windows.of_night(night)])
    return cuts


def _cost(windows: Windows, cuts: list[Cut], price: Floats) -> Floats:
    cost = np.zeros(len(windows.rows))
    for cut, each in zip(cuts, price.tolist(), strict=True):
        if each > 0:
            cost[windows.of_night(cut.night)] += each * cut.coefficient
    return cost


def _value_at(
    problem: Problem, windows: Windows, cuts: list[Cut], best: Optimum, cost: Floats, odds: Floats
) -> float:
    """The dual bound at these prices: what the nights' room sells for, and what the targets then keep."""
    nights = len(problem.night_day)
    sold = np.zeros(nights)
    np.add.at(sold, [cut.night for cut in cuts], [c.room * p for c, p in zip(cuts, best.cut_price, strict=True)])
    total = 0.0
    for limit, price in zip(problem.limits, best.limit_price, strict=True):
        total += limit.most * price
        sold[list(set(limit.nights))] -= price
    limited = sorted({night for limit in problem.limits for night in limit.nights})
    sold[limited] = np.maximum(sold[limited], 0.0)
    if (odds < 1).any():
        # fractional visits: take the solver's prices of visits and charge what any row still gains
        return best.objective
    return total + float(sold.sum()) + targets_keep(problem, windows, windows.value - cost)


def targets_keep(problem: Problem, windows: Windows, gain: Floats) -> float:
    """Return the most the targets can gain, each for itself, within its visits and spacing. `gain`: (usable,)"""
    nights, targets = len(problem.night_day), len(problem.visits)
    best = np.zeros((targets, nights + 1))
    np.maximum.at(best, (windows.target, windows.night), gain)
    total = float(best[problem.visits == 1].max(axis=1, initial=0.0).sum())
    often = np.flatnonzero(problem.visits > 1)
    best, wanted = best[often], problem.visits[often]
    day, spacing = problem.night_day, np.maximum(problem.spacing_days[often], 1)
    rest = np.searchsorted(day, day[None, :] + spacing[:, None])
    here, before = np.arange(len(often)), np.zeros((len(often), nights + 1))
    for left in range(1, int(wanted.max(initial=0)) + 1):
        value = np.zeros_like(before)
        for night in range(nights - 1, -1, -1):
            value[:, night] = np.maximum(value[:, night + 1], best[:, night] + before[here, rest[:, night]])
        total += float(value[wanted == left, 0].sum())
        before = value
    return total


def _night_price(problem: Problem, windows: Windows, cuts: list[Cut], best: Optimum) -> Floats:
    """What all room of a night sells for, over the length of the night. [1/min]"""
    sold = np.zeros(len(problem.night_day))
    np.add.at(sold, [cut.night for cut in cuts], [c.room * p for c, p in zip(cuts, best.cut_price, strict=True)])
    length = np.ones(len(problem.night_day))
    for night in np.unique(windows.night).tolist():
        mine = windows.of_night(night)
        length[night] = windows.end[mine].max() - windows.start[mine].min()
    return sold / length
