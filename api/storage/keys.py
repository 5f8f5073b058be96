"""Kept keys: who may do what. Of a key's secret only a digest is kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, insert, select, update

from ..errors import NoSuch
from .clubs import found_club
from .database import Database, new_id, page_of
from .records import KeyRecord, NewKey, Page, Role
from .tables import keys


class StoredKeys:
    """Keys as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, new: NewKey, digest: str) -> KeyRecord:
        """Keep a new key and return its record; raise `NoSuch` if there is no such club."""
        key = new_id()
        with self._database.writing() as connection:
            if new.club is not None:
                found_club(connection, new.club)
            connection.execute(insert(keys).values(
                id=key, club=new.club, role=new.role.value, name=new.name, digest=digest,
                created=self._database.now(), expires=new.expires,
            ))  # fmt: skip
            return _found(connection, key)

    def add_first(self, new: NewKey, digest: str) -> KeyRecord | None:
        """Keep the service's first owner key; None where it has one that still counts."""
        now, key = self._database.now(), new_id()
        owner = keys.c.club.is_(None) & (keys.c.role == Role.OWNER.value) & keys.c.revoked.is_(None)
        owner &= keys.c.expires.is_(None) | (keys.c.expires > now)
        with self._database.writing() as connection:
            if connection.execute(select(keys.c.id).where(owner).limit(1)).first() is not None:
                return None
            connection.execute(insert(keys).values(
                id=key, club=None, role=Role.OWNER.value, name=new.name, digest=digest, created=now
            ))  # fmt: skip
            return _found(connection, key)

    def get(self, key: str) -> KeyRecord:
        """Return the record of a key, or raise `NoSuch`."""
        with self._database.reading() as connection:
            return _found(connection, key)

    def page(self, club: str | None, cursor: int | None, limit: int) -> Page[KeyRecord]:
        """Return a page of a club's keys (the service's own where None), newest first."""
        with self._database.reading() as connection:
            if club is not None:
                found_club(connection, club)
            rows, following = page_of(
                connection, keys, select(keys).where(keys.c.club == club), cursor, limit
            )
        return Page(tuple(_record(row) for row in rows), following)

    def revoke(self, key: str) -> KeyRecord:
        """Let a key open nothing from now on; once revoked it stays as it is."""
        with self._database.writing() as connection:
            unrevoked = (keys.c.id == key) & keys.c.revoked.is_(None)
            connection.execute(update(keys).where(unrevoked).values(revoked=self._database.now()))
            return _found(connection, key)


def _found(connection: Connection, key: str) -> KeyRecord:
    row = connection.execute(select(keys).where(keys.c.id == key)).mappings().first()
    if row is None:
        raise NoSuch("key", key)
    return _record(row)


def _record(row: Mapping[Any, Any]) -> KeyRecord:
    return KeyRecord(**{**row, "role": Role(row["role"])})
