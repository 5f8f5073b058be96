"""What the solver is asked, and what it answers; no solver here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from ..domain.checks import holds, whole
from ..domain.opportunity import Floats, Ints, Opportunities

NO_LIMIT_DAYS = 1_000_000
"""A longest spacing that never binds. [d]"""


class NightLimit(NamedTuple):
    """Of these free nights, by position, at most `most` are spent outside."""

    nights: tuple[int, ...]
    most: int


@dataclass(frozen=True, eq=False)
class Problem:
    """A season to assign: which visit lies in which opportunity, and when.

    Attributes
    ----------
    opportunities : The rows to choose from.
    value : What a visit in each row is worth, >= 0; a row worth nothing is never chosen. (rows,)
    minutes : Length of one visit of each target. int, (targets,) [min]
    visits : Most visits wanted of each target. int, (targets,)
    spacing_days : Fewest days between two visits of a target. int, (targets,) [d]
    night_day : Ordinal date of each free night, never falling; nights of one date, at several sites, share
        its weather. int, (nights,) [d]
    move_min : Left free between two visits of a night. [min]
    limits : Groups of nights of which only some can be spent outside.
    outing_cost : What a night spent outside takes off the objective, >= 0; none given costs nothing.
        (nights,)
    longest_spacing_days : Most days between a visit of a target and the next; none given sets no limit.
        int, (targets,) [d]
    favour : Part of its own value by which a visit in each row counts more when choosing, never in objective
        or bound; the same for all rows of a target on a night. None given: none. (rows,)
    held_days : Ordinal dates of visits that stand whatever is decided, by target: what is chosen follows
        them soon enough, and they it. The rows keep the least spacing from them already. [d]
    """

    opportunities: Opportunities
    value: Floats
    minutes: Ints
    visits: Ints
    spacing_days: Ints
    night_day: Ints
    move_min: int = 4
    limits: tuple[NightLimit, ...] = ()
    outing_cost: Floats = field(default_factory=lambda: np.zeros(0))
    longest_spacing_days: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    favour: Floats = field(default_factory=lambda: np.zeros(0))
    held_days: Mapping[int, tuple[int, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        targets, nights = self.opportunities.targets, self.opportunities.nights
        if not len(self.favour):
            object.__setattr__(self, "favour", np.zeros(len(self.opportunities)))
        if not len(self.outing_cost):
            object.__setattr__(self, "outing_cost", np.zeros(nights))
        if not len(self.longest_spacing_days):
            object.__setattr__(self, "longest_spacing_days", np.full(targets, NO_LIMIT_DAYS))
        for name, length in (("value", len(self.opportunities)), ("minutes", targets), ("visits", targets),
                             ("spacing_days", targets), ("night_day", nights),
                             ("favour", len(self.opportunities)), ("outing_cost", nights),
                             ("longest_spacing_days", targets)):  # fmt: skip
            count = len(getattr(self, name))
            holds(name, count, count == length, f"{length} numbers")
        for name, of in (("value", "a row"), ("outing_cost", "a night"), ("favour", "a row")):
            numbers = getattr(self, name)
            usable = bool((np.isfinite(numbers) & (numbers >= 0)).all())
            holds(name, of, usable, "finite numbers >= 0")
        holds("minutes", "a target", bool((self.minutes >= 1).all()), "at least one minute")
        holds("visits", "a target", bool((self.visits >= 0).all()), "numbers >= 0")
        holds("spacing_days", "a target", bool((self.spacing_days >= 0).all()), "numbers >= 0")
        chained = self.longest_spacing_days >= np.maximum(self.spacing_days, 1)
        holds("longest_spacing_days", "a target", bool(chained.all()), "numbers not below spacing_days")
        holds("night_day", "a night", bool((np.diff(self.night_day) >= 0).all()), "dates that never fall")
        pair = self.opportunities.night * targets + self.opportunities.target
        alike = (np.diff(self.favour) == 0) | (np.diff(pair) != 0)
        holds("favour", "a row", bool(alike.all()), "one number for all rows of a target on a night")
        whole("move_min", self.move_min, 0, 240)
        object.__setattr__(self, "limits", tuple(NightLimit(tuple(n), most) for n, most in self.limits))
        for limit in self.limits:
            known = all(0 <= night < nights for night in limit.nights)
            holds("limits", limit.nights, known, f"nights from 0 to {nights - 1}")
            whole("limits", limit.most, 0, 400)

    @cached_property
    def usable(self) -> Ints:
        """Rows that may ever be chosen: worth something, long enough, wanted, no row of the same visit
        both wider and worth as much. int, (usable,)
        """  # noqa: D205
        o = self.opportunities
        fits = o.end_min - o.start_min >= self.minutes[o.target]
        rows = np.flatnonzero(fits & (self.value > 0) & (self.visits[o.target] > 0))
        return rows[~self._outdone(rows)]

    def _outdone(self, rows: Ints) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Tell which rows lie inside another row of their target and night that is worth as much."""
        o = self.opportunities
        pair = o.night[rows] * o.targets + o.target[rows]
        out = np.zeros(len(rows), np.bool_)
        for step in range(1, int(np.unique(pair, return_counts=True)[1].max(initial=1))):
            a, b = rows[:-step], rows[step:]
            same = pair[:-step] == pair[step:]
            # b starts no earlier than a, for rows are sorted; ties of start may go either way
            out[step:] |= same & (o.end_min[b] <= o.end_min[a]) & (self.value[b] <= self.value[a])
            inside = (o.start_min[a] == o.start_min[b]) & (o.end_min[a] <= o.end_min[b])
            twin = (o.end_min[a] == o.end_min[b]) & (self.value[a] == self.value[b])
            out[:-step] |= same & inside & (self.value[a] <= self.value[b]) & ~twin
        return out

    @cached_property
    def charged(self) -> tuple[int, ...]:
        """Nights for which it matters whether they are spent outside: under a limit or at a cost."""
        limited = {night for limit in self.limits for night in limit.nights}
        return tuple(sorted(limited.union(np.flatnonzero(self.outing_cost > 0).tolist())))

    def worth_of(self, rows: Ints) -> float:
        """Return what visits in these rows are worth, less the cost of their nights."""
        nights = np.unique(self.opportunities.night[rows])
        return float(self.value[rows].sum() - self.outing_cost[nights].sum())

    @cached_property
    def dated(self) -> bool:
        """Whether any date has nights at several sites."""
        return bool((np.diff(self.night_day) == 0).any())

    @cached_property
    def spaced(self) -> bool:
        """Whether any target wants more than one visit."""
        return bool((self.visits > 1).any())

    @cached_property
    def chained(self) -> Ints:
        """Targets whose visits must follow one another, or ones that stand, soon enough. int, (some,)"""
        held = np.isin(np.arange(len(self.visits)), list(self.held_days))
        often = (self.visits > 1) | (held & (self.visits > 0))
        return np.flatnonzero(often & (self.longest_spacing_days < NO_LIMIT_DAYS))

    @cached_property
    def favoured(self) -> Problem:
        """The same problem with what is favoured worth so much more: what the search maximises."""
        if not self.favour.any():
            return self
        return replace(self, value=self.value * (1.0 + self.favour), favour=np.zeros(0))


