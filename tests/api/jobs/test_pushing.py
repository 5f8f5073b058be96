"""Jobs that push, from a publication to a real calendar server, on both databases."""

from __future__ import annotations

import json
import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeAlias

import httpx2
import pytest
from sqlalchemy import text

from api.caldav import PinnedTransport
from api.ports import Outside
from api.seal import SEAL_KEY, Seal, made_seal_key
from api.storage import (
    CollectionRecord,
    JobRecord,
    JobState,
    NewCollection,
    NewFeed,
    Shows,
    Storage,
    Work,
    push_wish,
)
from api.storage.tables import schema

from ..caldav.events import edited, seen
from ..caldav.radicale import PASSWORD, USER, Radicale, radicale
from ..databases import Where
from ..stand_ins import StandInPlanner
from ..storage.kept import a_night, planned, told
from .benches import Bench, bench_on, kept_in, wait_for

StartBench: TypeAlias = Callable[..., Bench]
HERE = frozenset({"127.0.0.1"})
PLANS = "https://plans.example.org"


@pytest.fixture(scope="module")
def _server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Radicale]:
    with radicale(tmp_path_factory.mktemp("radicale")) as running:
        yield running


@pytest.fixture
def server(_server: Radicale) -> Radicale:
    """A calendar server of others, with an empty calendar."""
    return _server.emptied()


@pytest.fixture(autouse=True)
def _seal_key(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SEAL_KEY, made_seal_key())


@pytest.fixture
def start(database: Where, planner: StandInPlanner) -> Iterator[StartBench]:
    with ExitStack() as running:

        def opened(transport: Callable[[], httpx2.BaseTransport] | None = None, **options: Any) -> Bench:
            outside = Outside(PLANS, transport or (lambda: PinnedTransport(HERE)))
            bench = bench_on(database, planner, outside=outside, **options)
            running.callback(bench.close)
            return bench

        yield opened
        planner.let_go.set()


@pytest.fixture
def bench(start: StartBench) -> Bench:
    return start()


def kept(
    storage: Storage, server: Radicale, conflicts: str = "report", password: str = PASSWORD
) -> tuple[str, CollectionRecord]:
    """A scenario, and a collection of a feed that shows it."""
    scenario = kept_in(storage)
    feed = storage.feeds.add(storage.scenarios.get(scenario).club, NewFeed(Shows.SCENARIO, scenario))
    new = NewCollection(server.calendar, USER, Seal().sealed(password), conflicts)
    return scenario, storage.collections.add(feed.id, new)


def published(bench: Bench, scenario: str, version: int = 1, **nights: dict[str, Any]) -> JobRecord:
    """Publish nights and return the push that came of it, once it has ended."""
    plan = planned(bench.storage, scenario, version)
    bench.storage.calendars.publish(scenario, told(bench.storage, scenario, plan, **nights))
    return bench.ended(_newest_push(bench, scenario).id)


def _newest_push(bench: Bench, scenario: str) -> JobRecord:
    jobs = bench.storage.jobs.page(bench.storage.scenarios.get(scenario).club, None, 99).items
    return next(job for job in jobs if job.work is Work.PUSH)


def pushed(bench: Bench, scenario: str, record: CollectionRecord, **wish: bool) -> JobRecord:
    return bench.ended(bench.start(scenario, Work.PUSH, **push_wish(record.id, **wish)))


def told_by(bench: Bench, job: JobRecord) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(bench.storage.jobs.answer(job.id))
    return found


def titles(server: Radicale) -> list[str]:
    return sorted(summary for summary, _, _ in seen(server.events()).values())


