"""Members' own calendars as they are kept, on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import func, select

from api.errors import AlreadyKept, NoSuch, Stale
from api.storage import Known, NewEngagement, NewShared, Noun, Storage
from api.storage.tables import busy_times
from scheduler.domain import Span

AT = datetime(2027, 2, 20, 19, tzinfo=UTC)
TOLD: dict[str, Any] = {
    "zone": "Europe/London",
    "host": None,
    "read": AT.isoformat(),
    "events": 2,
    "problem": None,
}
SPANS = (Span(AT, AT + timedelta(hours=2)), Span(AT + timedelta(days=1), AT + timedelta(days=2)))
NEW = NewEngagement("work", date(2027, 1, 1), date(2027, 12, 31), TOLD, b"sealed", SPANS)


@pytest.fixture
def member(storage: Storage) -> str:
    club = storage.clubs.add("Larkmoor").id
    return storage.shared[Noun.MEMBER].add(club, NewShared("Jory", {})).id


def rows(storage: Storage) -> int:
    with storage._database.reading() as connection:
        return connection.execute(select(func.count()).select_from(busy_times)).scalar_one()


def test_what_is_kept_comes_back(storage: Storage, member: str) -> None:
    made = storage.engagements.add(member, NEW, 9)
    assert (made.name, made.address, made.first, made.last) == ("work", b"sealed", NEW.first, NEW.last)
    assert (made.told, made.revision, made.tag) == (TOLD, 1, '"r1"')
    assert storage.engagements.get(made.id) == made
    assert storage.engagements.busy(made.id) == (made, SPANS)
    assert storage.owners.club_of("engagement", made.id) == storage.owners.club_of("member", member)


def test_reading_again_replaces_everything_at_once(storage: Storage, member: str) -> None:
    made = storage.engagements.add(member, NEW, 9)
    later = replace(
        NEW, first=date(2027, 2, 1), last=date(2028, 2, 1), busy=SPANS[1:], told={**TOLD, "events": 1}
    )
    again = storage.engagements.read_again(made.id, later, frozenset({1}))
    assert (again.revision, again.first, again.told["events"], again.address) == (
        2,
        later.first,
        1,
        b"sealed",
    )
    assert storage.engagements.busy(made.id)[1] == SPANS[1:]
    assert rows(storage) == 1


def test_a_refused_change_leaves_everything(storage: Storage, member: str) -> None:
    made = storage.engagements.add(member, NEW, 9)
    with pytest.raises(Stale):
        storage.engagements.read_again(made.id, replace(NEW, busy=()), frozenset({7}))
    with pytest.raises(Stale):
        storage.engagements.delete(made.id, frozenset({7}))
    assert storage.engagements.busy(made.id) == (made, SPANS)


def test_a_change_that_breaks_off_leaves_the_old_times(
    storage: Storage, member: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = storage.engagements.add(member, NEW, 9)

    def broken(*args: object) -> None:
        raise RuntimeError("the lights went out")

    monkeypatch.setattr("api.storage.engagements._keep_busy", broken)
    with pytest.raises(RuntimeError):
        storage.engagements.read_again(made.id, replace(NEW, busy=SPANS[1:]), None)
    assert storage.engagements.busy(made.id) == (made, SPANS)


def test_what_is_told_changes_alone(storage: Storage, member: str) -> None:
    made = storage.engagements.add(member, NEW, 9)
    told = storage.engagements.tell(made.id, {**TOLD, "problem": {"detail": "gone"}})
    assert (told.revision, told.told["problem"]) == (2, {"detail": "gone"})
    assert storage.engagements.busy(made.id)[1] == SPANS


def test_a_member_has_each_name_once_and_not_too_many(storage: Storage, member: str) -> None:
    storage.engagements.add(member, NEW, 2)
    with pytest.raises(AlreadyKept, match="work"):
        storage.engagements.add(member, NEW, 2)
    storage.engagements.add(member, replace(NEW, name="home"), 2)
    with pytest.raises(AlreadyKept, match="the most a member may have"):
        storage.engagements.add(member, replace(NEW, name="choir"), 2)


def test_pages_are_newest_first(storage: Storage, member: str) -> None:
    made = [storage.engagements.add(member, replace(NEW, name=f"{n}"), 9).id for n in range(3)]
    first = storage.engagements.page(member, None, 2)
    rest = storage.engagements.page(member, first.cursor, 2)
    assert [one.id for one in (*first.items, *rest.items)] == made[::-1]
    assert rest.cursor is None


def test_what_is_known_of_members_is_all_their_calendars_tell(storage: Storage, member: str) -> None:
    storage.engagements.add(member, NEW, 9)
    unread = replace(NEW, name="new", told={**TOLD, "read": None}, busy=())
    storage.engagements.add(member, unread, 9)
    storage.engagements.add(member, replace(NEW, name="home", first=date(2027, 3, 1), busy=SPANS[:1]), 9)
    known = storage.engagements.known_of([member, "0" * 20])
    assert known["0" * 20] == Known()
    assert sorted(known[member].spans, key=lambda one: one.start) == [SPANS[0], SPANS[0], SPANS[1]]
    assert known[member].read == ((NEW.first, NEW.last), (date(2027, 3, 1), NEW.last))
    assert known[member].covers(NEW.first)
    assert not known[member].covers(NEW.first - timedelta(days=1))


def test_all_of_it_goes_with_its_member(storage: Storage, member: str) -> None:
    made = storage.engagements.add(member, NEW, 9)
    storage.shared[Noun.MEMBER].delete(member, None)
    with pytest.raises(NoSuch):
        storage.engagements.get(made.id)
    assert rows(storage) == 0


def test_a_deleted_one_takes_its_times_along(storage: Storage, member: str) -> None:
    made = storage.engagements.add(member, NEW, 9)
    storage.engagements.delete(made.id, None)
    assert rows(storage) == 0


@pytest.mark.parametrize("ask", [
    lambda kept, one: kept.get(one), lambda kept, one: kept.busy(one),
    lambda kept, one: kept.page(one, None, 9),
    lambda kept, one: kept.add(one, NEW, 9), lambda kept, one: kept.read_again(one, NEW, None),
    lambda kept, one: kept.tell(one, TOLD), lambda kept, one: kept.delete(one, None),
])  # fmt: skip
def test_what_is_not_kept_is_said_not_to_be(storage: Storage, ask: Any) -> None:
    with pytest.raises(NoSuch):
        ask(storage.engagements, "0" * 20)


def test_a_clubs_file_leaves_members_calendars_out(storage: Storage, member: str) -> None:
    storage.engagements.add(member, replace(NEW, name="Quillfeather"), 9)
    club = storage.owners.club_of("member", member)
    assert club is not None
    told = storage.transfer.club(club)
    assert "Quillfeather" not in told
    assert "members' own calendars" in told


def test_a_club_takes_along_how_many_must_be_free(storage: Storage, member: str) -> None:
    from .kept import NEW as SCENARIO

    club = storage.owners.club_of("member", member)
    assert club is not None
    kept = storage.scenarios.add(club, SCENARIO, {"member": [member], "need": ["2"]})
    told = storage.transfer.club(club)
    storage.clubs.delete(club, None)
    storage.transfer.take_in(told)
    assert storage.scenarios.get(kept.id).uses == {"member": [member], "need": ["2"]}
