"""A club as a file: out, away, in again, to the same bytes; what else a file may hold is refused whole."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from api.errors import AlreadyKept, NoSuch, UnreadableClub
from api.storage import Storage, transfer

from ..databases import KINDS, Where, fresh_database
from .kept import a_job, a_scenario, fill
from .test_kept import counts, everything

Change = Callable[[dict[str, Any]], object]

UID = re.compile("[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


@contextmanager
def storage_of(kind: str, folder: Path) -> Iterator[Storage]:
    folder.mkdir(exist_ok=True)
    with fresh_database(kind, folder) as where:
        storage = Storage(where)
        yield storage
        storage.close()


def without_numbers(records: list[Any]) -> list[Any]:
    """What records hold, but for numbers, which count anew, and keys, which stay behind."""
    return [
        {name: getattr(one, name) for name in one.__slots__ if name != "number"}
        for one in records if type(one).__name__ != "KeyRecord"
    ]  # fmt: skip


@pytest.mark.parametrize("there", KINDS)
@pytest.mark.parametrize("here", KINDS)
def test_a_club_moves_between_databases_to_the_same_bytes(tmp_path: Path, here: str, there: str) -> None:
    with storage_of(here, tmp_path / "here") as first, storage_of(there, tmp_path / "there") as second:
        fill(second, "Another")
        filled = fill(first)
        before = everything(first, filled.club)
        told = first.transfer.club(filled.club)
        assert first.transfer.club(filled.club) == told
        record = second.transfer.take_in(told)
        assert (record.id, record.name) == (filled.club, "Larkmoor")
        assert second.transfer.club(filled.club) == told
        after = everything(second, filled.club)
        assert without_numbers(after) == without_numbers(before)
        assert second.scenarios.files(filled.scenarios[0]) == first.scenarios.files(filled.scenarios[0])
        first.clubs.delete(filled.club, None)
        first.transfer.take_in(told)
        assert first.transfer.club(filled.club) == told


def test_keys_and_unfinished_jobs_stay_behind_and_the_file_says_so(storage: Storage) -> None:
    filled = fill(storage)
    waiting, _ = storage.jobs.add(a_job(filled.scenarios[0]), 99)
    told = storage.transfer.club(filled.club)
    assert "keys" in json.loads(told)["left_out"]
    assert "jobs that had not ended" in json.loads(told)["left_out"]
    assert told.isascii()
    for secret in ("a" * 64, "b" * 64, waiting.id, *filled.keys):
        assert secret not in told
    storage.jobs.ask_cancel(waiting.id)
    storage.clubs.delete(filled.club, None)
    storage.transfer.take_in(told)
    assert storage.keys.page(filled.club, None, 9).items == ()
    assert [job.state.ended for job in storage.jobs.page(filled.club, None, 99).items] == [True] * 6
    assert storage.jobs.unfinished() == ()


def test_a_club_that_is_not_there_cannot_be_written(storage: Storage) -> None:
    with pytest.raises(NoSuch):
        storage.transfer.club("0" * 20)


def test_a_club_is_not_taken_in_twice(storage: Storage) -> None:
    filled = fill(storage)
    before = counts(storage)
    with pytest.raises(AlreadyKept, match=f"club '{filled.club}'"):
        storage.transfer.take_in(storage.transfer.club(filled.club))
    assert counts(storage) == before


@pytest.mark.parametrize("part", ["a night", "an address"])
def test_no_event_and_no_address_is_given_twice(storage: Storage, part: str) -> None:
    """A file whose ids are all new, but which holds a kept night's uid or a kept feed's secret."""
    filled = fill(storage)
    told = storage.transfer.club(filled.club)
    renamed = re.sub('"[0-9a-f]{20}"', lambda found: f'"{found[0][-2:0:-1]}"', told)
    if part == "an address":
        renamed = UID.sub(lambda found: found[0][7::-1] + found[0][8:], renamed)
    else:
        for feed in json.loads(told)["feeds"]:
            renamed = renamed.replace(feed["secret"], feed["secret"][::-1])
    before = counts(storage)
    with pytest.raises(AlreadyKept, match="night" if part == "a night" else "feed 'of the same secret'"):
        storage.transfer.take_in(renamed)
    assert counts(storage) == before


def test_a_file_of_the_first_version_is_taken_in_with_calendars_that_tell_no_nights_yet(
    storage: Storage,
) -> None:
    filled = fill(storage)
    made = json.loads(storage.transfer.club(filled.club))
    storage.clubs.delete(filled.club, None)
    made["version"] = 1
    del made["feeds"]
    for name in ("follows", "announce_weeks", "entries"):
        del made["scenarios"][0]["calendar"][name]
    _as_first_lines(made)
    storage.transfer.take_in(json.dumps(made))
    shown = storage.calendars.of(filled.scenarios[0])
    assert (shown.plan, shown.follows, shown.announce_weeks) == (filled.plans[1], False, 0)
    assert storage.entries.of_calendar(filled.scenarios[0]) == ()
    assert storage.feeds.page(filled.club, None, 9).items == ()


def _as_first_lines(made: Any) -> None:
    """Make lines of a log what they were before the third version."""
    for line in made["scenarios"][0]["outcomes"]:
        del line["sky_brightness"], line["key"]


def test_a_file_of_the_second_version_is_taken_in_with_lines_that_tell_no_sky(storage: Storage) -> None:
    filled = fill(storage)
    made = json.loads(storage.transfer.club(filled.club))
    storage.clubs.delete(filled.club, None)
    made["version"] = 2
    _as_first_lines(made)
    storage.transfer.take_in(json.dumps(made))
    lines = storage.outcomes.lines(filled.scenarios[0])
    assert [(one.outcome, one.sky_brightness, one.key) for one in lines] == [
        ("clear", None, None), ("clouded", None, None), ("clouded", None, None)]  # fmt: skip


@pytest.mark.parametrize(
    "noun", ["members", "sites", "telescopes", "scenarios", "plans", "calendar", "feeds", "jobs"]
)
def test_nothing_takes_the_place_of_what_is_kept(storage: Storage, noun: str) -> None:
    """A file made anew whose club is new, but which names one thing somebody else has."""
    filled = fill(storage)
    told = storage.transfer.club(filled.club)
    made = json.loads(told)
    scenario = made["scenarios"][0]
    taken = {"plans": filled.plans[0], "calendar": scenario["calendar"]["id"]}.get(
        noun, made.get(noun, [{}])[0].get("id")
    )
    renamed = UID.sub(lambda found: found[0][7::-1] + found[0][8:], told)
    for feed in made["feeds"]:
        renamed = renamed.replace(feed["secret"], feed["secret"][::-1])
    for one in (
        filled.club,
        *filled.shared,
        *filled.scenarios,
        *filled.plans,
        *filled.jobs,
        *(feed["id"] for feed in made["feeds"]),
        scenario["calendar"]["id"],
    ):
        if one != taken:
            renamed = renamed.replace(one, one[::-1])
    before = counts(storage)
    with pytest.raises(AlreadyKept, match=taken):
        storage.transfer.take_in(renamed)
    assert counts(storage) == before
    storage.transfer.take_in(renamed.replace(taken, taken[::-1]))


def test_a_file_that_uses_something_of_another_club_is_refused(storage: Storage) -> None:
    filled, other = fill(storage), fill(storage, "Another")
    made = json.loads(storage.transfer.club(filled.club))
    storage.clubs.delete(filled.club, None)
    made["scenarios"][0]["uses"]["site"] = [other.shared[1]]
    with pytest.raises(UnreadableClub, match="nothing of another club"):
        storage.transfer.take_in(json.dumps(made))
    made["scenarios"][0]["uses"]["site"] = ["0" * 20]  # deleted since: the scenario keeps what it took over
    storage.transfer.take_in(json.dumps(made))


def _set(*path: str | int, to: object) -> Change:
    def change(made: Any) -> None:
        for step in path[:-1]:
            made = made[step]
        made[path[-1]] = to

    return change


def _twice(*path: str | int) -> Change:
    def change(made: Any) -> None:
        for step in path:
            made = made[step]
        made.append(copy.deepcopy(made[0]))

    return change


WRONG: dict[str, tuple[Change, str]] = {
    "another format": (_set("format", to="recipes"), "^format: expected"),
    "a later version": (_set("version", to=4), "^version: expected 1 to 3"),
    "a version that is none": (_set("version", to=1.0), "^version: expected 1 to 3"),
    "an older version than its members": (_set("version", to=1), "^version: expected 2, since"),
    "an older version than its lines": (_set("version", to=2), "^version: expected 3, since"),
    "a line sent twice": (
        lambda made: [line.update(key="k") for line in made["scenarios"][0]["outcomes"]],
        "^scenarios/0/outcomes: expected each key once",
    ),
    "a member too many": (_set("club", "colour", to="red"), "^club/colour: expected no member of this name"),
    "a member missing": (lambda made: made["club"].pop("name"), "^club/name: expected a member of this name"),
    "a key smuggled in": (_set("keys", to=[]), "^keys: expected no member"),
    "a number as text": (_set("club", "revision", to="1"), "^club/revision: expected a valid integer"),
    "a yes as a number": (_set("club", "revision", to=True), "^club/revision"),
    "a number too large": (_set("club", "revision", to=2**31), "^club/revision: expected less than or equal"),
    "an id too short": (_set("club", "id", to="12"), "^club/id: expected 20 hexadecimal digits"),
    "an id with an end of line": (_set("club", "id", to="a" * 20 + "\n"), "^club/id"),
    "a name too long": (_set("club", "name", to="a" * 201), "^club/name: expected a text of at most 200"),
    "NUL in a name": (_set("club", "name", to="a\0"), "^club/name: expected a text without NUL"),
    "half a letter": (_set("club", "name", to="\ud83d"), "^club/name: expected a text without NUL"),
    "a local time": (_set("club", "created", to="2026-09-12T20:00:00+02:00"), "^club/created: expected a"),
    "a naive time": (_set("club", "created", to="2026-09-12T20:00:00"), "^club/created"),
    "no such day": (_set("scenarios", 0, "season_start", to="2026-02-30"), "^scenarios/0/season_start"),
    "a member twice by id": (_twice("members"), "^members: expected each id once"),
    "a scenario twice": (_twice("scenarios"), "^scenarios: expected each id once"),
    "a job twice": (_twice("jobs"), "^jobs: expected each id once"),
    "a plan twice": (_twice("scenarios", 0, "plans"), "^plans: expected each id once"),
    "a file twice": (_twice("scenarios", 0, "plans", 0, "files"), "plans/0/files: expected each name once"),
    "a revision missing": (lambda made: made["scenarios"][0]["revisions"].pop(), "every revision"),
    "a revision out of order": (lambda made: made["scenarios"][0]["revisions"].reverse(), "without a gap"),
    "a line missing": (lambda made: made["scenarios"][0]["outcomes"].pop(0), "outcomes: expected numbers"),
    "a later log than there is": (_set("scenarios", 0, "plans", 0, "outcomes", to=9), "plans/0/outcomes"),
    "a later revision": (_set("jobs", 0, "revision", to=3), "^jobs/0/revision: expected a revision of its"),
    "a plan elsewhere": (_set("scenarios", 0, "calendar", "plan", to="0" * 20), "calendar/plan: expected"),
    "before itself": (
        lambda made: made["scenarios"][0]["plans"][0].update(previous=made["scenarios"][0]["plans"][0]["id"]),
        "plans/0/previous: expected null or the id of another",
    ),
    "a job's scenario elsewhere": (_set("jobs", 0, "scenario", to="0" * 20), "^jobs/0/scenario"),
    "a job's plan elsewhere": (_set("jobs", 0, "plan", to="0" * 20), "^jobs/0/plan: expected null or"),
    "an unfinished job": (_set("jobs", 0, "state", to="waiting"), "^jobs/0/state: expected 'done'"),
    "a job of no sort": (_set("jobs", 0, "work", to="dig"), "^jobs/0/work"),
    "another text": (_set("scenarios", 0, "plans", 0, "files", 0, "text", to="x"), "digest: expected"),
    "a file in two ways": (
        _set("scenarios", 0, "revisions", 0, "scenario_toml", to={"base64": "dG9tbA=="}), "scenario_toml"
    ),
    "no base64": (_set("scenarios", 0, "revisions", 0, "scenario_toml", to={"base64": "%"}), "scenario_toml"),
    "a name on two lines": (_set("club", "name", to="Hendra\nkey"), "^club/name: expected a name, printable"),
    "a name of nothing": (_set("members", 0, "name", to=" "), "^members/0/name: expected a name"),
    "half a letter in settings": (
        _set("members", 0, "settings", to={"a": [{"b": "\ud83d"}]}), "^members/0/settings: expected a text"
    ),
    "settings without ground": (
        _set("members", 0, "settings", to=json.loads('{"a":' * 200 + "1" + "}" * 200)),
        "^members/0/settings: expected lists and objects at most",
    ),
    "half a letter in a wish": (_set("jobs", 0, "wish", to={"\ud83d": 1}), "^jobs/0/wish: expected a text"),
    "a job more than done": (_set("jobs", 0, "fraction", to=5.0), "^jobs/0/fraction: expected less than"),
    "a feed twice": (_twice("feeds"), "^feeds: expected each id once"),
    "a guessable address": (_set("feeds", 0, "secret", to="club"), "^feeds/0/secret"),
    "a feed of two things": (_set("feeds", 0, "scenario", to="0" * 20), "^feeds/0/scenario: expected one"),
    "a feed of another club's": (_set("feeds", 1, "scenario", to="0" * 20), "^feeds/1/scenario: expected"),
    "a night twice": (
        lambda made: made["scenarios"][0]["calendar"]["entries"].append(
            made["scenarios"][0]["calendar"]["entries"][0] | {"uid": "0" * 8 + "-0000" * 3 + "-" + "0" * 12}
        ),
        "calendar/entries: expected each evening once",
    ),
    "an event twice": (
        lambda made: made["scenarios"][0]["calendar"]["entries"].append(
            made["scenarios"][0]["calendar"]["entries"][0] | {"evening": "2026-12-24"}
        ),
        "^entries: expected each uid once",
    ),
    "a night that ends before it starts": (
        _set("scenarios", 0, "calendar", "entries", 0, "told", "end", to="2026-09-12T01:00:00+00:00"),
        "entries/0/told/end: expected a time after",
    ),
    "a night without a title": (
        lambda made: made["scenarios"][0]["calendar"]["entries"][0]["told"].pop("title"), "entries/0/told",
    ),
    "no object": (lambda made: made.update(club=[]), "^club: expected"),
}  # fmt: skip


@pytest.mark.parametrize(("change", "told"), WRONG.values(), ids=WRONG.keys())
def test_what_is_wrong_is_said_where_and_nothing_is_kept(tmp_path: Path, change: Change, told: str) -> None:
    storage = Storage(tmp_path / "kept.sqlite3")
    filled = fill(storage)
    made = json.loads(storage.transfer.club(filled.club))
    storage.clubs.delete(filled.club, None)
    before = counts(storage)
    change(made)
    with pytest.raises(UnreadableClub, match=told):
        storage.transfer.take_in(json.dumps(made))
    assert counts(storage) == before
    storage.close()


@pytest.mark.parametrize(
    "text",
    ["", "null", "[]", "{}", "no JSON", '{"format": "duskwright-club", "format": "x"}', "[" * 100_000,
     '{"format": NaN}', '{"format": 1e999}', "1" * 5000, '{"a": "\\ud800"}', "\ufeff{}"],
    ids=lambda text: repr(text[:20]),
)  # fmt: skip
def test_what_is_no_club_at_all_is_refused(storage: Storage, text: str) -> None:
    with pytest.raises(UnreadableClub):
        storage.transfer.take_in(text)


def test_a_write_that_fails_half_way_leaves_nothing(
    storage: Storage, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled = fill(storage)
    told = storage.transfer.club(filled.club)
    storage.clubs.delete(filled.club, None)
    before, insert_rows, calls = counts(storage), transfer._insert, []

    def failing(*words: Any) -> None:
        calls.append(words[1].name)
        if words[1].name == "jobs":
            raise RuntimeError("the power went")
        insert_rows(*words)

    monkeypatch.setattr(transfer, "_insert", failing)
    with pytest.raises(RuntimeError, match="the power went"):
        storage.transfer.take_in(told)
    assert len(calls) > 9
    assert counts(storage) == before


PLAIN = st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.sampled_from(
    ["", "0" * 20, "\0", "\ud800", "2026-09-12T20:00:00+00:00", "2026-09-12", 2**31, 10**400, -1, 0, 1, 2]
)  # fmt: skip
VALUES = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3)
)


def places(made: Any, here: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the way to every place in a JSON value."""
    steps = made.items() if isinstance(made, dict) else enumerate(made) if isinstance(made, list) else ()
    for step, inner in steps:
        yield (*here, step)
        yield from places(inner, (*here, step))


