"""The checks of a problem, the rows worth keeping, and the judge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scheduler.assignment import Assignment, NightLimit, Problem, breaches_of
from scheduler.errors import InvalidValue

from .small import problem_of


@pytest.fixture
def problem() -> Problem:
    rows = [
        (0, 0, 0, 60, 1.0),
        (1, 0, 10, 90, 2.0),
        (0, 1, 0, 60, 1.5),
        (1, 1, 0, 60, 1.0),
        (0, 2, 0, 60, 1.0),
    ]
    return problem_of(rows, minutes=[20, 30], visits=[2, 1], spacing=[2, 1], move=4,
                      limits=(NightLimit((0, 1), 1),))  # fmt: skip


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("value", np.ones(4)),
        ("value", np.array([1, 1, 1, 1, -0.1])),
        ("value", np.array([1, 1, 1, 1, np.nan])),
        ("minutes", np.array([20, 0])),
        ("visits", np.array([1, -1])),
        ("spacing_days", np.array([1, -1])),
        ("longest_spacing_days", np.array([9])),
        ("longest_spacing_days", np.array([1, 9])),
        ("longest_spacing_days", np.array([2, 0])),
        ("night_day", np.array([0, 2, 1])),
        ("move_min", -1),
        ("outing_cost", np.ones(2)),
        ("outing_cost", np.array([0, 0, -0.1])),
        ("outing_cost", np.array([0, 0, np.nan])),
        ("limits", (NightLimit((0, 3), 1),)),
        ("limits", (NightLimit((0, 1), -1),)),
    ],
)
def test_a_problem_refuses_what_it_cannot_hold(problem: Problem, field: str, value: object) -> None:
    with pytest.raises(InvalidValue, match=field):
        replace(problem, **{field: value})  # type: ignore[arg-type]


def test_rows_that_cannot_be_chosen_or_are_outdone_are_left_out() -> None:
    problem = problem_of(
        [
            (0, 0, 0, 90, 2.0),
            (0, 0, 10, 60, 2.0),  # inside the first and worth no more
            (0, 0, 10, 50, 3.0),
            (0, 0, 20, 30, 9.0),  # too short
            (0, 1, 0, 90, 0.0),  # worth nothing
            (1, 1, 0, 90, 1.0),  # not wanted
            (2, 1, 0, 50, 1.0),
            (2, 1, 0, 90, 1.0),  # as the one before, but wider
        ],
        minutes=[20, 20, 20], visits=[1, 0, 1],
    )  # fmt: skip
    o, kept = problem.opportunities, problem.usable
    spans = list(zip(o.target[kept], o.start_min[kept] % 1440, o.end_min[kept] % 1440, strict=True))
    assert spans == [(0, 0, 90), (0, 10, 50), (2, 0, 90)]


def test_twin_rows_leave_one() -> None:
    problem = problem_of([(0, 0, 0, 90, 2.0)] * 3, minutes=[20])
    assert len(problem.usable) == 1


def judged(problem: Problem, rows: list[int], starts: list[int], objective: float | None = None) -> str:
    value = float(problem.value[rows].sum()) if objective is None else objective
    night = problem.opportunities.night[rows]
    found = Assignment(np.array(rows), np.array(starts) + 1440 * night, value, 99.0)
    return "; ".join(breaches_of(problem, found))


def test_the_judge_passes_what_keeps_the_rules(problem: Problem) -> None:
    assert judged(problem, [0, 1, 4], [0, 24, 5]) == ""


@pytest.mark.parametrize(
    ("rows", "starts", "words"),
    [
        ([0], [41], "leaves its opportunity"),
        ([1], [9], "leaves its opportunity"),
        ([0, 1], [0, 23], "overlap"),
        ([1, 0], [10, 20], "overlap"),
        ([1, 3], [10, 0], "wanted 1"),
        ([2, 4], [0, 0], "too soon"),
        ([0, 3], [0, 0], "spent outside"),
    ],
)
def test_the_judge_names_what_is_broken(
    problem: Problem, rows: list[int], starts: list[int], words: str
) -> None:
    assert words in judged(problem, rows, starts)


@pytest.mark.parametrize(("longest", "words"), [(2, ""), (9, "")])
def test_a_visit_within_the_longest_spacing_is_soon_enough(
    problem: Problem, longest: int, words: str
) -> None:
    assert judged(replace(problem, longest_spacing_days=np.array([longest, 9])), [0, 4], [0, 0]) == words


def test_a_visit_after_the_longest_spacing_is_too_late(problem: Problem) -> None:
    later = replace(problem, night_day=np.array([0, 2, 5]), longest_spacing_days=np.array([4, 4]))
    assert "target 0 is visited again too late" in judged(later, [0, 4], [0, 0])
    assert judged(later, [4], [0]) == ""


def test_without_a_longest_spacing_there_is_no_limit(problem: Problem) -> None:
    assert problem.chained.tolist() == []
    # a target wanted once has no next visit to wait for
    assert replace(problem, longest_spacing_days=np.array([3, 3])).chained.tolist() == [0]


def test_the_judge_counts_the_value_itself(problem: Problem) -> None:
    assert "objective" in judged(problem, [0], [0], 1.5)


def test_the_judge_takes_the_cost_of_each_night_out_off_once(problem: Problem) -> None:
    costly = replace(problem, outing_cost=np.array([0.5, 9.0, 0.25]))
    assert judged(costly, [0, 1, 4], [0, 24, 5], 1.0 + 2.0 + 1.0 - 0.75) == ""
    assert "less the cost" in judged(costly, [0, 1, 4], [0, 24, 5], 4.0)


def test_nights_without_a_cost_given_cost_nothing(problem: Problem) -> None:
    assert problem.outing_cost.tolist() == [0.0, 0.0, 0.0]
    assert problem.charged == (0, 1)
    assert replace(problem, outing_cost=np.array([0, 0, 0.1])).charged == (0, 1, 2)
