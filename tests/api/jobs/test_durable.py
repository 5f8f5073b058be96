from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import Any, TypeAlias

import psycopg
import pytest

from api.errors import AlreadyEnded, NotReady
from api.jobs.patience import HandedBack
from api.storage import JobState, Storage, Work
from scheduler.errors import PlanRejected

from ..databases import Where
from ..stand_ins import StandInPlanner
from .benches import Bench, bench_on, child_hands, wait_for

StartBench: TypeAlias = Callable[..., Bench]
SOON_S = 30.0
"""Far more than it takes, far less than what is held would last."""


@pytest.fixture
def start(database: Where, planner: StandInPlanner) -> Iterator[StartBench]:
    """Start jobs on one database, one after another; all are stopped at the end."""
    with ExitStack() as running:

        def opened(**options: Any) -> Bench:
            bench = bench_on(database, planner, **options)
            running.callback(bench.close)
            return bench

        yield opened
        planner.let_go.set()


@pytest.fixture
def bench(start: StartBench) -> Bench:
    return start()


def test_a_plan_is_made_without_odds_where_none_are_wanted(bench: Bench, planner: StandInPlanner) -> None:
    scenario = bench.scenario()
    record = bench.ended(bench.start(scenario, seed=7))
    assert (record.state, record.stage, record.fraction) == (JobState.DONE, "done", 1.0)
    assert (record.objective, record.bound) == (3.5, 4.0)
    assert record.plan is not None
    kept = json.loads(bench.storage.plans.file(record.plan, "plan.json").text)
    assert (kept["version"], kept["seed"], kept["odds"]) == (1, 7, None)
    assert planner.lived == []


def test_years_are_lived_through_in_shares_and_joined(bench: Bench, planner: StandInPlanner) -> None:
    plan = bench.planned(years=120)
    kept = json.loads(bench.storage.plans.file(plan, "plan.json").text)
    assert kept["odds"] == {"years": 120}
    assert sorted(share[:2] for share in planner.lived) == [(0, 50), (50, 50), (100, 20)]


def test_versions_of_a_scenario_count_up(bench: Bench) -> None:
    scenario = bench.scenario()
    plans = [bench.planned(scenario) for _ in range(2)]
    assert [bench.storage.plans.get(plan).version for plan in plans] == [1, 2]


def test_a_re_plan_follows_the_plan_it_was_asked_to(bench: Bench) -> None:
    scenario = bench.scenario()
    first = bench.planned(scenario)
    record = bench.ended(bench.start(scenario, Work.REPLAN, plan=first, years=50))
    assert record.plan is not None
    made = bench.storage.plans.get(record.plan)
    assert (made.version, made.previous) == (2, first)
    assert json.loads(bench.storage.plans.file(record.plan, "plan.json").text)["odds"] == {"years": 50}


def test_more_years_for_a_kept_plan_are_an_answer(bench: Bench) -> None:
    scenario = bench.scenario()
    plan = bench.planned(scenario)
    record = bench.ended(bench.start(scenario, Work.ODDS, plan=plan, seed=4, years=100))
    assert (record.state, record.plan) == (JobState.DONE, None)
    assert json.loads(bench.storage.jobs.answer(record.id)) == {"years": 100, "seed": 4}
    assert bench.plans(scenario) == 1


def test_a_question_about_a_plan_ends_with_its_answer(bench: Bench) -> None:
    scenario = bench.scenario()
    plan = bench.planned(scenario)
    record = bench.ended(bench.start(scenario, Work.WHY, plan=plan, target="M 13"))
    assert record.state is JobState.DONE
    answer = json.loads(bench.storage.jobs.answer(record.id))
    assert answer == {"of": 1, "scenario": "winter-year", "target": "M 13"}


@pytest.mark.parametrize("work", [Work.PRICES, Work.WHAT_IF])
def test_a_question_about_a_scenario_ends_with_its_answer(bench: Bench, work: Work) -> None:
    record = bench.ended(bench.start(work=work))
    assert record.state is JobState.DONE
    answer = json.loads(bench.storage.jobs.answer(record.id))
    assert answer == {"of": None, "scenario": "winter-year", "target": None}


def test_publishing_lets_the_calendar_show_the_plan(bench: Bench) -> None:
    scenario = bench.scenario()
    plan = bench.planned(scenario)
    record = bench.ended(bench.start(scenario, Work.PUBLISH, plan=plan))
    assert record.state is JobState.DONE
    assert bench.storage.calendars.of(scenario).plan == plan


