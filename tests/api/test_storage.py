from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import FrozenInstanceError, fields, is_dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from sqlalchemy import text

from api.errors import DatabaseUnusable, KeyReused, NoSuch, NotReady, Stale, VersionTaken
from api.storage import JobState, NewJob, NewPlan, NewScenario, ScenarioFiles, Storage

NEW = NewScenario("winter-year", "A year", 2, date(2026, 9, 1), 365, ScenarioFiles(b"toml", b"csv"))
PLAN = NewPlan(1, 3.5, 4.0, 1, 1, {"plan.json": "{}", "schedule.csv": "a\r\n"})


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kept.sqlite3"


@pytest.fixture
def storage(path: Path) -> Iterator[Storage]:
    storage = Storage(path)
    yield storage
    storage.close()


def begun(storage: Storage, scenario: str) -> str:
    job, _ = storage.jobs.add(NewJob(scenario, 0, 1.0), 99)
    assert storage.jobs.begin(job.id) is not None
    return job.id


def test_the_file_is_in_wal_mode_and_safe(storage: Storage) -> None:
    with storage._database.reading() as connection:
        asked = ("journal_mode", "foreign_keys", "busy_timeout", "synchronous")
        found = {name: connection.execute(text(f"PRAGMA {name}")).scalar_one() for name in asked}
    assert found == {"journal_mode": "wal", "foreign_keys": 1, "busy_timeout": 10_000, "synchronous": 2}


def test_what_is_kept_outlives_the_process(path: Path) -> None:
    first = Storage(path)
    kept = first.scenarios.add(NEW)
    job = begun(first, kept.id)
    assert first.jobs.finish(job, PLAN)
    first.close()
    second = Storage(path)
    assert second.scenarios.get(kept.id) == kept
    assert second.scenarios.files(kept.id) == (NEW.files, 1)
    plan = second.jobs.get(job).plan
    assert plan is not None
    assert second.plans.file(plan, "schedule.csv").text == "a\r\n"
    second.close()


def test_records_are_frozen_and_free_of_the_database(storage: Storage) -> None:
    scenario = storage.scenarios.add(NEW)
    job = begun(storage, scenario.id)
    storage.jobs.finish(job, PLAN)
    record = storage.jobs.get(job)
    assert record.plan is not None
    for kept in (
        scenario,
        record,
        storage.plans.get(record.plan),
        storage.plans.file(record.plan, "plan.json"),
    ):
        assert is_dataclass(kept)
        assert type(kept).__module__ == "api.storage.records"
        with pytest.raises(FrozenInstanceError):
            setattr(kept, fields(kept)[0].name, "other")


def test_times_come_back_aware_and_in_utc(path: Path) -> None:
    late = datetime(2026, 10, 25, 2, 30, 0, 123456, tzinfo=timezone(timedelta(hours=-5)))
    storage = Storage(path, now=lambda: late)
    created = storage.scenarios.get(storage.scenarios.add(NEW).id).created
    storage.close()
    assert created == late
    assert created.tzinfo is UTC


def test_a_change_of_an_old_revision_is_refused_and_leaves_nothing(storage: Storage) -> None:
    scenario = storage.scenarios.add(NEW).id
    with pytest.raises(Stale) as refused:
        storage.scenarios.replace(scenario, NEW, frozenset({2}))
    assert refused.value.current == '"r1"'
    assert storage.scenarios.files(scenario)[1] == 1
    with pytest.raises(NoSuch):
        storage.scenarios.files(scenario, 2)


def test_every_revision_is_kept(storage: Storage) -> None:
    scenario = storage.scenarios.add(NEW).id
    newer = NewScenario("x", "", 1, date(2027, 1, 1), 9, ScenarioFiles(b"toml 2", b"csv 2"))
    storage.scenarios.replace(scenario, newer, None)
    assert storage.scenarios.files(scenario, 1)[0] == NEW.files
    assert storage.scenarios.files(scenario)[0] == newer.files