def mutate(draw: Any, made: Any) -> None:
    """Change one place: another value, another place's value, gone, given twice, or put first."""
    found = list(places(made))
    way = draw(st.sampled_from(found))
    for step in way[:-1]:
        made = made[step]
    last = way[-1]
    deed = draw(st.sampled_from(["other", "gone", "twice", "first", "near"]))
    if deed == "gone":
        del made[last]
    elif isinstance(made, list) and deed == "twice":
        made.insert(last, copy.deepcopy(made[last]))
    elif isinstance(made, list) and deed == "first":
        made.insert(0, made.pop(last))
    elif deed == "near" and isinstance(made[last], str) and made[last]:
        made[last] = made[last][:-1] + draw(st.sampled_from("0a\0 \xe9"))
    elif deed == "near" and isinstance(made[last], int):
        made[last] += draw(st.sampled_from([-1, 1]))
    else:
        made[last] = draw(VALUES)


@pytest.fixture(scope="module", params=KINDS)
def fuzzed(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Storage, str]]:
    with storage_of(request.param, tmp_path_factory.mktemp("fuzzed")) as storage:
        club = fill(storage).club
        told = storage.transfer.club(club)
        storage.clubs.delete(club, None)
        yield storage, told


@settings(max_examples=250, derandomize=True, database=None,
          suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])  # fmt: skip
