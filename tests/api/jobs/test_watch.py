from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from threading import Event

import pytest

from api.errors import NotReady
from api.jobs.patience import HandedBack, patiently
from api.jobs.watch import Fractions, Reporter, Watch
from api.storage import NewJob, Storage, Work
from scheduler.domain import Progress

from .benches import kept_in


@pytest.fixture
def storage(tmp_path: Path) -> Iterator[Storage]:
    made = Storage(tmp_path / "kept.sqlite3")
    yield made
    made.close()


def begun(storage: Storage) -> str:
    job, _ = storage.jobs.add(NewJob(kept_in(storage), Work.PLAN, {}), 9)
    storage.jobs.begin(job.id)
    return job.id


def away(*_: object) -> None:
    raise NotReady("the database does not answer")


def test_a_new_stage_is_told_at_once_and_small_steps_a_few_times_a_second(storage: Storage) -> None:
    job = begun(storage)
    report = Reporter(storage, job, begin=0.0, end=0.5)
    seen = []
    for stage, fraction in [("one", 0.1), ("one", 0.2), ("two", 0.4), ("two", 7.0), ("three", 7.0)]:
        report(Progress(stage, fraction))
        record = storage.jobs.get(job)
        seen.append((record.stage, record.fraction))
    assert seen == [("one", 0.05)] * 2 + [("two", 0.2)] * 2 + [("three", 0.5)]


def test_work_stops_when_its_job_was_asked_to_has_ended_or_is_gone(storage: Storage) -> None:
    asked, ended = begun(storage), begun(storage)
    for job in (asked, ended):
        assert not Watch(storage, job, Event())()
    storage.jobs.ask_cancel(asked)
    storage.jobs.finish_with_answer(ended, "{}")
    assert [Watch(storage, job, Event())() for job in (asked, ended, "nobody")] == [True] * 3


def test_work_stops_when_the_process_does(storage: Storage) -> None:
    closing = Event()
    watch = Watch(storage, begun(storage), closing)
    assert not watch()
    closing.set()
    assert watch()


def test_work_goes_on_while_the_database_is_away(storage: Storage, monkeypatch: pytest.MonkeyPatch) -> None:
    job = begun(storage)
    monkeypatch.setattr(storage.jobs, "get", away)
    monkeypatch.setattr(storage.jobs, "report", away)
    assert not Watch(storage, job, Event())()
    Reporter(storage, job)(Progress("one", 0.5))


def test_what_is_kept_patiently_is_kept_once_the_database_answers() -> None:
    asked = []

    def third_time() -> str:
        asked.append(1)
        if len(asked) < 3:
            away()
        return "kept"

    assert patiently(third_time, Event()) == "kept"


def test_patience_ends_when_the_process_does() -> None:
    closing = Event()
    closing.set()
    with pytest.raises(HandedBack):
        patiently(away, closing)


def test_fractions_of_shares_add_up_job_by_job() -> None:
    fractions = Fractions()
    fractions.report_of("a", "0 50")(Progress("living", 0.25))
    fractions.report_of("a", "50 50")(Progress("living", 7.0))
    fractions.report_of("b", "0 50")(Progress("living", 0.5))
    assert (fractions.under_way("a"), fractions.under_way("b")) == (1.25, 0.5)
    fractions.done("a", "50 50")
    assert fractions.under_way("a") == 0.25
