"""Small problems and their best assignment by trying every subset of rows."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import combinations

import numpy as np
from hypothesis import strategies as st

from scheduler.assignment import NightLimit, Problem
from scheduler.domain import Opportunities
from scheduler.order import NightVisits, order_of

Row = tuple[int, int, int, int, float]  # target, night, start and end in minutes of the night, value


def problem_of(
    rows: list[Row], *, minutes: list[int], visits: list[int] | None = None, spacing: list[int] | None = None,
    days: list[int] | None = None, move: int = 0, limits: tuple[NightLimit, ...] = (),
    cost: list[float] | None = None, longest: list[int] | None = None,
) -> Problem:  # fmt: skip
    rows = sorted(rows, key=lambda row: (row[1], row[0], row[2]))
    nights = len(days) if days else max(row[1] for row in rows) + 1
    target, night, start, end = (np.array([row[i] for row in rows], np.int64) for i in range(4))
    start, end = start + 1440 * night, end + 1440 * night
    opportunities = Opportunities(
        datetime(2027, 1, 1, 12, tzinfo=UTC), len(minutes), nights, target, night, start, end,
        (start + end) // 2, np.full(len(rows), 0.5),
    )  # fmt: skip
    return Problem(
        opportunities, np.array([row[4] for row in rows], np.float64), np.array(minutes),
        np.array(visits or [1] * len(minutes)), np.array(spacing or [1] * len(minutes)),
        np.array(days or range(nights)), move, limits, np.array(cost or [], np.float64),
        np.array(longest or [], np.int64),
    )  # fmt: skip


def best_of(problem: Problem) -> float:
    """What the best assignment is worth less the cost of its nights, by trying every subset of rows."""
    rows, best = range(len(problem.value)), 0.0
    for size in range(1, len(rows) + 1):
        for chosen in combinations(rows, size):
            nights = {int(problem.opportunities.night[row]) for row in chosen}
            value = float(problem.value[list(chosen)].sum())
            value -= sum(float(problem.outing_cost[night]) for night in nights)
            if value > best and allowed(problem, np.array(chosen)):
                best = value
    return best


def allowed(problem: Problem, rows: np.ndarray) -> bool:
    o = problem.opportunities
    target, night = o.target[rows], o.night[rows]
    for t in np.unique(target):
        days = np.sort(problem.night_day[night[target == t]])
        if len(days) > problem.visits[t] or (np.diff(days) < max(1, int(problem.spacing_days[t]))).any():
            return False
        if (np.diff(days) > problem.longest_spacing_days[t]).any():
            return False
    if any(len(set(night.tolist()) & set(limit.nights)) > limit.most for limit in problem.limits):
        return False
    return all(walkable(problem, rows[night == n]) for n in np.unique(night))


def walkable(problem: Problem, rows: np.ndarray) -> bool:
    o = problem.opportunities
    minutes = problem.minutes[o.target[rows]]
    visits = NightVisits(o.start_min[rows], o.end_min[rows], minutes, o.best_min[rows], problem.move_min)
    return order_of(visits) is not None


@st.composite
def small_problems(draw: st.DrawFn, most_rows: int = 9) -> Problem:
    targets, nights = draw(st.integers(1, 5)), draw(st.integers(1, 4))
    minutes = [draw(st.integers(5, 30)) for _ in range(targets)]
    rows: list[Row] = []
    for _ in range(draw(st.integers(1, most_rows))):
        start, length = draw(st.integers(0, 50)), draw(st.integers(5, 60))
        worth = draw(st.integers(0, 20)) / 4
        rows.append(
            (
                draw(st.integers(0, targets - 1)),
                draw(st.integers(0, nights - 1)),
                start,
                start + length,
                worth,
            )
        )
    days = np.cumsum([draw(st.integers(0, 4)) for _ in range(nights)]).tolist()  # 0: two sites, one date
    visits = [draw(st.integers(0, 3)) for _ in range(targets)]
    spacing = [draw(st.integers(1, 6)) for _ in range(targets)]
    longest = [each + draw(st.integers(0, 6)) for each in spacing] if draw(st.booleans()) else None
    limits = [NightLimit(tuple(range(nights)), draw(st.integers(0, nights)))] if draw(st.booleans()) else []
    if nights > 2 and draw(st.booleans()):
        limits.append(NightLimit((0, 1), 1))
    cost = [draw(st.integers(0, 16)) / 4 for _ in range(nights)] if draw(st.booleans()) else None
    return problem_of(
        rows, minutes=minutes, visits=visits, spacing=spacing, days=days, move=draw(st.integers(0, 5)),
        limits=tuple(limits), cost=cost, longest=longest,
    )  # fmt: skip
