"""What is kept comes back as it was, belongs to whom it belongs, and goes with it."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import FrozenInstanceError, fields, is_dataclass, replace
from datetime import UTC, date, datetime, timedelta, timezone
from threading import Barrier
from typing import Any

import pytest
from sqlalchemy import func, select, text

from api.errors import AlreadyKept, KeyReused, LoggedMeanwhile, NoSuch, Stale, StillAtWork
from api.storage import (
    CalendarRecord,
    JobState,
    NewJob,
    NewKey,
    NewOutcome,
    NewShared,
    Noun,
    Page,
    Publication,
    Role,
    Sent,
    Storage,
    Work,
    log_tag,
)  # fmt: skip
from api.storage.tables import schema
from scheduler.domain.outcome import COUNTED_AS_PAST

from ..databases import Where
from .kept import CLOUD, LINE, NEW, NEWER, a_job, a_plan, a_scenario, begun, fill, planned, told

UNFILLED = {"workers", "collections", "pushed", "engagements", "busy_times"}
NOBODY = "0" * 20


def counts(storage: Storage) -> dict[str, int]:
    """How many rows each table has."""
    with storage._database.reading() as connection:
        return {
            table.name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in schema.sorted_tables
        }


def test_what_is_kept_outlives_the_process(database: Where) -> None:
    first = Storage(database)
    filled = fill(first)
    before = everything(first, filled.club)
    first.close()
    second = Storage(database)
    assert everything(second, filled.club) == before
    assert second.scenarios.files(filled.scenarios[0]) == (NEWER.files, 2)
    assert second.scenarios.files(filled.scenarios[0], 1) == (NEW.files, 1)
    assert second.plans.file(filled.plans[0], "schedule.csv").text == "target\r\nM 13 (größer)\r\n"
    second.close()


def everything(storage: Storage, club: str) -> list[Any]:
    """Every record of a club."""
    found: list[Any] = [storage.clubs.get(club)]
    for noun in Noun:
        found.extend(storage.shared[noun].page(club, None, 99).items)
    found.extend(storage.keys.page(club, None, 99).items)
    for scenario in storage.scenarios.page(club, None, 99).items:
        found.append(scenario)
        found.extend(storage.outcomes.lines(scenario.id))
        for plan in storage.plans.page(scenario.id, None, 99).items:
            found += [plan, storage.plans.file(plan.id, "plan.json")]
            found.append(storage.calendars.of(scenario.id))
    found.extend(storage.jobs.page(club, None, 99).items)
    return found


def test_records_are_frozen_and_free_of_the_database(storage: Storage) -> None:
    filled = fill(storage)
    storage.workers.beat("one", "here")
    kept = [
        *everything(storage, filled.club),
        *storage.workers.all(),
        storage.scenarios.files(filled.scenarios[0])[0],
    ]
    assert len({type(one) for one in kept}) == 11
    for one in kept:
        assert is_dataclass(one)
        assert type(one).__module__ in {"api.storage.records", "api.storage.results"}
        with pytest.raises(FrozenInstanceError):
            setattr(one, fields(one)[0].name, "other")


@pytest.fixture
def in_a_far_zone() -> Iterator[None]:
    before = os.environ.get("TZ")
    os.environ["TZ"] = "Pacific/Apia"
    time.tzset()
    yield
    os.environ.pop("TZ") if before is None else os.environ.update(TZ=before)
    time.tzset()


@pytest.mark.usefixtures("in_a_far_zone")
def test_times_come_back_aware_and_in_utc_wherever_machine_and_server_stand(database: Where) -> None:
    late = datetime(2026, 10, 25, 2, 30, 0, 123456, tzinfo=timezone(timedelta(hours=-5)))
    storage = Storage(database, now=lambda: late)
    if not storage._database.sqlite:
        with storage._database.writing() as connection:
            name = connection.execute(text("SELECT current_database()")).scalar_one()
            connection.execute(text(f"ALTER DATABASE {name} SET timezone = 'Asia/Kathmandu'"))
        storage.close()
        storage = Storage(database, now=lambda: late)
        with storage._database.writing() as connection:
            connection.execute(text("SET LOCAL timezone = 'Asia/Kathmandu'"))  # as another session would
            connection.execute(text("SELECT now()")).scalar_one()
    created = storage.clubs.get(storage.clubs.add("Larkmoor").id).created
    storage.close()
    assert created == late
    assert created.tzinfo is UTC
    assert created.utcoffset() == timedelta(0)


def test_every_revision_is_kept_byte_for_byte(storage: Storage) -> None:
    scenario = a_scenario(storage)
    storage.scenarios.replace(scenario, NEWER, None)
    assert storage.scenarios.files(scenario, 1) == (NEW.files, 1)
    assert storage.scenarios.files(scenario) == (NEWER.files, 2)
    for revision in (0, 3, -1, 10**30, -(10**30)):
        with pytest.raises(NoSuch):
            storage.scenarios.files(scenario, revision)


def test_a_change_of_an_old_revision_is_refused_and_leaves_nothing(storage: Storage) -> None:
    scenario = a_scenario(storage)
    with pytest.raises(Stale) as refused:
        storage.scenarios.replace(scenario, NEWER, frozenset({2}))
    assert refused.value.current == '"r1"'
    assert storage.scenarios.files(scenario) == (NEW.files, 1)
    with pytest.raises(NoSuch):
        storage.scenarios.files(scenario, 2)


def test_a_scenario_keeps_what_it_uses_unless_told_otherwise(storage: Storage) -> None:
    club = storage.clubs.add("Larkmoor").id
    scenario = storage.scenarios.add(club, NEW, {"site": ["a", "b"]}).id
    assert storage.scenarios.replace(scenario, NEWER, None).uses == {"site": ["a", "b"]}
    assert storage.scenarios.replace(scenario, NEWER, None, {}).uses == {}


@pytest.mark.parametrize("noun", list(Noun))
def test_what_a_club_shares_has_a_name_of_its_own_there(storage: Storage, noun: Noun) -> None:
    kept, club, other = storage.shared[noun], storage.clubs.add("A").id, storage.clubs.add("B").id
    first = kept.add(club, NewShared("Hill", {"a": 1}))
    second = kept.add(club, NewShared("Dale", {}))
    assert kept.add(other, NewShared("Hill", {})).name == "Hill"
    with pytest.raises(AlreadyKept, match="Hill"):
        kept.add(club, NewShared("Hill", {}))
    with pytest.raises(AlreadyKept, match="Hill"):
        kept.replace(second.id, NewShared("Hill", {}), None)
    changed = kept.replace(first.id, NewShared("Hill", {"a": [2]}), frozenset({1}))
    assert (changed.revision, changed.settings) == (2, {"a": [2]})
    with pytest.raises(Stale):
        kept.delete(first.id, frozenset({1}))
    assert kept.several(club, [second.id, first.id]) == (second, changed)
    with pytest.raises(NoSuch):
        kept.several(other, [first.id])
    kept.delete(first.id, frozenset({2}))
    with pytest.raises(NoSuch):
        kept.get(first.id)


def test_a_deletion_takes_along_exactly_what_belongs_to_it(storage: Storage) -> None:
    empty = counts(storage)
    stays = fill(storage, "Stays")
    service = storage.keys.add(NewKey(None, Role.OWNER, "the service's"), "c" * 64)
    before, alone = everything(storage, stays.club), counts(storage)
    goes = fill(storage, "Goes")
    assert all(counts(storage)[name] > alone[name] for name in empty if name not in UNFILLED)
    storage.clubs.delete(goes.club, None)
    assert counts(storage) == alone
    assert everything(storage, stays.club) == before
    assert storage.keys.get(service.id) == service
    for noun, one in (("club", goes.club), ("scenario", goes.scenarios[0]), ("plan", goes.plans[0])):
        with pytest.raises(NoSuch):
            storage.owners.club_of(noun, one)


def test_a_deleted_scenario_leaves_the_club_the_rest(storage: Storage) -> None:
    filled = fill(storage)
    storage.scenarios.delete(filled.scenarios[0], frozenset({2}))
    left = counts(storage)
    assert {name for name, rows in left.items() if rows} == {
        "clubs", "keys", "members", "sites", "telescopes", "scenarios", "revisions", "feeds",
        "engagements", "busy_times",
    }  # fmt: skip
    assert (left["scenarios"], left["revisions"], left["keys"]) == (1, 1, 2)


@pytest.mark.parametrize("at_work", [False, True])
def test_nothing_goes_while_a_job_of_it_is_unfinished(storage: Storage, at_work: bool) -> None:
    scenario = a_scenario(storage)
    club = storage.owners.club_of("scenario", scenario)
    assert club is not None
    job = begun(storage, scenario) if at_work else storage.jobs.add(a_job(scenario), 9)[0].id
    with pytest.raises(StillAtWork, match=job):
        storage.scenarios.delete(scenario, None)
    with pytest.raises(StillAtWork, match=job):
        storage.clubs.delete(club, None)
    storage.jobs.stop(job, {})
    storage.clubs.delete(club, None)


def test_whose_something_is(storage: Storage) -> None:
    filled = fill(storage)
    things = [("club", filled.club), ("plan", filled.plans[0]), ("scenario", filled.scenarios[1]),
              ("job", filled.jobs[0]), ("key", filled.keys[0]), ("member", filled.shared[0]),
              ("site", filled.shared[1]), ("telescope", filled.shared[2])]  # fmt: skip
    for noun, one in things:
        assert storage.owners.club_of(noun, one) == filled.club
        with pytest.raises(NoSuch, match=f"no {noun}"):
            storage.owners.club_of(noun, NOBODY)
    service = storage.keys.add(NewKey(None, Role.OWNER, "x"), "c" * 64).id
    assert storage.owners.club_of("key", service) is None


def test_what_is_not_kept_is_said_not_to_be(storage: Storage) -> None:
    asked: list[Callable[[], object]] = [
        lambda: storage.clubs.get(NOBODY),
        lambda: storage.clubs.rename(NOBODY, "x", None),
        lambda: storage.clubs.delete(NOBODY, None),
        lambda: storage.keys.add(NewKey(NOBODY, Role.READER, "x"), "a" * 64),
        lambda: storage.keys.revoke(NOBODY),
        lambda: storage.keys.page(NOBODY, None, 9),
        lambda: storage.shared[Noun.SITE].add(NOBODY, NewShared("x", {})),
        lambda: storage.shared[Noun.SITE].page(NOBODY, None, 9),
        lambda: storage.scenarios.add(NOBODY, NEW),
        lambda: storage.scenarios.files(NOBODY),
        lambda: storage.outcomes.add(NOBODY, [LINE], 0),
        lambda: storage.outcomes.lines(NOBODY),
        lambda: storage.plans.get(NOBODY),
        lambda: storage.plans.page(NOBODY, None, 9),
        lambda: storage.plans.file(NOBODY, "plan.json"),
        lambda: storage.jobs.add(NewJob(NOBODY, Work.PLAN, {}), 9),
        lambda: storage.jobs.begin(NOBODY),
        lambda: storage.jobs.page(NOBODY, None, 9),
        lambda: storage.calendars.of(NOBODY),
    ]
    for ask in asked:
        with pytest.raises(NoSuch):
            ask()
    assert set(counts(storage).values()) == {0}


def test_a_page_follows_another_without_gap_or_repetition(storage: Storage) -> None:
    made = [storage.clubs.add(f"Club {number}").id for number in range(7)]
    seen: list[str] = []
    cursor: int | None = None
    while True:
        page: Page[Any] = storage.clubs.page(cursor, 3)
        seen += [club.id for club in page.items]
        if len(seen) == 3:
            storage.clubs.add("Made meanwhile")
            storage.clubs.delete(made[3], None)
        cursor = page.cursor
        if cursor is None:
            break
    assert seen == [*reversed(made[4:]), *reversed(made[:3])]
    for far in (10**30, 0, -1, -(10**30)):
        assert len(storage.clubs.page(far, 9).items) == (7 if far > 0 else 0)


def test_numbers_are_never_given_twice(database: Where) -> None:
    storage = Storage(database)
    first, second = storage.clubs.add("A"), storage.clubs.add("B")
    storage.clubs.delete(second.id, None)
    storage.clubs.delete(first.id, None)
    storage.close()
    again = Storage(database)
    assert again.clubs.add("C").number > second.number
    again.close()


def test_a_log_only_grows(storage: Storage) -> None:
    scenario = a_scenario(storage)
    first = storage.outcomes.add(scenario, [LINE, CLOUD], 0)
    assert [line.line for line in first] == [1, 2]
    assert (first[0].seen, first[0].not_seen, first[0].usable_min, first[0].notes) == (
        ("M 13", "M 57"), ("M 1",), 240, "dew, and an owl",
    )  # fmt: skip
    assert storage.outcomes.add(scenario, [], 2) == ()
    with pytest.raises(Stale) as refused:
        storage.outcomes.add(scenario, [CLOUD], 1)
    assert refused.value.current == log_tag(2)
    assert storage.outcomes.lines(scenario) == first
    assert storage.outcomes.lines(scenario, 1) == first[:1]
    assert storage.outcomes.lines(scenario, 10**30) == first
    assert not any(hasattr(storage.outcomes, deed) for deed in ("replace", "delete", "change"))


def test_a_line_is_there_once_however_often_it_is_sent(storage: Storage) -> None:
    scenario, sent = a_scenario(storage), Sent("phone-1", 0)
    first = storage.outcomes.add(scenario, [LINE], None, sent=sent)
    assert storage.outcomes.add(scenario, [LINE], None, sent=sent) == first
    storage.outcomes.add(scenario, [replace(CLOUD, evening=LINE.evening)], None, sent=Sent("tablet-1", 1))
    assert storage.outcomes.add(scenario, [LINE], None, sent=sent) == first, "also after it was corrected"
    assert storage.outcomes.under(scenario, "phone-1") == first[0]
    assert storage.outcomes.under(scenario, "phone-2") is None
    with pytest.raises(KeyReused):
        storage.outcomes.add(scenario, [CLOUD], None, sent=sent)
    other = a_scenario(storage)
    assert storage.outcomes.add(other, [LINE], None, sent=sent)[0].scenario == other, (
        "keys are a scenario's own"
    )
    assert [line.key for line in storage.outcomes.lines(scenario)] == ["phone-1", "tablet-1"]


def test_a_line_written_over_another_than_stands_is_not_added(storage: Storage) -> None:
    scenario = a_scenario(storage)
    cloud = replace(CLOUD, evening=LINE.evening)
    storage.outcomes.add(scenario, [cloud], None)
    for over in (0, 2):
        with pytest.raises(LoggedMeanwhile) as refused:
            storage.outcomes.add(scenario, [LINE], None, sent=Sent("k", over))
        assert (refused.value.evening, refused.value.line) == (LINE.evening, 1)
    assert storage.outcomes.add(scenario, [cloud], None, sent=Sent("l", 0))[0].line == 1, "it says the same"
    assert storage.outcomes.add(scenario, [LINE], None, sent=Sent("k", 1))[0].line == 2
    with pytest.raises(LoggedMeanwhile):
        storage.outcomes.add(a_scenario(storage), [LINE], None, sent=Sent("k", 1))


PAST = NewOutcome(LINE.evening, "could not go", notes=COUNTED_AS_PAST)


@pytest.mark.parametrize("over", [0, 1, 7])
def test_a_line_nobody_wrote_gives_way_to_one_that_tells(storage: Storage, over: int) -> None:
    scenario = a_scenario(storage)
    storage.outcomes.add(scenario, [PAST], None, sent=Sent(over=0))
    assert storage.outcomes.add(scenario, [PAST], None, sent=Sent(over=0))[0].line == 1, "it says the same"
    sent = Sent("phone", over)
    assert [storage.outcomes.add(scenario, [LINE], None, sent=sent)[0].line for _ in range(2)] == [2, 2]
    for key, line in (("tablet", replace(CLOUD, evening=LINE.evening)), (None, PAST)):
        with pytest.raises(LoggedMeanwhile):
            storage.outcomes.add(scenario, [line], None, sent=Sent(key, 0))
    assert [line.notes for line in storage.outcomes.lines(scenario)] == [PAST.notes, LINE.notes]


def test_of_many_who_send_a_line_at_once_one_adds_it(storage: Storage) -> None:
    scenario, together = a_scenario(storage), Barrier(8)

    def send(_: int) -> int:
        together.wait()
        return storage.outcomes.add(scenario, [LINE], None, sent=Sent("k", 0))[0].line

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(send, range(8))) == [1] * 8
    assert len(storage.outcomes.lines(scenario)) == 1


def test_the_plan_that_stood_on_an_evening_is_found_at_once(
    storage: Storage, monkeypatch: pytest.MonkeyPatch
) -> None:
    scenario, other, evening = a_scenario(storage), a_scenario(storage), LINE.evening
    over = datetime(2026, 9, 13, 5, tzinfo=UTC)

    def made(version: int, **after: int) -> str:
        monkeypatch.setattr(storage._database, "now", lambda: over + timedelta(**after))
        return planned(storage, scenario, version)

    def stood(on: date = evening, end: datetime = over) -> str | None:
        found = storage.plans.of_evening(scenario, on, end)
        return found.id if found else None

    assert stood() is None
    late = made(1, hours=3)
    assert stood() == late, "where all were made afterwards, the oldest"
    for version in range(2, 6):
        made(version, hours=version + 2)
    assert stood() == late
    made(6, days=-2)
    before = made(7, minutes=-1)
    for version in range(8, 70):
        made(version, hours=version)
    assert stood() == before
    assert stood(evening + timedelta(days=9), over + timedelta(days=9)) == storage.plans.newest(scenario).id  # type: ignore[union-attr]
    storage.outcomes.add(scenario, [replace(CLOUD, evening=evening - timedelta(days=1)), CLOUD], None)
    logged = made(70, minutes=-30)
    assert stood() == before, "one that knows of a later line has the evening no more"
    assert stood(CLOUD.evening + timedelta(days=1)) == logged
    assert storage.plans.of_evening(other, evening, over) is None


def test_the_newest_scenarios_of_several_clubs_come_at_once(storage: Storage) -> None:
    clubs = [storage.clubs.add(name).id for name in ("A", "B", "C", "D")]
    kept = [storage.scenarios.add(club, NEW) for _ in range(3) for club in clubs[:3]]
    found = storage.scenarios.newest_of([clubs[0], clubs[1], clubs[3], NOBODY], 2)
    assert found == {club: (kept[6 + place], kept[3 + place]) for place, club in enumerate(clubs[:2])}
    assert storage.scenarios.newest_of([], 2) == {}


def test_a_calendar_shows_what_was_published_last(storage: Storage) -> None:
    scenario = a_scenario(storage)
    first, second = planned(storage, scenario, 1), planned(storage, scenario, 2)
    elsewhere = planned(storage, a_scenario(storage), 1)
    shown = storage.calendars.publish(scenario, Publication(first, None))
    assert isinstance(shown, CalendarRecord)
    assert (shown.plan, shown.revision) == (first, 1)
    assert storage.calendars.publish(scenario, Publication(first, first)) == shown
    with pytest.raises(NoSuch):
        storage.calendars.publish(scenario, Publication(elsewhere, first))
    after = storage.calendars.publish(scenario, Publication(second, first))
    assert (after.id, after.plan, after.revision) == (shown.id, second, 2)
    assert storage.calendars.of(scenario) == after


def test_a_plan_tells_what_it_answers_and_follows(storage: Storage) -> None:
    filled = fill(storage)
    first, second = (storage.plans.get(plan) for plan in filled.plans)
    assert (first.revision, first.outcomes, first.previous, first.version) == (1, 2, None, 1)
    assert (second.revision, second.outcomes, second.previous, second.version) == (2, 3, first.id, 2)
    assert (second.objective, second.bound) == (0.1 + 0.2, 1e300)
    assert storage.plans.newest(filled.scenarios[0]) == second
    assert storage.plans.newest(filled.scenarios[1]) is None
    assert storage.plans.next_version(filled.scenarios[0]) == 3
    assert a_plan(1).files.keys() == {"plan.json", "schedule.csv"}


def test_of_two_publications_the_one_asked_for_last_is_shown_in_whichever_order_they_end(
    storage: Storage,
) -> None:
    scenario = a_scenario(storage)
    plans = [planned(storage, scenario, version) for version in (1, 2)]
    asked = [begun(storage, scenario, Work.PUBLISH) for _ in plans]
    for job, plan in reversed(list(zip(asked, plans, strict=True))):
        assert storage.jobs.finish_by_publishing(job, told(storage, scenario, plan), "{}")
    assert storage.calendars.of(scenario).plan == plans[1]
    assert [storage.jobs.get(job).state for job in asked] == [JobState.DONE, JobState.DONE]
    back = begun(storage, scenario, Work.PUBLISH)
    assert storage.jobs.finish_by_publishing(back, told(storage, scenario, plans[0]), "{}")
    assert storage.calendars.of(scenario).plan == plans[0], "an older plan may be shown again"


def test_jobs_are_tallied_with_their_time_at_work(database: Where) -> None:
    clock = [datetime(2027, 1, 8, 20, 0, tzinfo=UTC)]
    storage = Storage(database, lambda: clock[0])
    filled = fill(storage)
    before = {(tally.work, tally.state): tally.at_work_s for tally in storage.jobs.tallies()}
    job, _ = storage.jobs.add(NewJob(filled.scenarios[0], Work.PRICES, {}), 99)
    storage.jobs.begin(job.id)
    clock[0] += timedelta(seconds=12.5)
    assert storage.jobs.finish_with_answer(job.id, "{}")
    after = {(tally.work, tally.state): tally.at_work_s for tally in storage.jobs.tallies()}
    done = (Work.PRICES, JobState.DONE)
    assert after[done] - before.get(done, 0.0) == pytest.approx(12.5, abs=0.01)
    storage.close()


def test_a_scenarios_jobs_of_some_works_come_newest_first(storage: Storage) -> None:
    club = storage.clubs.add("Alder Reach").id
    mine, other = (storage.scenarios.add(club, NEW).id for _ in range(2))
    works = (Work.WHY, Work.PLAN, Work.WHAT_IF, Work.WHY)
    ids = [storage.jobs.add(NewJob(mine, work, {}), 99)[0].id for work in works]
    storage.jobs.add(NewJob(other, Work.WHY, {}), 99)
    found = storage.jobs.of_scenario(mine, (Work.WHY, Work.WHAT_IF), 9)
    assert [job.id for job in found] == [ids[3], ids[2], ids[0]]
    assert [job.id for job in storage.jobs.of_scenario(mine, (Work.WHY,), 1)] == [ids[3]]