def test_a_publication_arrives_on_the_calendar_server(bench: Bench, server: Radicale) -> None:
    scenario, record = kept(bench.storage, server)
    job = published(bench, scenario, e20260912=a_night("M 13"), e20260914=a_night("M 57"))
    assert (job.state, job.work, job.problem) == (JobState.DONE, Work.PUSH, None)
    answer = told_by(bench, job)
    assert (answer["created"], answer["conflicts"], answer["problem"]) == (2, [], None)
    assert bench.storage.collections.get(record.id).told == answer
    assert titles(server) == ["M 13", "M 57"]
    one = next(iter(server.events().values())).decode().replace("\r\n ", "")
    assert f"URL:{PLANS}/nights/" in one
    entries = bench.storage.entries.of_calendar(scenario)
    assert {f"{entry.uid}.ics" for entry in entries} == set(server.events())
    later = published(bench, scenario, 2, e20260912=a_night("M 13 and M 92"))
    answer = told_by(bench, later)
    assert (answer["created"], answer["updated"], answer["deleted"]) == (0, 2, 0)
    assert sorted(status for _, _, status in seen(server.events()).values()) == ["CANCELLED", "TENTATIVE"]


def test_a_push_again_writes_nothing_and_a_withdrawal_takes_all_away(bench: Bench, server: Radicale) -> None:
    scenario, record = kept(bench.storage, server)
    published(bench, scenario, e20260912=a_night("M 13"), e20260914=a_night("M 57"))
    writes = server.writes()
    assert told_by(bench, pushed(bench, scenario, record))["unchanged"] == 2
    assert server.writes() == writes
    assert told_by(bench, pushed(bench, scenario, record, withdraw=True))["deleted"] == 2
    assert server.events() == {}
    assert bench.storage.collections.pushed(record.id) == {}


def test_a_change_by_hand_is_told_with_its_evening(bench: Bench, server: Radicale) -> None:
    scenario, record = kept(bench.storage, server)
    published(bench, scenario, e20260912=a_night("M 13"))
    ((name, before),) = server.events().items()
    server.put(name, edited(before, summary="At Jory's"))
    job = published(bench, scenario, 2, e20260912=a_night("M 13 and M 92"))
    assert told_by(bench, job)["conflicts"] == [
        {"uid": name.removesuffix(".ics"), "evening": "2026-09-12", "found": "changed",
         "outcome": "left as it is"}
    ]  # fmt: skip
    assert titles(server) == ["At Jory's"]
    bench.storage.collections.replace(record.id, NewCollection(record.address, USER, None, "overwrite"), None)
    assert told_by(bench, pushed(bench, scenario, record))["conflicts"][0]["outcome"] == "overwritten"
    assert titles(server) == ["M 13 and M 92"]


def test_a_wrong_password_fails_the_job_and_is_told(bench: Bench, server: Radicale) -> None:
    scenario, record = kept(bench.storage, server, password="another")
    job = published(bench, scenario, e20260912=a_night())
    assert job.state is JobState.FAILED
    assert job.problem is not None
    assert (job.problem["type"], job.problem["answered"]) == ("/problems/calendar-refused", 401)
    kept_told = bench.storage.collections.get(record.id).told
    assert kept_told is not None
    assert kept_told["problem"] == job.problem


