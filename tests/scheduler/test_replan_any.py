"""Any season, any log, any plan before: the new plan is sound, tells its changes, keeps what was told."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, time

from hypothesis import HealthCheck, Phase, assume, event, given, settings
from hypothesis import strategies as st

from scheduler.check import breaches_of, breaches_of_changes
from scheduler.domain import EveningRule, Outcome, OutcomeLog, Plan, Routine, Scenario, Target, Went
from scheduler.export import plan_from_json, plan_to_json
from scheduler.replanning import replan
from scheduler.year import plan_year
from tests.small_season import scenario, star
from tests.strategies import scenarios


@st.composite
def logs(draw: st.DrawFn, plan: Plan, evenings: tuple[date, ...]) -> OutcomeLog:
    """Return a log of the season's first evenings: mostly what was planned, sometimes anything."""
    lines = []
    for evening in evenings[: draw(st.integers(1, len(evenings)))]:
        planned = [visit.target for visit in plan.visits if visit.evening == evening]
        if not planned and draw(st.integers(0, 3)):
            continue
        went = draw(st.sampled_from(Went))
        seen: set[str] = set()
        if went in (Went.CLEAR, Went.PART_CLEAR):
            names = planned if draw(st.booleans()) else [target.name for target in plan.targets]
            seen = draw(st.sets(st.sampled_from(names), max_size=4)) if names else set()
        lines.append(Outcome(evening, went, seen=tuple(sorted(seen))))
    return OutcomeLog(tuple(lines))


@st.composite
def edits(draw: st.DrawFn, of: Scenario, plan: Plan) -> Scenario:
    """Return the scenario with evenings announced, and at times with changed wishes, evenings or routine."""
    planned = sorted({visit.evening for visit in plan.visits})
    announced = draw(st.sets(st.sampled_from(planned), max_size=3)) if planned else set()
    availability = replace(of.availability, announced=frozenset(announced))
    if draw(st.integers(0, 2)) == 0:
        away = draw(st.sets(st.sampled_from(of.season.evenings), max_size=4))
        availability = replace(availability, away=availability.away | away)
    if draw(st.integers(0, 2)) == 0:
        availability = replace(availability, nights_per_week=draw(st.none() | st.integers(1, 2)))
    targets: tuple[Target, ...] = of.targets
    if draw(st.integers(0, 2)) == 0:
        targets = tuple(
            replace(
                target, visits=draw(st.integers(1, 3)), minutes=draw(st.sampled_from([target.minutes, 25]))
            )
            for target in targets
        )
    routine = of.routine
    if draw(st.integers(0, 3)) == 0:
        routine = Routine(routine.setup_min, routine.dark_adaptation_min, draw(st.integers(0, 20)))
    routine = replace(routine, steadiness=draw(st.sampled_from([0.0, 0.05, 1.0])))
    return replace(of, availability=availability, targets=targets, routine=routine)


@st.composite
def crowded(draw: st.DrawFn) -> Scenario:
    """Return a season of short evenings for which many stars compete, some of them wanted in series."""
    stars = []
    for place in range(draw(st.integers(3, 9))):
        spacing_days = draw(st.integers(1, 5))
        stars.append(star(
            f"Star {place}", 50.0 + 12.0 * place, 45.0, minutes=draw(st.sampled_from([15, 25, 40])),
            priority=draw(st.integers(1, 5)), visits=draw(st.integers(1, 3)), spacing_days=spacing_days,
            longest_spacing_days=draw(st.none() | st.integers(spacing_days, 7)),
        ))  # fmt: skip
    made = scenario(
        *stars, rule=EveningRule(start=time(20), finish=time(21, 30)), nights=draw(st.integers(6, 16))
    )
    a_week = draw(st.none() | st.integers(1, 4))
    return replace(made, availability=replace(made.availability, nights_per_week=a_week))


@settings(max_examples=36, derandomize=True, phases=[Phase.generate],
          suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])  # fmt: skip
@given(data=st.data(), drawn=crowded() | crowded() | scenarios())
def test_any_night_lost_gives_a_sound_plan_whose_changes_are_complete(
    data: st.DataObject, drawn: Scenario
) -> None:
    drawn = replace(drawn, clear_odds=replace(drawn.clear_odds, monthly=(0.5,) * 12))
    first = plan_year(drawn, seconds=0.1)
    assume(first.visits)
    edited = data.draw(edits(drawn, first))
    log = data.draw(logs(first, drawn.season.evenings))
    second = replan(first, replace(edited, outcomes=log), seconds=0.1)
    assert breaches_of(second) == ()
    assert breaches_of_changes(second, first) == ()
    assert plan_from_json(plan_to_json(second)) == second
    assert second.version == first.version + 1
    assert told(second) == differences(first, second)
    for change in second.changes:
        event(change.reason.value)


def differences(first: Plan, second: Plan) -> Counter[tuple[str, str, date]]:
    """Return what is gone and what is new, each visit once; what was seen on its own evening is neither."""
    before = Counter((visit.target, visit.evening) for visit in first.visits)
    now = Counter((visit.target, visit.evening) for visit in second.visits)
    seen = {(name, outcome.evening) for outcome in second.log for name in outcome.seen}
    gone = Counter(("gone", *pair) for pair in (before - now).elements() if pair not in seen)
    return gone + Counter(("new", *pair) for pair in (now - before).elements())


def told(plan: Plan) -> Counter[tuple[str, str, date]]:
    """Return the same as the plan's changes tell it."""
    moved = [change for change in plan.changes if change.before != change.after]
    found = Counter(("gone", change.target, change.before) for change in moved if change.before)
    return found + Counter(("new", change.target, change.after) for change in moved if change.after)