@given(data=st.data())
def test_whatever_is_changed_a_file_is_kept_as_it_reads_or_refused(
    fuzzed: tuple[Storage, str], data: st.DataObject
) -> None:
    storage, told = fuzzed
    made = json.loads(told)
    for _ in range(data.draw(st.integers(1, 2))):
        mutate(data.draw, made)
    text = json.dumps(made)
    try:
        record = storage.transfer.take_in(text)
    except (UnreadableClub, AlreadyKept):
        assert storage.clubs.page(None, 9).items == ()
        return
    try:
        again = json.loads(storage.transfer.club(record.id))
        assert again | {"left_out": made["left_out"]} == made
    finally:
        storage.clubs.delete(record.id, None)


def test_the_fuzzing_would_notice_what_is_not_kept(fuzzed: tuple[Storage, str]) -> None:
    """A file unchanged is taken in and reads equal, so that the comparison above compares something."""
    storage, told = fuzzed
    record = storage.transfer.take_in(told)
    again = json.loads(storage.transfer.club(record.id))
    assert again == json.loads(told)
    again["scenarios"][0]["outcomes"][0]["notes"] += "!"
    assert again != json.loads(told)
    storage.clubs.delete(record.id, None)


def test_a_club_with_nothing_can_be_moved_too(database: Where) -> None:
    storage = Storage(database)
    club = storage.clubs.add("Empty").id
    told = storage.transfer.club(club)
    storage.clubs.delete(club, None)
    assert storage.transfer.take_in(told).name == "Empty"
    assert a_scenario(storage)
    storage.close()