@pytest.mark.parametrize("key", ["", "another"])
def test_a_password_that_cannot_be_opened_fails_the_job(
    bench: Bench, server: Radicale, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    scenario, _ = kept(bench.storage, server)
    monkeypatch.setenv(SEAL_KEY, made_seal_key() if key else "")
    job = published(bench, scenario, e20260912=a_night())
    assert job.problem is not None
    assert job.problem["type"] == f"/problems/{'seal-broken' if key else 'no-seal-key'}"
    assert server.events() == {}


def test_a_key_can_be_changed_under_kept_passwords(
    bench: Bench, server: Radicale, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = made_seal_key()
    monkeypatch.setenv(SEAL_KEY, old)
    scenario, record = kept(bench.storage, server)
    monkeypatch.setenv(SEAL_KEY, f"{made_seal_key()},{old}")
    assert published(bench, scenario, e20260912=a_night()).state is JobState.DONE
    fresh = NewCollection(record.address, USER, Seal().sealed(PASSWORD), "report")
    bench.storage.collections.replace(record.id, fresh, None)
    assert pushed(bench, scenario, record).state is JobState.DONE


def test_a_collection_that_is_gone_fails_the_job(bench: Bench, server: Radicale) -> None:
    scenario, record = kept(bench.storage, server)
    bench.storage.collections.delete(record.id, None)
    problem = pushed(bench, scenario, record).problem
    assert problem is not None
    assert problem["type"] == "/problems/no-such-thing"


class Held(PinnedTransport):
    """Waits before the n-th write until it is let go."""

    def __init__(self, at: int) -> None:
        super().__init__(HERE)
        self._at, self.writes = at, 0
        self.held, self.let_go = threading.Event(), threading.Event()

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        if request.method in {"PUT", "DELETE"}:
            self.writes += 1
            if self.writes == self._at:
                self.held.set()
                assert self.let_go.wait(30)
        return super().handle_request(request)


NIGHTS = {f"e202609{day}": a_night(f"M {day}") for day in range(12, 20)}


def test_a_push_that_is_cancelled_stops_between_two_writes(start: StartBench, server: Radicale) -> None:
    held = Held(3)
    bench = start(lambda: held)
    scenario, record = kept(bench.storage, server)
    plan = planned(bench.storage, scenario, 1)
    bench.storage.calendars.publish(scenario, told(bench.storage, scenario, plan, **NIGHTS))
    job = _newest_push(bench, scenario).id
    wait_for(held.held.is_set)
    bench.jobs.cancel(job)
    threading.Timer(0.5, held.let_go.set).start()
    assert bench.ended(job).state is JobState.CANCELLED
    assert len(server.events()) == 3
    assert len(bench.storage.collections.pushed(record.id)) == 3
    assert told_by(bench, pushed(bench, scenario, record))["created"] == 5
    assert len(titles(server)) == 8


def test_a_push_cut_off_by_the_end_of_its_process_is_gone_on_with(
    start: StartBench, server: Radicale
) -> None:
    held = Held(3)
    bench = start(lambda: held)
    scenario, _ = kept(bench.storage, server)
    plan = planned(bench.storage, scenario, 1)
    bench.storage.calendars.publish(scenario, told(bench.storage, scenario, plan, **NIGHTS))
    job = _newest_push(bench, scenario).id
    wait_for(held.held.is_set)
    threading.Timer(0.5, held.let_go.set).start()
    bench.jobs.close()
    assert bench.get(job).state is JobState.WAITING
    again = start()
    record = again.ended(job)
    assert record.state is JobState.DONE
    assert titles(server) == sorted(night["title"] for night in NIGHTS.values())
    assert len(server.events()) == len(NIGHTS)
    assert told_by(again, record)["conflicts"] == []


def test_two_pushes_at_once_do_no_harm(start: StartBench, server: Radicale) -> None:
    bench = start(workers=2)
    scenario, record = kept(bench.storage, server)
    plan = planned(bench.storage, scenario, 1)
    bench.storage.calendars.publish(scenario, told(bench.storage, scenario, plan, **NIGHTS))
    jobs = [bench.start(scenario, Work.PUSH, **push_wish(record.id)) for _ in range(3)]
    answers = [told_by(bench, bench.ended(job)) for job in jobs]
    assert [answer["conflicts"] for answer in answers] == [[], [], []]
    assert titles(server) == sorted(night["title"] for night in NIGHTS.values())
    writes = server.writes()
    assert told_by(bench, pushed(bench, scenario, record))["unchanged"] == len(NIGHTS)
    assert server.writes() == writes


def test_no_byte_kept_and_no_line_logged_holds_the_password(
    bench: Bench, server: Radicale, database: Where, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.DEBUG, "duskwright"):
        scenario, record = kept(bench.storage, server)
        published(bench, scenario, e20260912=a_night())
        wrong = replace(record, password=Seal().sealed(f"wrong {PASSWORD}"))
        new = NewCollection(record.address, USER, wrong.password, "report")
        bench.storage.collections.replace(record.id, new, None)
        assert pushed(bench, scenario, record).state is JobState.FAILED
    assert PASSWORD not in caplog.text
    with bench.storage._database.reading() as connection:
        for table in schema.sorted_tables:
            for row in connection.execute(text(f'SELECT * FROM "{table.name}"')).all():
                assert not any(PASSWORD in str(cell) for cell in row)
                assert not any(PASSWORD.encode() in cell for cell in row if isinstance(cell, bytes))
    if isinstance(database, Path):
        for file in database.parent.glob(f"{database.name}*"):
            assert PASSWORD.encode() not in file.read_bytes()
