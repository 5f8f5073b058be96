"""Each hard rule alone: a case it must let pass and one it must refuse."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from ortools.sat.python import cp_model

from scheduler.assignment import NightLimit, Problem, rules
from scheduler.assignment.goals import worth_less_the_nights_out
from scheduler.assignment.variables import Variables, variables_of

from .small import problem_of

if TYPE_CHECKING:
    from collections.abc import Callable

    Rule = Callable[[cp_model.CpModel, Problem, Variables], None]


def possible(problem: Problem, *some: Rule, starts: dict[int, int] | None = None) -> bool:
    """Whether every row can be chosen at once under these rules, with the given starts of some visits."""
    model = cp_model.CpModel()
    variables = variables_of(model, problem, problem.usable)
    for rule in some:
        rule(model, problem, variables)
    for row in variables.row.values():
        model.add(row == 1)
    for place, start in (starts or {}).items():
        model.add(variables.visits[place].start == start)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.INFEASIBLE)
    return status != cp_model.INFEASIBLE


@pytest.mark.parametrize(("start", "fits"), [(9, False), (10, True), (40, True), (41, False)])
def test_visits_fit_their_windows(start: int, fits: bool) -> None:
    problem = problem_of([(0, 0, 10, 60, 1.0), (1, 0, 0, 90, 1.0)], minutes=[20, 20])
    assert possible(problem, starts={0: start})
    assert possible(problem, rules.visits_fit_their_windows, starts={0: start}) == fits


@pytest.mark.parametrize(
    ("start", "row", "fits"), [(5, 0, True), (5, 1, False), (50, 1, True), (50, 0, False), (30, 0, False)]
)
def test_a_visit_lies_in_the_row_it_is_made_in(start: int, row: int, fits: bool) -> None:
    # two rows of one target on one night, before and after moonset
    problem = problem_of([(0, 0, 0, 30, 1.0), (0, 0, 45, 90, 0.5)], minutes=[20])
    model = cp_model.CpModel()
    variables = variables_of(model, problem, problem.usable)
    rules.visits_fit_their_windows(model, problem, variables)
    model.add(variables.row[row] == 1)
    model.add(variables.visits[0].start == start)
    assert (cp_model.CpSolver().solve(model) != cp_model.INFEASIBLE) == fits


@pytest.mark.parametrize(("second", "apart"), [(24, True), (23, False), (0, False)])
def test_visits_of_a_night_do_not_overlap(second: int, apart: bool) -> None:
    problem = problem_of([(0, 0, 0, 90, 1.0), (1, 0, 0, 90, 1.0)], minutes=[20, 20], move=4)
    assert possible(problem, starts={0: 0, 1: second})
    assert possible(problem, rules.visits_of_a_night_do_not_overlap, starts={0: 0, 1: second}) == apart


def test_visits_of_different_nights_may_share_the_clock() -> None:
    problem = problem_of([(0, 0, 0, 20, 1.0), (1, 1, 0, 20, 1.0)], minutes=[20, 20])
    assert possible(problem, rules.visits_of_a_night_do_not_overlap)


@pytest.mark.parametrize(("wanted", "enough"), [(1, False), (2, False), (3, True)])
def test_visits_wanted_are_not_exceeded(wanted: int, enough: bool) -> None:
    problem = problem_of([(0, n, 0, 30, 1.0) for n in range(3)], minutes=[20], visits=[wanted])
    assert possible(problem)
    assert possible(problem, rules.visits_wanted_are_not_exceeded) == enough


@pytest.mark.parametrize(
    ("days", "apart"),
    [
        ([0, 7, 14], True), ([0, 7, 13], False), ([0, 6, 20], False), ([0, 7, 7], False), ([0, 0, 7], False),
    ],
)  # fmt: skip
def test_visits_keep_their_spacing(days: list[int], apart: bool) -> None:
    problem = problem_of(
        [(0, n, 0, 30, 1.0) for n in range(3)], minutes=[20], visits=[3], spacing=[7], days=days
    )
    assert possible(problem)
    assert possible(problem, rules.visits_keep_their_spacing) == apart


@pytest.mark.parametrize(
    ("days", "soon"), [([0, 8, 20], True), ([0, 12, 24], True), ([0, 13, 21], False), ([0, 9, 22], False)]
)
def test_visits_follow_soon_enough(days: list[int], soon: bool) -> None:
    problem = problem_of(
        [(0, n, 0, 30, 1.0) for n in range(3)], minutes=[20], visits=[3], spacing=[8], longest=[12], days=days
    )
    assert possible(problem)
    assert possible(problem, rules.visits_follow_soon_enough) == soon


@pytest.mark.parametrize(
    ("held", "made", "soon"),
    [
        ((0, 30), [10, 20], True),
        ((0, 30), [10], False),
        ((0, 30), [], False),
        ((0, 10), [], True),
        ((0, 10), [20], True),
        ((0, 10), [30], False),
        ((20, 30), [0], False),
        ((20,), [10], True),
        ((), [0, 10, 20, 30], True),
        ((), [0, 30], False),
        ((), [30], True),
    ],
)
def test_visits_held_on_other_nights_count_as_neighbours(
    held: tuple[int, ...], made: list[int], soon: bool
) -> None:
    # the search may bridge what is held, but not leave it apart
    days = [0, 10, 20, 30]
    problem = problem_of(
        [(0, n, 0, 30, 1.0) for n in range(4)], minutes=[20], visits=[4], longest=[12], days=days
    )
    model = cp_model.CpModel()
    open_rows = problem.usable[~np.isin(days, held)]
    variables = variables_of(model, problem, open_rows, {0: held})
    rules.visits_follow_soon_enough(model, problem, variables)
    for visit in variables.visits:
        model.add(visit.made == (days[visit.night] in made))
    assert (cp_model.CpSolver().solve(model) != cp_model.INFEASIBLE) == soon


@pytest.mark.parametrize(("most", "enough"), [(1, False), (2, True)])
def test_nights_out_are_limited(most: int, enough: bool) -> None:
    limits = (NightLimit((0, 1, 2), most),)
    problem = problem_of([(0, 0, 0, 30, 1.0), (1, 2, 0, 30, 1.0)], minutes=[20, 20], limits=limits)
    assert possible(problem)
    assert possible(problem, rules.visits_are_made_outside)
    assert possible(problem, rules.visits_are_made_outside, rules.nights_out_are_limited) == enough


@pytest.mark.parametrize("stay", [0, 1, 2])
def test_a_night_with_a_visit_is_spent_outside(stay: int) -> None:
    problem = problem_of(
        [(0, 0, 0, 30, 1.0), (1, 2, 0, 30, 1.0), (2, 1, 0, 30, 1.0)], minutes=[20] * 3, cost=[1, 0, 1]
    )

    def at_home(model: cp_model.CpModel, _: Problem, variables: Variables) -> None:
        for night in {stay} & set(variables.out):  # the free night is not asked about
            model.add(variables.out[night] == 0)

    assert possible(problem, at_home)
    assert possible(problem, at_home, rules.visits_are_made_outside) == (stay == 1)


@pytest.mark.parametrize(("cost", "worth"), [([0.0, 0.0], 3.5), ([0.5, 0.5], 2.5), ([2.5, 0.75], 0.25)])
def test_the_goal_is_the_worth_of_the_visits_less_the_nights_out(cost: list[float], worth: float) -> None:
    rows = [(0, 0, 0, 60, 1.5), (1, 0, 30, 90, 1.0), (2, 1, 0, 30, 1.0)]
    problem = problem_of(rows, minutes=[20] * 3, cost=cost)
    model = cp_model.CpModel()
    variables = variables_of(model, problem, problem.usable)
    rules.all_rules(model, problem, variables)
    unit = worth_less_the_nights_out(model, problem.value, problem.outing_cost, variables)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    assert solver.objective_value / unit == pytest.approx(worth, abs=1e-5)


def test_all_rules_are_added() -> None:
    named = {name for name in vars(rules) if name.startswith(("visits_", "nights_"))}
    assert named == {rule.__name__ for rule in rules.RULES}