class Stage(NamedTuple):
    """How one stage of the search ended: the best plan and bound by then, and the solver work it took."""

    name: str
    objective: float
    bound: float
    work: float


@dataclass(frozen=True, eq=False)
class Assignment:
    """Chosen visits and how good they are proven to be.

    Attributes
    ----------
    rows : Row of each visit, by night and start. int, (visits,)
    start_min : Start of each visit, a certificate that its night can be walked. int, (visits,) [min]
    objective : Sum of the visits' values, less the cost of the nights spent outside.
    bound : No assignment of the problem is worth more.
    stages : How the search went.
    """

    rows: Ints
    start_min: Ints
    objective: float
    bound: float
    stages: tuple[Stage, ...] = ()

    @property
    def gap(self) -> float:
        """The proven distance to the best assignment, as a fraction of the bound. [0..1]"""
        return max(0.0, self.bound - self.objective) / self.bound if self.bound > 0 else 0.0


def breaches_of(problem: Problem, assignment: Assignment) -> tuple[str, ...]:
    """Return every broken rule in words, judged without the solver; empty where all hold."""
    o, rows, starts = problem.opportunities, assignment.rows, assignment.start_min
    target, night = o.target[rows], o.night[rows]
    ends = starts + problem.minutes[target]
    found = [
        f"target {target[i]} on night {night[i]} leaves its opportunity"
        for i in np.flatnonzero((starts < o.start_min[rows]) | (ends > o.end_min[rows]))
    ]
    order = np.lexsort((starts, night))
    for a, b in pairwise(order.tolist()):
        if night[a] == night[b] and ends[a] + problem.move_min > starts[b]:
            found.append(f"targets {target[a]} and {target[b]} overlap on night {night[a]}")
    for t in np.unique(target):
        days = np.sort(problem.night_day[night[target == t]])
        if len(days) > problem.visits[t]:
            found.append(f"target {t} is visited {len(days)} times, wanted {problem.visits[t]}")
        if (np.diff(days) < max(1, int(problem.spacing_days[t]))).any():
            found.append(f"target {t} is visited again too soon")
        held = problem.held_days.get(int(t), ())
        both = sorted({*days.tolist(), *held})
        late = [b for a, b in pairwise(both) if b - a > problem.longest_spacing_days[t]
                and not (a in held and b in held)]  # fmt: skip
        if late:
            found.append(f"target {t} is visited again too late")
    out = set(night.tolist())
    found += [
        f"more than {limit.most} of the nights {limit.nights} are spent outside"
        for limit in problem.limits
        if len(out.intersection(limit.nights)) > limit.most
    ]
    if not np.isclose(problem.worth_of(rows), assignment.objective, rtol=1e-9, atol=1e-9):
        found.append("the objective is not the worth of the visits less the cost of the nights out")
    return tuple(found)
