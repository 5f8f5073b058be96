"""The rest of a year planned anew after nights in the log."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, time, timedelta
from typing import Any

import pytest

from scheduler import writing, year
from scheduler.assignment import assign
from scheduler.changes import changes_of
from scheduler.check import breaches_of, breaches_of_changes
from scheduler.domain import (
    Change,
    ChangeReason,
    EveningRule,
    Outcome,
    OutcomeLog,
    Plan,
    Reason,
    Scenario,
    Sighting,
    Target,
    Went,
)
from scheduler.errors import InvalidValue, PlanRejected
from scheduler.export import changes_csv, plan_to_json
from scheduler.replanning import replan
from scheduler.year import plan_year
from tests.small_season import OMEGA, scenario, star

WHY = ChangeReason
STARS = [star(f"Star {n}", 55.0 + 9.0 * n, 45.0, minutes=25, priority=2 + n % 3) for n in range(9)]
SHORT = EveningRule(start=time(20), finish=time(21, 45))
SMALL = scenario(*STARS, OMEGA, rule=SHORT, nights=24)


@pytest.fixture(scope="module")
def first() -> Plan:
    return plan_year(SMALL, seconds=0.5)


def evenings_of(plan: Plan) -> list[date]:
    return sorted({visit.evening for visit in plan.visits})


def on(plan: Plan, evening: date) -> list[str]:
    return [visit.target for visit in plan.visits if visit.evening == evening]


def after(*outcomes: Outcome, of: Scenario = SMALL, **changes: Any) -> Scenario:
    """Return the scenario with this log, and parts of its availability changed."""
    return replace(of, outcomes=OutcomeLog(outcomes), availability=replace(of.availability, **changes))


def test_what_was_seen_is_wanted_no_more_and_the_plan_says_so(first: Plan) -> None:
    night = evenings_of(first)[0]
    seen = tuple(on(first, night))
    again = replan(first, after(Outcome(night, Went.CLEAR, seen=seen)), seconds=0.5)
    assert again.seen == tuple(Sighting(night, name) for name in seen)
    touched = {v.target for v in again.visits} | {s.target for s in again.standbys}
    touched |= {u.target for u in again.unplaced}
    assert touched.isdisjoint(seen)
    assert touched == {target.name for target in SMALL.targets} - set(seen)
    assert again.version == first.version + 1
    assert not any(change.target in seen for change in again.changes)


def test_what_was_seen_poorly_or_not_at_all_is_wanted_still(first: Plan) -> None:
    night = evenings_of(first)[0]
    poor, unseen, *seen = on(first, night)
    line = Outcome(night, Went.CLEAR, seen=tuple(seen), seen_poorly=(poor,), not_seen=(unseen,))
    again = replan(first, after(line), seconds=0.5)
    assert {poor, unseen} <= {visit.target for visit in again.visits}
    lost = {change.target: change for change in again.changes if change.before == night}
    assert {name: change.reason for name, change in lost.items()} == {
        poor: WHY.NOT_SEEN,
        unseen: WHY.NOT_SEEN,
    }


@pytest.mark.parametrize(("went", "reason"), [
    (Went.CLOUDED_OUT, WHY.CLOUDED_OUT), (Went.COULD_NOT_GO, WHY.COULD_NOT_GO), (Went.CLEAR, WHY.NOT_SEEN),
])  # fmt: skip
def test_a_lost_night_is_the_reason_of_its_visits_changes(first: Plan, went: Went, reason: WHY) -> None:
    night = evenings_of(first)[0]
    again = replan(first, after(Outcome(night, went)), seconds=0.5)
    lost = [change for change in again.changes if change.before == night]
    assert sorted(change.target for change in lost) == sorted(on(first, night))
    assert {change.reason for change in lost} == {reason}
    assert all(change.after is None or change.after > night for change in lost)


def test_a_night_the_log_passes_over_is_past(first: Plan) -> None:
    night = evenings_of(first)[0]
    again = replan(first, after(Outcome(night + timedelta(days=1), Went.COULD_NOT_GO)), seconds=0.5)
    assert {c.reason for c in again.changes if c.before == night} == {WHY.PAST}


def test_without_news_nothing_changes(first: Plan) -> None:
    again = replan(first, SMALL, seconds=0.5)
    assert again.changes == ()
    assert {(v.target, v.evening) for v in again.visits} == {(v.target, v.evening) for v in first.visits}
    assert again.objective == pytest.approx(first.objective)
    assert again.bound <= first.bound * (1 + 1e-3)


def test_two_replans_from_one_state_are_the_same_bytes_and_a_corrected_line_counts_alone(first: Plan) -> None:
    night = evenings_of(first)[0]
    wrong = Outcome(night, Went.CLOUDED_OUT)
    right = Outcome(night, Went.CLEAR, seen=tuple(on(first, night)))
    once, twice = (plan_to_json(replan(first, after(right), seconds=0.5)) for _ in "12")
    assert once == twice
    assert plan_to_json(replan(first, after(wrong, right), seconds=0.5)) == once
    assert plan_to_json(replan(first, after(right, wrong), seconds=0.5)) != once


def test_an_announced_night_stands_at_its_times_whatever_else_is_lost(first: Plan) -> None:
    lost, told = evenings_of(first)[:2]
    asked = after(Outcome(lost, Went.CLOUDED_OUT), announced=frozenset({told}))
    again = replan(first, asked, seconds=0.5)
    assert again.announced == (told,)
    before = {(v.target, v.time) for v in first.visits if v.evening == told}
    assert before <= {(v.target, v.time) for v in again.visits if v.evening == told}
    assert breaches_of_changes(again, first) == ()


@pytest.mark.parametrize(("news", "reason"), [
    (lambda of, told, name: _away(of, told), WHY.NOT_FREE),
    (lambda of, told, name: _without(of, name), WHY.OFF_LIST),
    (lambda of, told, name: _dated(of, name, told - timedelta(days=1)), WHY.NOT_SHOWN),
])  # fmt: skip
def test_only_what_is_forced_takes_an_announced_visit_away(
    first: Plan, news: Callable[[Scenario, date, str], Scenario], reason: WHY
) -> None:
    told = evenings_of(first)[1]
    name = on(first, told)[0]
    asked = after(Outcome(first.season.start, Went.COULD_NOT_GO), announced=frozenset({told}))
    again = replan(first, news(asked, told, name), seconds=0.5)
    (change,) = (c for c in again.changes if (c.target, c.before) == (name, told))
    assert change.reason is reason
    assert change.reason.forced
    if reason is not WHY.NOT_FREE:
        assert set(on(first, told)) - {name} <= set(on(again, told))


def _away(of: Scenario, evening: date) -> Scenario:
    return replace(of, availability=replace(of.availability, away=frozenset({evening})))


def _without(of: Scenario, name: str) -> Scenario:
    return replace(of, targets=tuple(target for target in of.targets if target.name != name))


def _dated(of: Scenario, name: str, latest: date) -> Scenario:
    """Return the scenario with one target wanted until a date only."""
    return replace(of, targets=tuple(replace(t, latest=latest) if t.name == name else t for t in of.targets))


def test_a_target_seen_early_leaves_its_announced_night(first: Plan) -> None:
    told = evenings_of(first)[-1]
    name = on(first, told)[0]
    line = Outcome(first.season.start, Went.CLEAR, seen=(name,))
    again = replan(first, after(line, announced=frozenset({told})), seconds=0.5)
    assert name not in on(again, told)
    (change,) = (c for c in again.changes if (c.target, c.before) == (name, told))
    assert (change.after, change.reason) == (None, WHY.SEEN)
    assert str(first.season.start) in change.words


def test_announced_visits_shift_where_the_evening_begins_later(first: Plan) -> None:
    told = evenings_of(first)[1]
    asked = after(announced=frozenset({told}), rules=(EveningRule(start=time(20, 30), finish=time(22, 15)),))
    again = replan(first, asked, seconds=0.5)
    shifted = [change for change in again.changes if change.before == change.after]
    assert {change.reason for change in shifted} == {WHY.SHIFTED}
    assert on(first, told)[0] in {change.target for change in shifted}
    assert set(on(first, told)) <= set(on(again, told))


def test_where_an_announced_night_gets_too_short_what_is_worth_least_falls_away(first: Plan) -> None:
    told = evenings_of(first)[1]
    asked = after(announced=frozenset({told}), rules=(EveningRule(start=time(20), finish=time(21, 20)),))
    again = replan(first, asked, seconds=0.5)
    gone = [change for change in again.changes if change.before == told]
    assert {change.reason for change in gone} <= {WHY.NO_ROOM, WHY.SHIFTED, WHY.NOT_SHOWN}
    assert {change.reason for change in gone} & {WHY.NO_ROOM, WHY.NOT_SHOWN}
    assert again.announced == (told,)


def test_limits_give_way_to_what_was_announced_and_the_plan_says_so(first: Plan) -> None:
    told = evenings_of(first)[:2]
    strict = after(announced=frozenset(told), nights_per_month=1)
    again = replan(first, strict, seconds=0.5)
    assert again.announced == tuple(told)
    assert evenings_of(again) == told
    (note,) = again.notes
    assert note.startswith(f"2 nights out in the month from {first.season.start}, your limit is 1")
    assert {c.reason for c in again.changes} == {WHY.NIGHTS_LIMIT}
    assert len(evenings_of(replan(first, replace(strict, availability=replace(
        strict.availability, announced=frozenset()
    )), seconds=0.5))) == 1  # fmt: skip


def test_nights_spent_outside_count_against_the_limits() -> None:
    stars = scenario(*STARS, rule=SHORT, start=date(2027, 1, 11), nights=7)
    out = Outcome(date(2027, 1, 11), Went.PART_CLEAR)
    for log, limit, nights in (
        ((), 1, 1),
        ((out,), 1, 0),
        ((out,), 2, 1),
        ((replace(out, went=Went.CLOUDED_OUT),), 1, 1),
    ):
        made = plan_year(after(*log, of=stars, nights_per_week=limit), seconds=0.3)
        assert len(evenings_of(made)) == nights
    none = plan_year(after(out, of=stars, nights_per_week=1), seconds=0.3)
    assert {entry.reason for entry in none.unplaced} == {Reason.NIGHTS_LIMIT}


def _often(**wish: Any) -> Scenario:
    return scenario(replace(STARS[0], **wish), rule=SHORT, nights=24)


def _with(log: tuple[Outcome, ...], **wish: Any) -> Plan:
    return plan_year(replace(_often(**wish), outcomes=OutcomeLog(log)), seconds=0.3)


def test_the_spacing_counts_from_the_last_time_seen() -> None:
    line = Outcome(date(2027, 1, 6), Went.CLEAR, seen=("Star 0",))
    plan = _with((line,), visits=3, spacing_days=7)
    assert len(plan.visits) == 2
    assert min(evenings_of(plan)) >= date(2027, 1, 13)
    assert all(standby.evening >= date(2027, 1, 13) for standby in plan.standbys)
    late = _with((line,), visits=2, spacing_days=30)
    assert (late.visits, late.standbys) == ((), ())
    (left,) = late.unplaced
    assert (left.missing, left.reason) == (1, Reason.SPACING)
    assert left.words == "seen on 2027-01-06, and no suitable free night is left 30 days later or more"


def test_a_series_goes_on_within_its_longest_spacing_or_begins_anew() -> None:
    line = Outcome(date(2027, 1, 6), Went.CLEAR, seen=("Star 0",))
    wish = {"visits": 3, "spacing_days": 4, "longest_spacing_days": 6}
    plan = _with((line,), **wish)
    assert date(2027, 1, 10) <= min(evenings_of(plan)) <= date(2027, 1, 12)
    assert plan.notes == ()
    clouds = Outcome(date(2027, 1, 14), Went.CLOUDED_OUT)
    broken = _with((line, clouds), **wish)
    assert len(broken.visits) == 2
    assert min(evenings_of(broken)) > date(2027, 1, 14)
    note, gap = broken.notes
    assert note.startswith("Star 0 was last seen on 2027-01-06, and within the 6 days")
    assert gap.startswith("the log goes on to 2027-01-14: 12 free evenings")


def test_who_is_seen_oftener_than_wanted_is_simply_done() -> None:
    log = tuple(Outcome(date(2027, 1, day), Went.CLEAR, seen=("Star 0",)) for day in (2, 3, 4))
    plan = _with(log, visits=2)
    assert (plan.visits, plan.standbys, plan.unplaced) == ((), (), ())
    assert len(plan.seen) == 3
    assert (plan.objective, plan.bound) == (0.0, 0.0)


def test_steadiness_keeps_visits_where_they_are(first: Plan) -> None:
    night = evenings_of(first)[0]
    lost = after(Outcome(night, Went.CLOUDED_OUT))
    later = {(v.target, v.evening) for v in first.visits if v.evening > night}

    def moved(steadiness: float) -> int:
        steady = replace(lost, routine=replace(lost.routine, steadiness=steadiness))
        again = replan(first, steady, seconds=0.5)
        assert breaches_of(again) == ()
        return len(later - {(v.target, v.evening) for v in again.visits})

    assert moved(1.0) <= moved(0.05) <= moved(0.0)
    assert moved(1.0) == 0


def test_whoever_makes_room_is_told_for_whom() -> None:
    night = EveningRule(start=time(20), finish=time(21, 20))
    modest = replace(STARS[0], name="modest", priority=1)
    dear = replace(STARS[0], name="dear", priority=5, latest=date(2027, 1, 2))
    of = scenario(modest, dear, rule=night, nights=4, clear_odds=replace(SMALL.clear_odds, persistence=0.0))
    before = plan_year(of, seconds=0.3)
    when = {visit.target: visit.evening for visit in before.visits}
    assert when == {"dear": date(2027, 1, 1), "modest": date(2027, 1, 2)}
    again = replan(before, after(Outcome(date(2027, 1, 1), Went.CLOUDED_OUT), of=of), seconds=0.3)
    (change,) = (change for change in again.changes if change.target == "modest")
    assert change.reason is WHY.MADE_ROOM
    assert change.words == "made room for dear, whose night of 2027-01-01 is past"


def test_a_new_wish_is_newly_placed(first: Plan) -> None:
    wished = replace(SMALL, targets=(*SMALL.targets, star("fresh", 100.0, 50.0, minutes=10)))
    again = replan(first, wished, seconds=0.5)
    (change,) = (change for change in again.changes if change.target == "fresh")
    assert (change.before, change.reason, change.words) == (None, WHY.NEWLY_PLACED, "new on the wish-list")
    line = changes_csv(again).splitlines()
    assert line[0] == "target,kind,from_evening,to_evening,reason,words"
    assert f"fresh,deep-sky object,,{change.after},newly placed,new on the wish-list" in line


def test_a_plan_of_quite_another_scenario_is_refused(first: Plan) -> None:
    with pytest.raises(InvalidValue, match="shares at least one target"):
        replan(first, scenario(Target("Jupiter", OMEGA.kind, 10.0, 10.0)))


def test_a_search_that_moves_what_was_announced_is_rejected(
    first: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = changes_of

    def silent(*args: Any) -> tuple[Change, ...]:
        return honest(*args)[1:]

    monkeypatch.setattr(writing, "changes_of", silent)
    with pytest.raises(PlanRejected, match="no change tells it"):
        replan(first, after(Outcome(evenings_of(first)[0], Went.CLOUDED_OUT)), seconds=0.5)


def test_the_search_begins_with_the_plan_before(first: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[Any] = []

    def watched(*args: Any, **words: Any) -> Any:
        begun.append(words["begin"])
        return assign(*args, **words)

    monkeypatch.setattr(year, "assign", watched)
    replan(first, SMALL, seconds=0.5)
    rows, starts = begun[0]
    assert len(rows) == len(starts) == len(first.visits)


def test_other_visits_keep_their_spacing_from_one_announced() -> None:
    of = _often(visits=3, spacing_days=6)
    before = plan_year(of, seconds=0.3)
    told = evenings_of(before)[1]
    soon = Outcome(told - timedelta(days=3), Went.COULD_NOT_GO)
    again = replan(before, after(soon, of=of, announced=frozenset({told})), seconds=0.3)
    others = [evening for evening in evenings_of(again) if evening != told]
    assert again.announced == (told,)
    assert others
    assert all(abs((evening - told).days) >= 6 for evening in others)


def test_a_plan_made_anew_after_successes_tells_sound_odds(first: Plan) -> None:
    night = evenings_of(first)[0]
    seen = tuple(on(first, night))
    again = replan(first, after(Outcome(night, Went.CLEAR, seen=seen)), seconds=0.5, years=20)
    assert again.odds is not None
    assert all(again.odds.of(name).completion_odds == 1.0 for name in seen)
    assert again.odds.expected >= len(seen)
    everything = after(Outcome(night, Went.CLEAR, seen=tuple(star.name for star in STARS)))
    done = replan(first, everything, seconds=0.5, years=5)
    assert done.visits == ()
    assert done.odds is not None
    assert done.odds.expected == len(STARS)


def test_an_announced_evening_that_is_not_free_is_told() -> None:
    away = date(2027, 1, 5)
    told = after(announced=frozenset({away, date(2028, 1, 1)}), away=frozenset({away}))
    notes = plan_year(told, seconds=0.3).notes
    assert sum("is announced, but no free evening" in note for note in notes) == 2


def test_a_log_that_runs_far_ahead_is_told() -> None:
    late = after(Outcome(date(2027, 1, 20), Went.CLOUDED_OUT))
    (note,) = plan_year(late, seconds=0.3).notes
    silent = "19 free evenings before that have no line and count as past"
    assert note == f"the log goes on to 2027-01-20: {silent}"
    early = after(Outcome(date(2027, 1, 5), Went.CLOUDED_OUT))
    assert plan_year(early, seconds=0.3).notes == ()
