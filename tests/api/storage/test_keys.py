"""Keys: their secrets are never kept."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest

from api.storage import NewKey, Role, Storage
from api.storage.tables import keys

from ..databases import Where

NOW = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)
OWNER = NewKey(None, Role.OWNER, "first")


def test_of_a_key_only_a_digest_is_kept() -> None:
    assert {column.name for column in keys.c} == {
        "number", "id", "club", "role", "name", "digest", "created", "expires", "revoked",
    }  # fmt: skip


@pytest.mark.parametrize("role", list(Role))
def test_a_key_is_kept_with_role_and_end(storage: Storage, role: Role) -> None:
    club = storage.clubs.add("Larkmoor").id
    until = NOW.astimezone() + timedelta(days=30)
    key = storage.keys.add(NewKey(club, role, "a name", until), "d" * 64)
    assert (key.club, key.role, key.digest, key.expires, key.revoked) == (club, role, "d" * 64, until, None)
    assert key.expires is not None
    assert key.expires.tzinfo is UTC
    assert storage.keys.get(key.id) == key


def test_a_key_is_revoked_once_and_for_all(database: Where) -> None:
    times = iter(NOW + timedelta(minutes=minute) for minute in range(9))
    storage = Storage(database, now=lambda: next(times))
    key = storage.keys.add(OWNER, "d" * 64)
    revoked = storage.keys.revoke(key.id)
    assert revoked.revoked == NOW + timedelta(minutes=1)
    assert storage.keys.revoke(key.id) == revoked
    storage.close()


def test_the_keys_of_a_club_and_those_of_the_service_are_listed_apart(storage: Storage) -> None:
    club, other = storage.clubs.add("A").id, storage.clubs.add("B").id
    mine, theirs, service = (
        storage.keys.add(NewKey(whose, Role.READER, "x"), "d" * 64) for whose in (club, other, None)
    )
    assert storage.keys.page(club, None, 9).items == (mine,)
    assert storage.keys.page(other, None, 9).items == (theirs,)
    assert storage.keys.page(None, None, 9).items == (service,)


def test_the_first_owner_is_made_once_though_many_ask(database: Where) -> None:
    storages = [Storage(database) for _ in range(2)]
    with ThreadPoolExecutor(8) as pool:
        made = list(pool.map(lambda n: storages[n % 2].keys.add_first(OWNER, "d" * 64), range(16)))
    assert len([key for key in made if key is not None]) == 1
    for storage in storages:
        storage.close()


@pytest.mark.parametrize("how", ["revoked", "expired", "of a club", "no owner"])
def test_a_service_without_an_owner_that_counts_gets_one(database: Where, how: str) -> None:
    storage = Storage(database, now=lambda: NOW)
    if how == "revoked":
        storage.keys.revoke(storage.keys.add(OWNER, "d" * 64).id)
    elif how == "expired":
        storage.keys.add(NewKey(None, Role.OWNER, "x", NOW - timedelta(seconds=1)), "d" * 64)
    elif how == "of a club":
        storage.keys.add(NewKey(storage.clubs.add("A").id, Role.OWNER, "x"), "d" * 64)
    else:
        storage.keys.add(NewKey(None, Role.PLANNER, "x"), "d" * 64)
    assert storage.keys.add_first(OWNER, "e" * 64) is not None
    assert storage.keys.add_first(OWNER, "f" * 64) is None
    storage.close()