def test_progress_of_shares_is_merged(bench: Bench, planner: StandInPlanner) -> None:
    """One worker does one share at a time: half of one of two shares, between 0.5 and 0.98 of the job."""
    planner.years_held = True
    job = bench.start(years=100)
    wait_for(lambda: bench.get(job).fraction == pytest.approx(0.5 + 0.48 * 0.25), told=lambda: bench.get(job))
    seen = bench.get(job)
    assert (seen.stage, seen.objective, seen.bound) == ("living through weather years", 3.0, 4.5)
    planner.let_go.set()
    assert bench.ended(job).state is JobState.DONE


def test_a_job_at_work_stops_soon_when_cancelled(bench: Bench, planner: StandInPlanner) -> None:
    planner.held = True
    scenario = bench.scenario()
    job = bench.start(scenario)
    assert planner.began.wait(60)
    began_s = time.monotonic()
    assert bench.jobs.cancel(job).cancelling
    record = bench.ended(job)
    assert time.monotonic() - began_s <= SOON_S
    assert (record.state, record.problem) == (JobState.CANCELLED, None)
    assert bench.plans(scenario) == 0


def test_a_deaf_planner_in_a_child_is_cancelled_soon(start: StartBench, planner: StandInPlanner) -> None:
    planner.held = planner.deaf = True
    bench = start(hands=child_hands(planner))
    job = bench.start()
    assert planner.began.wait(60)
    began_s = time.monotonic()
    bench.jobs.cancel(job)
    record = bench.ended(job)
    took_s = time.monotonic() - began_s
    assert took_s <= SOON_S
    assert record.state is JobState.CANCELLED
    planner.held = False
    assert bench.ended(bench.start()).state is JobState.DONE


def test_living_through_years_is_cancelled_too(bench: Bench, planner: StandInPlanner) -> None:
    planner.years_held = True
    job = bench.start(years=200)
    wait_for(lambda: planner.lived != [])
    began_s = time.monotonic()
    bench.jobs.cancel(job)
    assert bench.ended(job).state is JobState.CANCELLED
    assert time.monotonic() - began_s <= SOON_S
    planner.years_held = False
    assert bench.ended(bench.start(years=100)).state is JobState.DONE
    assert len(planner.lived) == 3, "shares of the cancelled job were done"


def test_a_waiting_job_never_begins_once_cancelled(bench: Bench, planner: StandInPlanner) -> None:
    planner.held = True
    at_work, waiting = bench.start(bench.scenario("first")), bench.start(bench.scenario("second"))
    assert planner.began.wait(60)
    assert bench.jobs.cancel(waiting).state is JobState.CANCELLED
    planner.let_go.set()
    assert bench.ended(at_work).state is JobState.DONE
    assert bench.ended(bench.start(bench.scenario("third"))).state is JobState.DONE
    assert bench.get(waiting).started is None
    assert [asked[0] for asked in planner.asked] == ["first", "third"]


def test_a_done_job_cannot_be_cancelled(bench: Bench) -> None:
    job = bench.start()
    bench.ended(job)
    with pytest.raises(AlreadyEnded):
        bench.jobs.cancel(job)


def test_a_planner_that_fails_says_why(bench: Bench, planner: StandInPlanner) -> None:
    planner.fails_with = PlanRejected(("two visits at once",))
    record = bench.ended(bench.start())
    assert record.state is JobState.FAILED
    assert record.problem is not None
    assert record.problem["type"] == "/problems/plan-rejected"
    assert record.problem["errors"] == [{"detail": "two visits at once"}]


def test_a_planner_that_breaks_fails_its_job_and_no_other(
    bench: Bench, planner: StandInPlanner, caplog: pytest.LogCaptureFixture
) -> None:
    planner.fails_with = ZeroDivisionError("the secret of the cellar")
    record = bench.ended(bench.start())
    assert record.state is JobState.FAILED
    assert record.problem is not None
    assert record.problem["type"] == "/problems/work-failed"
    assert "cellar" not in str(record)
    told = [entry.__dict__["told"] for entry in caplog.records if "told" in entry.__dict__]
    assert [entry["error"] for entry in told] == ["ZeroDivisionError"]
    assert told[0]["reference"] == record.problem["reference"]
    planner.fails_with = None
    assert bench.ended(bench.start()).state is JobState.DONE


