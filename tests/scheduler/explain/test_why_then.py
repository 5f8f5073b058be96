"""Why a visit is on its night: every cost against an independent re-solve."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta

import numpy as np
import pytest

from scheduler.assignment import Problem, assign
from scheduler.check import breaches_of
from scheduler.domain import (
    Availability,
    EveningRule,
    GivesWay,
    Outcome,
    OutcomeLog,
    Plan,
    Scenario,
    Went,
    WhyThen,
)
from scheduler.errors import InvalidValue, UnknownName
from scheduler.explain import why_then
from scheduler.placed import rows_of
from scheduler.ready import made_ready
from scheduler.replanning import replan
from scheduler.year import plan_year
from tests.small_season import ALBIREO, ANDROMEDA, JUPITER, ORION, scenario, star

TIGHT = EveningRule(start=time(19), finish=time(21))
STARS = tuple(star(f"Star {n}", 60.0 + 15 * n, 30.0 + 5 * n, priority=1 + n) for n in range(5))
SEASONS = {
    "room to spare": scenario(ORION, ANDROMEDA, JUPITER, nights=4),
    "crowded": scenario(ORION, *STARS, ANDROMEDA, nights=4, rule=TIGHT),
    "crowded, going out costs": replace(
        scenario(ORION, *STARS, ANDROMEDA, nights=5, rule=TIGHT),
        routine=replace(scenario().routine, outing_cost=2.0),
    ),
}


def limited(of: Scenario, **limits: int) -> Scenario:
    changed: Availability = replace(of.availability, **limits)  # type: ignore[arg-type]
    return replace(of, availability=changed)


def forced(problem: Problem, target: int, night: int) -> float:
    """The best plan's worth with this visit made, found without asking for it: a prize makes it worth it."""
    o, prize = problem.opportunities, 100.0
    value = problem.value.copy()
    value[(o.target == target) & (o.night != night)] = 0.0
    value[(o.target == target) & (o.night == night)] += prize
    found = assign(replace(problem, value=value), seconds=3.0)
    return found.objective - prize


@pytest.fixture(scope="module", params=SEASONS)
def asked(request: pytest.FixtureRequest) -> tuple[Scenario, Plan]:
    of = SEASONS[request.param]
    return of, plan_year(of, seconds=2.0)


def test_costs_are_those_of_an_independent_resolve(asked: tuple[Scenario, Plan]) -> None:
    of, plan = asked
    problem = made_ready(of).priced().problem
    best = assign(problem, seconds=3.0).objective
    assert best == pytest.approx(plan.objective, abs=1e-3)
    names, tried = [target.name for target in of.targets], 0
    for name in {visit.target for visit in plan.visits}:
        for one in why_then(plan, of, name).alternatives:
            night = (one.evening - of.season.start).days
            assert one.proven
            assert one.cost == pytest.approx(best - forced(problem, names.index(name), night), abs=2e-3)
            tried += 1
    assert tried >= 6


def with_one_elsewhere(of: Scenario, name: str, evening: date) -> Plan:
    """Return a sound plan in which one target waits for a night that is not its best."""
    there = tuple(
        replace(one, earliest=evening, latest=evening) if one.name == name else one for one in of.targets
    )
    plan = replace(plan_year(replace(of, targets=there), seconds=1.0), targets=of.targets)
    assert not breaches_of(plan)
    return plan


def test_what_moves_and_what_it_costs_are_told_from_the_plan_as_it_stands() -> None:
    of, last = SEASONS["crowded"], date(2027, 1, 4)
    plan = with_one_elsewhere(of, "M 31", last)
    made = made_ready(of)
    problem = made.priced().problem
    worth = problem.worth_of(rows_of(plan, made, problem)[0])
    assert worth < assign(problem, seconds=3.0).objective - 5e-3
    printed = {(visit.target, visit.evening) for visit in plan.visits}
    names, moved, costs = [target.name for target in of.targets], set(), []
    for visit in plan.visits:
        for one in why_then(plan, of, visit.target).alternatives:
            moved |= {(way.target, way.evening) for way in one.gives_way if way.evening}
            there = forced(problem, names.index(visit.target), (one.evening - of.season.start).days)
            assert one.cost == pytest.approx(max(0.0, worth - there), abs=2e-3)
            costs.append(one.cost)
    assert ("M 31", last) in moved
    assert moved <= printed
    assert min(costs) == 0.0
    assert max(costs) > 0.1


def test_costs_rise_and_are_never_below_nothing(asked: tuple[Scenario, Plan]) -> None:
    of, plan = asked
    for visit in plan.visits:
        costs = [one.cost for one in why_then(plan, of, visit.target).alternatives]
        assert costs == sorted(costs)
        assert all(cost >= 0.0 for cost in costs)


def test_what_gives_way_is_told() -> None:
    # Two of the same place and length; an evening holds one.
    short = EveningRule(start=time(20), finish=time(21, 15))
    both = replace(ORION, name="first", priority=5), replace(ORION, name="second", priority=1)
    of = scenario(*both, nights=2, rule=short)
    plan = plan_year(of, seconds=1.0)
    (first,) = [visit for visit in plan.visits if visit.target == "first"]
    (second,) = [visit for visit in plan.visits if visit.target == "second"]
    assert first.evening != second.evening
    (swap,) = why_then(plan, of, "first").alternatives
    assert swap.evening == second.evening
    assert swap.gives_way == (GivesWay("second", second.evening, first.evening),)
    assert swap.cost > 0


