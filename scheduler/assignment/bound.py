"""How good an assignment can be at most, and what the nights' minutes cost, by linear programming.

Rows are let in fractionally; the order of a night is replaced by the cuts of `intervals`, found as they
are broken. Whatever the linear solver's rounding, the bound is computed afresh from the prices alone,
each target choosing freely at these prices, and so holds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..domain.opportunity import Floats
from ..domain.progress import Cancel, never_cancelled
from .chain import chains_of
from .intervals import Cut, Windows, whole_night_cut, windows_of
from .problem import Problem
from .relaxation import Relaxation
from .start import first_columns

SETTLED = 2e-5  # rounds that win less than this part of the bound are not worth their time
PRICED = 1e-4  # the same of the objective, where only prices are wanted
ROUNDS = 60  # the loop has always ended far sooner; ending early only costs sharpness


@dataclass(frozen=True, eq=False)
class Bound:
    """The linear relaxation, solved.

    Attributes
    ----------
    value : No assignment is worth more.
    windows : The usable rows the arrays below speak of.
    share : How far each usable row is used at the fractional optimum. (usable,) [0..1]
    cost : Price of the time of a visit in each usable row, and of going out for it. (usable,)
    keep : What a visit of each row's target is worth elsewhere, at these prices. (usable,)
    cuts : The cuts that bind.
    night_price : Price of a minute of each night, averaged over the night. (nights,) [1/min]
    out_price : Price of going out on each night: its cost and its share of the limits. (nights,)
    out : How far each night is spent outside at the fractional optimum; 1 where it is free. (nights,) [0..1]
    """

    value: float
    windows: Windows
    share: Floats
    cost: Floats
    keep: Floats
    cuts: tuple[Cut, ...]
    cut_price: Floats
    night_price: Floats
    out_price: Floats
    out: Floats


def bound_of(problem: Problem, cancel: Cancel = never_cancelled) -> Bound:
    """Return the bound of the linear relaxation and its prices.

    Raises
    ------
    Cancelled
        When asked to stop.
    """
    relaxation, value = relax(problem, np.ones(len(problem.night_day)), cancel)
    return bound_at(relaxation, value)


def expected_capacity_of(problem: Problem, odds: Floats, cancel: Cancel = never_cancelled) -> Bound:
    """Return the relaxation in which every night has only its expected clear time: its prices are those
    of a clear minute.

    Parameters
    ----------
    problem : With `value` the worth of a visit made, weather left out (weight x merit); what nights out cost
        is left out, for the price is of minutes once outside.
    odds : Clear odds of the nights. (nights,) [0..1]

    Notes
    -----
    With `x` the odds that a row is used given that its night is clear, at most 1: `odds @ x` uses up the
    visits wanted and earns the value, while a clear night has room for its minutes. Its `value` is the
    expected worth in this fluid model: a plan made for known weather cannot expect more.
    """  # noqa: D205
    odds = np.asarray(odds, np.float64)
    expected = replace(
        problem, value=problem.value * odds[problem.opportunities.night], outing_cost=np.zeros(len(odds))
    )
    relaxation, _ = relax(expected, odds, cancel)
    found = bound_at(relaxation, relaxation.best.objective)
    clear = np.where(odds > 0, odds, 1.0)
    cost = relaxation.cost(time_only=True) / clear[found.windows.night]
    return replace(found, cost=cost, night_price=found.night_price / clear)


def relax(
    problem: Problem, odds: Floats, cancel: Cancel, like: Relaxation | None = None
) -> tuple[Relaxation, float]:
    """Return the linear programme grown until no row and no cut is missing, and, where every night's odds
    are 1, the bound it proves.

    `like` : One of the same rows with other values, whose rows and cuts are a good start.
    """  # noqa: D205
    windows = windows_of(problem)
    if like is None:
        cuts = [whole_night_cut(windows, night) for night in np.unique(windows.night).tolist()]
        first = first_columns(problem, windows)
    else:
        cuts, first = list(like.model.cuts), np.flatnonzero(like.best.share > 0)
    among = np.arange(len(windows.rows))
    relaxation = Relaxation(problem, windows, odds, among, first, cuts, cancel)
    value = value_at_prices(relaxation)
    whole = bool((odds == 1).all())  # else `value` is no bound, and only the objective tells the end
    for _ in range(ROUNDS):
        objective = relaxation.best.objective
        more = relaxation.refine()
        before, value = value, min(value, value_at_prices(relaxation))
        unsettled = max(before - value, abs(relaxation.best.objective - value))
        grown = abs(relaxation.best.objective - objective)
        if not more or (unsettled < SETTLED * value if whole else grown < PRICED * objective):
            break
    return relaxation, value


def bound_at(relaxation: Relaxation, value: float) -> Bound:
    """Return the relaxation as it stands, with the bound proven so far."""
    best, cuts = relaxation.best, relaxation.model.cuts
    binding = np.flatnonzero(best.cut_price > 1e-9)
    out = np.ones(len(relaxation.problem.night_day))
    out[list(best.out)] = list(best.out.values())
    return Bound(
        value, relaxation.windows, best.share, relaxation.cost(), best.keep,
        tuple(cuts[i] for i in binding.tolist()), best.cut_price[binding], _night_price(relaxation),
        _out_price(relaxation), out,
    )  # fmt: skip


def value_at_prices(relaxation: Relaxation) -> float:
    """Return the bound that the present prices prove: what the nights' room and the nights out sell for,
    and what the targets gain at these prices.
    """  # noqa: D205
    problem, windows, best = relaxation.problem, relaxation.windows, relaxation.best
    # a charged night is bought only if its room sells for more than going out costs
    left = np.maximum(_sold(relaxation) - _out_price(relaxation), 0.0)
    limits = float(np.array([limit.most for limit in problem.limits]) @ best.limit_price)
    return limits + float(left.sum()) + targets_gain(problem, windows, windows.value - relaxation.cost())


def targets_gain(problem: Problem, windows: Windows, gain: Floats) -> float:
    """Return the most the targets can gain, each for itself, within its visits and spacings.

    `gain` : Of each usable row. (usable,)
    """
    nights, targets = len(problem.night_day), len(problem.visits)
    best = np.zeros((targets, nights + 1))
    np.maximum.at(best, (windows.target, windows.night), gain)
    once = np.setdiff1d(np.flatnonzero(problem.visits == 1), problem.chained)
    total = float(best[once].max(axis=1, initial=0.0).sum())
    total += sum(max(0.0, chain.gain) for chain in chains_of(problem, windows, gain).values())
    often = np.setdiff1d(np.flatnonzero(problem.visits > 1), problem.chained)
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


def _out_price(relaxation: Relaxation) -> Floats:
    """What going out costs on each night: its cost and the prices of its limits. (nights,)"""
    price = relaxation.problem.outing_cost.copy()
    for limit, each in zip(relaxation.problem.limits, relaxation.best.limit_price.tolist(), strict=True):
        price[list(set(limit.nights))] += each
    return price


def _sold(relaxation: Relaxation, *, time_only: bool = False) -> Floats:
    """What all room of each night sells for. (nights,)"""
    sold = np.zeros(len(relaxation.problem.night_day))
    for cut, price in zip(relaxation.model.cuts, relaxation.best.cut_price.tolist(), strict=True):
        if cut.time or not time_only:
            sold[cut.night] += cut.room * price
    return sold


def _night_price(relaxation: Relaxation) -> Floats:
    """What the time of each night sells for, over its length. (nights,) [1/min]"""
    windows = relaxation.windows
    length = np.ones(len(relaxation.problem.night_day))
    for night in np.unique(windows.night).tolist():
        mine = windows.of_night(night)
        length[night] = windows.end[mine].max() - windows.start[mine].min()
    return _sold(relaxation, time_only=True) / length
