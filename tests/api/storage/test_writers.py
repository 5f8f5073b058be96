"""Many writers at once, in threads and in processes: each change is kept once, none is lost."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from typing import TypeAlias

import pytest
from sqlalchemy import text

from api.errors import AlreadyKept, KeyReused, NotReady, Stale, TooManyJobs, VersionTaken
from api.storage import JobState, NewShared, Noun, Storage, Work

from ..databases import Where
from .kept import CLOUD, NEW, a_job, a_plan, a_scenario, begun, jobs_of

Outcome: TypeAlias = "object | Exception"


@pytest.fixture
def two(database: Where) -> Iterator[tuple[Storage, Storage]]:
    """Two engines on one database, which stand for two processes."""
    with ExitStack() as opened:
        storages = [Storage(database) for _ in range(2)]
        for storage in storages:
            opened.callback(storage.close)
        yield storages[0], storages[1]


def at_once(deed: Callable[[int], object], times: int = 24) -> list[Outcome]:
    """Return what each call gave or raised, done by 12 threads."""

    def tried(number: int) -> Outcome:
        try:
            return deed(number)
        except Exception as error:
            return error

    with ThreadPoolExecutor(12) as pool:
        return list(pool.map(tried, range(times)))


def raised(outcomes: list[Outcome]) -> list[type[Exception]]:
    return [type(one) for one in outcomes if isinstance(one, Exception)]


def test_of_many_that_change_the_same_revision_exactly_one_wins(two: tuple[Storage, Storage]) -> None:
    scenario = a_scenario(two[0])
    done = at_once(lambda n: two[n % 2].scenarios.replace(scenario, NEW, frozenset({1})))
    assert raised(done) == [Stale] * 23
    assert two[0].scenarios.get(scenario).revision == 2


def test_no_change_is_lost(two: tuple[Storage, Storage]) -> None:
    """Whoever is told it is stale reads again, so that in the end every change is there."""
    one = two[0].shared[Noun.SITE].add(two[0].clubs.add("Larkmoor").id, NewShared("Hill", {"changes": []})).id

    def change(number: int) -> int:
        kept, tries = two[number % 2].shared[Noun.SITE], 0
        while True:
            tries += 1
            before = kept.get(one)
            changes = [*before.settings["changes"], number]
            try:
                kept.replace(one, NewShared("Hill", {"changes": changes}), frozenset({before.revision}))
            except Stale:
                continue
            return tries

    tries = at_once(change)
    assert raised(tries) == []
    kept = two[0].shared[Noun.SITE].get(one)
    assert sorted(kept.settings["changes"]) == list(range(24))
    assert kept.revision == 25


def test_writers_without_a_condition_wait_for_each_other(two: tuple[Storage, Storage]) -> None:
    scenario = a_scenario(two[0])
    assert raised(at_once(lambda n: two[n % 2].scenarios.replace(scenario, NEW, None), 60)) == []
    assert two[0].scenarios.get(scenario).revision == 61


def test_writers_wait_for_each_other_whatever_the_server_takes_for_granted(database: Where) -> None:
    """A server may be set up for stricter transactions; those would read what stood before the pen came."""
    first = Storage(database)
    if first._database.sqlite:
        first.close()
        return
    with first._database.writing() as connection:
        name = connection.execute(text("SELECT current_database()")).scalar_one()
        connection.execute(
            text(f"ALTER DATABASE {name} SET default_transaction_isolation = 'repeatable read'")
        )
    first.close()
    storages = [Storage(database) for _ in range(2)]
    scenario = a_scenario(storages[0])
    done = at_once(lambda n: storages[n % 2].scenarios.replace(scenario, NEW, None), 60)
    assert raised(done) == []
    assert storages[0].scenarios.get(scenario).revision == 61
    for storage in storages:
        storage.close()


def test_who_waits_too_long_for_the_pen_is_told_to_come_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    storage = Storage(tmp_path / "kept.sqlite3")
    monkeypatch.setattr("api.storage.database.BUSY_TIMEOUT_MS", 20)
    with storage._database.writing(), ThreadPoolExecutor(1) as pool:
        waited = pool.submit(storage.clubs.add, "Larkmoor").exception()
    assert isinstance(waited, NotReady)
    assert storage.clubs.add("Larkmoor").number == 1
    storage.close()


def test_who_waits_too_long_for_another_process_is_told_to_come_again(
    database: Where, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.storage.engines.BUSY_TIMEOUT_MS", 50)
    first, second = Storage(database), Storage(database)
    with first._database.writing(), pytest.raises(NotReady, match=r"locked|lock timeout"):
        second.clubs.add("Larkmoor")
    assert second.clubs.add("Larkmoor").number == 1
    for storage in (first, second):
        storage.close()


def test_of_many_alike_names_one_is_kept(two: tuple[Storage, Storage]) -> None:
    club = two[0].clubs.add("Larkmoor").id
    done = at_once(lambda n: two[n % 2].shared[Noun.MEMBER].add(club, NewShared("Ada", {})))
    assert raised(done) == [AlreadyKept] * 23


def test_lines_added_at_once_make_one_log_without_gaps(two: tuple[Storage, Storage]) -> None:
    scenario = a_scenario(two[0])
    done = at_once(lambda n: two[n % 2].outcomes.add(scenario, [CLOUD, CLOUD], 0))
    assert raised(done) == [Stale] * 23

    def add(number: int) -> object:
        log = two[number % 2].outcomes
        while True:
            try:
                return log.add(scenario, [CLOUD], len(log.lines(scenario)))
            except Stale:
                continue

    assert raised(at_once(add)) == []
    assert [line.line for line in two[0].outcomes.lines(scenario)] == list(range(1, 27))


def test_a_key_of_a_request_makes_one_job(two: tuple[Storage, Storage]) -> None:
    scenario = a_scenario(two[0])
    done = at_once(lambda n: two[n % 2].jobs.add(a_job(scenario, key="again", seed=1, seconds=2.0), 1))
    assert raised(done) == []
    made = [one for one in done if isinstance(one, tuple)]
    assert len({job.id for job, _ in made}) == 1
    assert sorted(fresh for _, fresh in made) == [False] * 23 + [True]


def test_a_key_of_a_request_is_bound_to_it_and_to_its_club(two: tuple[Storage, Storage]) -> None:
    scenario, other = a_scenario(two[0]), a_scenario(two[0])
    jobs = two[0].jobs
    first, fresh = jobs.add(a_job(scenario, key="key", pair=("a", 1), seed=1), 9)
    assert fresh
    assert two[1].jobs.add(a_job(scenario, key="key", pair=("a", 1), seed=1), 0) == (first, False)
    with pytest.raises(KeyReused):
        jobs.add(a_job(scenario, key="key", pair=("a", 1), seed=2), 9)
    with pytest.raises(KeyReused):
        jobs.add(a_job(scenario, Work.ODDS, key="key", pair=("a", 1), seed=1), 9)
    elsewhere, fresh = jobs.add(a_job(other, key="key", pair=("a", 1), seed=1), 9)
    assert fresh
    assert elsewhere.club != first.club


def test_no_more_jobs_wait_than_may_and_every_club_has_its_own(two: tuple[Storage, Storage]) -> None:
    scenario, other = a_scenario(two[0]), a_scenario(two[0])
    done = at_once(lambda n: two[n % 2].jobs.add(a_job(scenario), 5))
    assert raised(done) == [TooManyJobs] * 19
    assert two[0].jobs.add(a_job(other), 1)[1]
    oldest_first = [job.number for job in two[1].jobs.unfinished()]
    assert len(oldest_first) == 6
    assert oldest_first == sorted(oldest_first)


def test_a_job_is_finished_exactly_once(two: tuple[Storage, Storage]) -> None:
    scenario = a_scenario(two[0])
    job = begun(two[0], scenario)
    done = at_once(lambda n: two[n % 2].jobs.finish(job, a_plan(1)))
    assert raised(done) == []
    assert sorted(done, key=str) == [False] * 23 + [True]
    assert len(two[0].plans.page(scenario, None, 99).items) == 1


@pytest.mark.parametrize("seed", range(4))
def test_however_deeds_fall_together_a_job_ends_once_and_stays_so(
    two: tuple[Storage, Storage], seed: int
) -> None:
    scenario = a_scenario(two[0])
    job = two[0].jobs.add(a_job(scenario), 9)[0].id
    deeds: list[Callable[[Storage], object]] = [
        lambda s: s.jobs.begin(job), lambda s: s.jobs.begin(job),
        lambda s: s.jobs.finish(job, a_plan(1)), lambda s: s.jobs.finish_with_answer(job, "{}"),
        lambda s: s.jobs.ask_cancel(job), lambda s: s.jobs.stop(job, {"type": "x"}),
        lambda s: s.jobs.report(job, "on the way", 0.5, 1.0, 2.0),
    ]  # fmt: skip
    order = [random.Random(seed).choice(deeds) for _ in range(48)]
    at_once(lambda n: order[n](two[n % 2]), len(order))
    two[0].jobs.stop(job, {"type": "x"})
    ended = two[0].jobs.get(job)
    assert ended.state.ended
    assert (ended.plan is not None) + ended.answered + (ended.problem is not None) == (
        ended.state is not JobState.CANCELLED
    )
    assert len(two[0].plans.page(scenario, None, 9).items) == (ended.plan is not None)
    for deed in deeds[:4] + deeds[5:]:
        assert not deed(two[1])
    assert two[1].jobs.get(job) == ended


def test_who_takes_over_a_job_at_work_gets_it_as_it_is(two: tuple[Storage, Storage]) -> None:
    job = begun(two[0], a_scenario(two[0]))
    two[0].jobs.report(job, "half way", 0.5, 1.0, 2.0)
    taken = two[1].jobs.begin(job)
    assert taken is not None
    assert (taken.state, taken.stage, taken.fraction) == (JobState.AT_WORK, "half way", 0.5)


def test_a_job_asked_to_stop_keeps_no_plan(two: tuple[Storage, Storage]) -> None:
    scenario = a_scenario(two[0])
    job = begun(two[0], scenario)
    assert two[1].jobs.ask_cancel(job).cancelling
    assert not two[0].jobs.finish(job, a_plan(1))
    assert not two[0].jobs.finish_with_answer(job, "{}")
    assert two[0].jobs.begin(job) is None
    assert two[0].jobs.get(job).state is JobState.CANCELLED
    assert two[0].plans.page(scenario, None, 9).items == ()
    assert [one.state for one in jobs_of(two[0], two[0].jobs.get(job).club)] == [JobState.CANCELLED]


def test_a_plan_and_the_end_of_its_job_are_kept_together_or_not_at_all(two: tuple[Storage, Storage]) -> None:
    scenario = a_scenario(two[0])
    jobs = [begun(two[0], scenario) for _ in range(12)]
    done = at_once(lambda n: two[n % 2].jobs.finish(jobs[n], a_plan(1)), 12)
    assert raised(done) == [VersionTaken] * 11
    states = [two[0].jobs.get(job).state for job in jobs]
    assert (states.count(JobState.DONE), states.count(JobState.AT_WORK)) == (1, 11)
    assert len(two[0].plans.page(scenario, None, 99).items) == 1


def test_beats_are_counted_and_only_the_dead_are_removed(two: tuple[Storage, Storage]) -> None:
    assert raised(at_once(lambda n: two[n % 2].workers.beat(f"worker {n % 3}", "a host"))) == []
    seen = {worker.executor: worker.beat for worker in two[0].workers.all()}
    assert seen == {"worker 0": 8, "worker 1": 8, "worker 2": 8}
    two[1].workers.beat("worker 0", "a host")
    assert not two[0].workers.remove("worker 0", 8)
    removed = at_once(lambda n: two[n % 2].workers.remove("worker 1", 8))
    assert sorted(removed, key=str) == [False] * 23 + [True]
    assert two[0].workers.remove("worker 2")
    two[0].workers.beat("worker 2", "a host")
    assert {worker.executor: worker.beat for worker in two[1].workers.all()} == {"worker 0": 9, "worker 2": 1}