def test_a_job_begins_only_once(storage: Storage) -> None:
    job, _ = storage.jobs.add(NewJob(storage.scenarios.add(NEW).id, 0, 1.0), 9)
    with ThreadPoolExecutor(6) as pool:
        taken = [begun for begun in pool.map(storage.jobs.begin, [job.id] * 12) if begun is not None]
    assert len(taken) == 1
    assert taken[0].state is JobState.AT_WORK


def test_a_job_that_has_ended_never_changes(storage: Storage) -> None:
    job = begun(storage, storage.scenarios.add(NEW).id)
    storage.jobs.finish(job, PLAN)
    ended = storage.jobs.get(job)
    storage.jobs.report(job, "late news", 0.1, None, None)
    storage.jobs.stop(job, {"type": "x"})
    assert storage.jobs.begin(job) is None
    assert not storage.jobs.finish(job, PLAN)
    assert storage.jobs.stop_unfinished({"type": "x"}) == 0
    assert storage.jobs.get(job) == ended


def test_a_plan_and_the_end_of_its_job_are_kept_together_or_not_at_all(storage: Storage) -> None:
    scenario = storage.scenarios.add(NEW).id
    assert storage.jobs.finish(begun(storage, scenario), PLAN)
    second = begun(storage, scenario)
    with pytest.raises(VersionTaken):
        storage.jobs.finish(second, PLAN)
    assert storage.jobs.get(second).state is JobState.AT_WORK
    assert len(storage.plans.page(scenario, None, 9).items) == 1
    storage.jobs.ask_cancel(second)
    assert not storage.jobs.finish(second, NewPlan(2, 3.5, 4.0, 1, 1, {"plan.json": "{}"}))
    assert len(storage.plans.page(scenario, None, 9).items) == 1


def test_a_key_is_bound_to_its_request(storage: Storage) -> None:
    scenario = storage.scenarios.add(NEW).id
    first, fresh = storage.jobs.add(NewJob(scenario, 1, 2.0, "key"), 9)
    assert fresh
    assert storage.jobs.add(NewJob(scenario, 1, 2.0, "key"), 0) == (first, False)
    with pytest.raises(KeyReused):
        storage.jobs.add(NewJob(scenario, 2, 2.0, "key"), 9)


def test_numbers_are_never_given_twice(storage: Storage) -> None:
    first = storage.scenarios.add(NEW)
    storage.scenarios.delete(first.id, None)
    assert storage.scenarios.add(NEW).number > first.number


def test_writers_of_two_processes_wait_for_each_other(path: Path, storage: Storage) -> None:
    """Two engines on one file stand for two processes: reads and writes mix, nobody is told "locked"."""
    other = Storage(path)
    scenario = storage.scenarios.add(NEW).id

    def change(number: int) -> None:
        (storage if number % 2 else other).scenarios.replace(scenario, NEW, None)

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(change, range(60)))
    other.close()
    assert storage.scenarios.get(scenario).revision == 61


@pytest.mark.parametrize("content", [b"no database at all " * 100, b"SQLite format 3\0" + b"\xff" * 200])
def test_a_file_that_is_no_database_is_refused_untouched(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    with pytest.raises(DatabaseUnusable, match="cannot use the database"):
        Storage(path)
    assert path.read_bytes() == content


def test_a_database_of_another_version_is_refused(path: Path) -> None:
    Storage(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA user_version = 99")
    with pytest.raises(DatabaseUnusable, match="its format is 99, this version reads 1"):
        Storage(path)


def test_a_folder_that_is_not_there_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(DatabaseUnusable, match="unable to open"):
        Storage(tmp_path / "nowhere" / "kept.sqlite3")


def test_a_database_that_went_bad_is_not_ready(storage: Storage) -> None:
    storage.check()
    with storage._database.writing() as connection:
        connection.execute(text("DROP TABLE jobs"))
        connection.execute(text("ALTER TABLE scenarios RENAME TO lost"))
    with pytest.raises(NotReady, match="the database does not answer"):
        storage.check()