def test_jobs_of_several_workers_are_done_side_by_side(start: StartBench, planner: StandInPlanner) -> None:
    bench = start(workers=2)
    planner.held = True
    jobs = [bench.start() for _ in range(3)]
    wait_for(lambda: len(planner.asked) == 2)
    time.sleep(0.6)  # two looks into the queue
    assert [bench.get(job).state for job in jobs] == [JobState.AT_WORK] * 2 + [JobState.WAITING]
    planner.let_go.set()
    assert {bench.ended(job).state for job in jobs} == {JobState.DONE}


def test_closing_hands_work_back_and_the_next_start_goes_on(
    start: StartBench, planner: StandInPlanner, database: Where
) -> None:
    planner.held = True
    first = start()
    scenario = first.scenario()
    at_work, waiting = first.start(scenario), first.start(scenario)
    assert planner.began.wait(60)
    first.close()
    storage = Storage(database)
    assert [storage.jobs.get(job).state for job in (at_work, waiting)] == [JobState.WAITING] * 2
    assert storage.workers.all() == ()
    storage.close()
    planner.held = False
    second = start()
    assert [second.ended(job).state for job in (at_work, waiting)] == [JobState.DONE] * 2
    assert second.plans(scenario) == 2


def test_shares_done_before_a_stop_are_not_done_again(start: StartBench, planner: StandInPlanner) -> None:
    first = start()
    planner.years_held = True
    job = first.start(years=100)
    wait_for(lambda: len(planner.lived) == 1)
    planner.years_held = False
    wait_for(lambda: len(planner.lived) == 2)
    planner.years_held = True
    planner.held = True  # a plan solved again would wait for ever
    first.close()
    planner.years_held = False
    second = start()
    assert second.ended(job).state is JobState.DONE
    assert len(planner.asked) == 1
    assert [share[0] for share in planner.lived].count(0) <= 2


def test_years_under_way_at_a_stop_are_lived_through_after_the_next_start(
    start: StartBench, planner: StandInPlanner
) -> None:
    planner.years_held = True
    first = start()
    job = first.start(years=100)
    wait_for(lambda: planner.lived != [])
    planner.held = True  # a plan solved again would wait for ever
    first.close()
    planner.years_held = False
    second = start()
    assert second.ended(job).state is JobState.DONE
    assert len(planner.asked) == 1


def test_what_the_library_lost_is_carried_anew(
    start: StartBench, planner: StandInPlanner, database: Where
) -> None:
    planner.held = True
    first = start()
    job = first.start()
    assert planner.began.wait(60)
    first.close()
    lose_library_tables(database)
    planner.held = False
    second = start()
    assert second.ended(job).state is JobState.DONE
    assert second.storage.jobs.get(job).plan is not None


def test_a_job_kept_but_never_enqueued_is_found(start: StartBench, database: Where) -> None:
    first = start(workers=0)
    scenario = first.scenario()
    job = first.start(scenario)
    first.close()
    lose_library_tables(database)
    assert start().ended(job).state is JobState.DONE


def test_a_closed_service_is_not_ready(bench: Bench, caplog: pytest.LogCaptureFixture) -> None:
    bench.jobs.check()
    with caplog.at_level(logging.INFO):
        bench.jobs.close()
    with pytest.raises(NotReady, match="stopping"):
        bench.jobs.check()
    assert caplog.text == ""


def lose_library_tables(database: Where) -> None:
    if isinstance(database, str):
        with psycopg.connect(database, autocommit=True) as connection:
            connection.execute("DROP SCHEMA dbos CASCADE")
        return
    for left in database.parent.glob(f"{database.name}-work*"):
        left.unlink()


def test_work_the_library_dropped_is_taken_up_again(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """As it does where it cannot write a part down: the work stays pending under us, and nobody is at it."""
    first = bench.jobs._parts.first
    dropped: list[str] = []

    def drop_once(job: str) -> str | None:
        if not dropped:
            dropped.append(job)
            raise HandedBack
        return first(job)

    monkeypatch.setattr(bench.jobs._parts, "first", drop_once)
    job = bench.start()
    assert bench.ended(job).state is JobState.DONE
    assert dropped == [job]
