"""Any two versions of a plan side by side: what moved, came, went and shifted, and why where that is told."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from datetime import date, time, timedelta
from functools import cache

import pytest

from scheduler.answers import answer_to_json
from scheduler.changes import changes_of
from scheduler.differences import differences_of
from scheduler.domain import (
    Change,
    ChangeReason,
    Difference,
    Differences,
    EveningRule,
    Outcome,
    OutcomeLog,
    Plan,
    Scenario,
    Span,
    Trip,
    Visit,
    Went,
)
from scheduler.errors import InvalidValue
from scheduler.ready import made_ready
from scheduler.replanning import replan
from scheduler.year import plan_year
from tests.small_plan import FIRST, SECOND, SITE, night, plan, utc, visit
from tests.small_season import OMEGA, scenario, star

STARS = [star(f"Star {n}", 55.0 + 9.0 * n, 45.0, minutes=25, priority=2 + n % 3) for n in range(9)]
SEASON = scenario(*STARS, OMEGA, rule=EveningRule(start=time(20), finish=time(21, 45)), nights=24)


def second(*visits: Visit, **changes: object) -> Plan:
    """Return the small plan's next version with these visits."""
    return replace(plan(), version=2, visits=visits, **changes)  # type: ignore[arg-type]


def told(found: Differences) -> dict[str, str]:
    return {one.target: one.sort for one in found.visits}


def test_a_visit_moved_gone_new_and_shifted_is_told_with_its_times() -> None:
    jupiter, orion, crab = plan().visits
    later = second(
        replace(jupiter, time=Span(utc(FIRST, 18, 30), utc(FIRST, 18, 45))),
        replace(crab, evening=FIRST, time=Span(utc(FIRST, 21), utc(FIRST, 21, 20))),
        visit("NGC 5139", SECOND, 1, 20, 0, 20),
    )
    found = differences_of(plan(), later)
    assert (found.scenario, found.earlier, found.later, found.alike) == ("larkmoor", 1, 2, 0)
    assert found.visits == (
        Difference("Jupiter", FIRST, FIRST, jupiter.time, later.visits[0].time),
        Difference("M 42", FIRST, None, orion.time, None),
        Difference("M 1", SECOND, FIRST, crab.time, later.visits[1].time),
        Difference("NGC 5139", None, SECOND, None, later.visits[2].time),
    )
    assert told(found) == {"Jupiter": "shifted", "M 42": "gone", "M 1": "moved", "NGC 5139": "new"}


def test_versions_with_the_same_visits_do_not_differ() -> None:
    found = differences_of(plan(), replace(plan(), version=7, seed=3))
    assert (found.visits, found.alike, found.sites) == ((), 3, ())


def test_what_was_seen_on_its_evening_is_no_difference() -> None:
    log = (Outcome(FIRST, Went.CLEAR, seen=("Jupiter",)),)
    found = differences_of(plan(), second(plan().visits[2], log=log))
    assert told(found) == {"M 42": "gone"}
    assert (found.alike, found.seen) == (1, 1)


def test_an_evening_spent_at_another_site_is_told() -> None:
    moss = Trip(replace(SITE, name="Moss"), 60, 0.5)
    away = replace(night(FIRST), trip=moss)
    found = differences_of(plan(), second(*plan().visits, nights=(away, night(SECOND))))
    assert found.visits == ()
    assert found.sites == (f"{FIRST} is spent at Moss now, at Larkmoor before",)


@pytest.mark.parametrize("version", [1, 2])
def test_an_earlier_version_is_not_taken_for_the_later_one(version: int) -> None:
    with pytest.raises(InvalidValue, match="later plan"):
        differences_of(replace(plan(), version=2), replace(plan(), version=version))


def test_reasons_are_told_for_the_version_just_before_only() -> None:
    orion, why = plan().visits[1], ChangeReason.CLOUDED_OUT
    change = Change("M 42", FIRST, SECOND, why, f"{FIRST} was clouded out")
    there = replace(orion, evening=SECOND, time=Span(utc(SECOND, 22), utc(SECOND, 22, 20)))
    later = second(plan().visits[0], plan().visits[2], there, changes=(change,))
    (found,) = differences_of(plan(), later).visits
    assert (found.reason, found.words) == (why, change.words)
    (found,) = differences_of(plan(), replace(later, version=3)).visits
    assert (found.reason, found.words) == (None, "")


def test_a_version_made_from_another_one_has_no_reasons_to_tell() -> None:
    jupiter, orion, crab = plan().visits
    gone = Change("M 42", FIRST, None, ChangeReason.GIVEN_UP, "no longer placed")
    for visits, changes in (
        ((jupiter,), (gone,)),  # the Crab is gone too, which it does not tell
        ((jupiter, crab), (gone, replace(gone, target="M 1", before=SECOND))),  # it tells more than there is
    ):
        found = differences_of(plan(), second(*visits, changes=changes))
        assert {one.reason for one in found.visits} == {None}
    (told_now,) = differences_of(plan(), second(jupiter, crab, changes=(gone,))).visits
    assert told_now.reason is ChangeReason.GIVEN_UP
    assert orion.target == told_now.target


@cache
def versions() -> tuple[Plan, Plan, Plan]:
    first = plan_year(SEASON, seconds=0.5)
    lost, told_of = sorted({visit.evening for visit in first.visits})[:2]
    after = _logged(Outcome(lost, Went.CLOUDED_OUT), announced=told_of)
    again = replan(first, after, seconds=0.5)
    late = replace(after.availability.rules[0], start=time(20, 20))
    later = _logged(
        *after.outcomes.lines, Outcome(lost + timedelta(days=1), Went.COULD_NOT_GO), announced=told_of
    )
    later = replace(later, availability=replace(later.availability, rules=(late,)))
    return first, again, replan(again, later, seconds=0.5)


def _logged(*outcomes: Outcome, announced: date) -> Scenario:
    told = replace(SEASON.availability, announced=frozenset({announced}))
    return replace(SEASON, outcomes=OutcomeLog(outcomes), availability=told)


@pytest.mark.parametrize("step", [0, 1])
def test_differences_from_the_version_before_are_its_changes_with_their_reasons(step: int) -> None:
    before, after = versions()[step : step + 2]
    found = differences_of(before, after)
    explained = {
        (one.target, one.before, one.after, one.reason, one.words) for one in found.visits if one.reason
    }
    assert explained == {(c.target, c.before, c.after, c.reason, c.words) for c in after.changes}
    assert explained
    assert {one.sort for one in found.visits if not one.reason} <= {"shifted"}


def test_versions_farther_apart_are_compared_as_if_one_followed_the_other() -> None:
    first, _, last = versions()
    found = differences_of(first, last)
    assert all(one.reason is None for one in found.visits)
    ready = made_ready(replace(SEASON, outcomes=OutcomeLog(last.log), availability=last.availability))
    direct = changes_of(first, last, ready.shown_in(last))
    moved = [(one.target, one.before, one.after) for one in found.visits if one.sort != "shifted"]
    assert Counter(moved) == Counter((c.target, c.before, c.after) for c in direct if c.before != c.after)


def test_differences_are_told_as_json() -> None:
    first, again, _ = versions()
    found = differences_of(first, again)
    body = json.loads(answer_to_json(found))
    assert (body["earlier"], body["later"], body["alike"]) == (1, 2, found.alike)
    for one, read in zip(found.visits, body["visits"], strict=True):
        assert (read["target"], read["sort"], read["words"]) == (one.target, one.sort, one.words)
        assert read["reason"] == (one.reason and one.reason.value)
        assert (read["time_after"] is None) == (one.after is None)