def test_what_falls_out_is_told() -> None:
    short = EveningRule(start=time(20), finish=time(21, 15))
    stays, last = replace(ORION, name="stays"), date(2027, 1, 2)
    bound = replace(ORION, name="bound", earliest=last, latest=last, priority=2)
    of = scenario(stays, bound, nights=2, rule=short)
    plan = plan_year(of, seconds=1.0)
    (only,) = why_then(plan, of, "stays").alternatives
    assert only.gives_way == (GivesWay("bound", last, None),)


def test_nights_too_near_the_targets_other_visits_are_not_offered() -> None:
    of = scenario(replace(JUPITER, visits=2, spacing_days=10), nights=20)
    plan = plan_year(of, seconds=1.0)
    first, second = sorted(visit.evening for visit in plan.visits)
    moved: WhyThen = why_then(plan, of, "Jupiter", second)
    assert moved.evening == second
    assert moved.alternatives
    assert all(abs((one.evening - first).days) >= 10 for one in moved.alternatives)


def test_a_limit_on_nights_out_makes_another_night_give_way() -> None:
    of = limited(scenario(ORION, ANDROMEDA, nights=6, start=date(2027, 1, 4)), nights_per_week=1)
    plan = plan_year(of, seconds=1.0)
    assert len({visit.evening for visit in plan.visits}) == 1
    for one in why_then(plan, of, "M 42").alternatives:
        assert [way.target for way in one.gives_way] == ["M 31"]


def test_the_visit_stands_as_told_there() -> None:
    of = SEASONS["crowded"]
    plan = plan_year(of, seconds=1.0)
    answer = why_then(plan, of, "M 42")
    (own,) = [visit for visit in plan.visits if visit.target == "M 42"]
    assert (answer.time, answer.sight, answer.evening) == (own.time, own.sight, own.evening)
    for one in answer.alternatives:
        assert one.time.minutes == 20
        assert 20 <= one.sight.altitude_deg <= 30
        assert (
            timedelta(0)
            < one.time.start
            - own.time.start.replace(
                year=one.evening.year, month=one.evening.month, day=one.evening.day, hour=12, minute=0
            )
            < timedelta(hours=18)
        )


def test_a_plan_of_another_scenario_is_told() -> None:
    of = SEASONS["room to spare"]
    plan = plan_year(of, seconds=0.5)
    for other in (
        limited(of, nights_per_week=1),
        replace(of, clear_odds=replace(of.clear_odds, monthly=(0.2,) * 12)),
        replace(of, targets=of.targets[:2]),
    ):
        with pytest.raises(InvalidValue, match="a plan of this scenario as it stands now"):
            why_then(plan, other, "M 42")
    with pytest.raises(UnknownName, match="did you mean M 42"):
        why_then(plan, of, "M 43")
    with pytest.raises(InvalidValue, match="an evening on which M 42 is visited"):
        why_then(plan, of, "M 42", date(2030, 1, 1))


def test_a_plans_visits_are_found_again_and_are_worth_its_objective() -> None:
    for of in SEASONS.values():
        plan = plan_year(of, seconds=1.0)
        made = made_ready(of)
        problem = made.priced().problem
        rows, starts = rows_of(plan, made, problem)
        assert len(rows) == len(plan.visits)
        # settling may put a visit of a fair stretch where the prime one begins, never the other way round
        assert problem.worth_of(rows) >= plan.objective - 1e-9
        assert np.isclose(problem.worth_of(rows), plan.objective, atol=0.02)
        assert (np.diff(np.sort(starts)) > 0).all()


def test_another_name_will_do() -> None:
    of = scenario(replace(ORION, also_known_as="Orion Nebula"), ALBIREO, nights=3)
    plan = plan_year(of, seconds=0.5)
    assert why_then(plan, of, "orion nebula").target == "M 42"


def test_announced_nights_are_neither_asked_about_nor_offered_nor_changed() -> None:
    of = SEASONS["crowded"]
    plan = plan_year(of, seconds=1.0)
    evenings = sorted({visit.evening for visit in plan.visits})
    told = replace(of, availability=replace(of.availability, announced=frozenset(evenings[:1])))
    again = replan(plan, told, seconds=1.0)
    assert again.announced == tuple(evenings[:1])
    for visit in again.visits:
        if visit.evening in again.announced:
            with pytest.raises(InvalidValue, match="what was announced stands"):
                why_then(again, told, visit.target)
            continue
        for one in why_then(again, told, visit.target).alternatives:
            assert one.evening not in again.announced
            moved = {evening for way in one.gives_way for evening in (way.evening, way.to)}
            assert moved.isdisjoint(again.announced)


def test_a_week_whose_nights_out_are_used_up_is_no_alternative() -> None:
    of = limited(scenario(ORION, *STARS, nights=16, rule=TIGHT), nights_per_week=1)
    plan = plan_year(of, seconds=1.0)
    first = min(visit.evening for visit in plan.visits)
    log = OutcomeLog((Outcome(first, Went.CLEAR),))
    logged = replace(of, outcomes=log)
    again = replan(plan, logged, seconds=1.0)
    week = first.isocalendar()[:2]
    for visit in again.visits:
        assert visit.evening.isocalendar()[:2] != week
        for one in why_then(again, logged, visit.target, visit.evening).alternatives:
            assert one.evening.isocalendar()[:2] != week
