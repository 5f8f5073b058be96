"""What a club has and its scenarios share: members, sites and telescopes, all kept alike."""

from __future__ import annotations

from collections.abc import Sequence, Set

from sqlalchemy import Connection, Table, delete, insert, select, update

from ..errors import AlreadyKept, NoSuch, Stale
from .clubs import found_club
from .database import Database, new_id, page_of
from .records import NewShared, Noun, Page, SharedRecord
from .tables import members, sites, telescopes

_TABLES = {Noun.MEMBER: members, Noun.SITE: sites, Noun.TELESCOPE: telescopes}


class StoredShared:
    """The members, the sites or the telescopes of clubs, as they are kept."""

    def __init__(self, database: Database, noun: Noun) -> None:
        self._database, self._noun, self._table = database, noun, _TABLES[noun]

    def add(self, club: str, new: NewShared) -> SharedRecord:
        """Keep a new one and return its record; raise `AlreadyKept` if its club has one of this name."""
        now, one = self._database.now(), new_id()
        with self._database.writing() as connection:
            found_club(connection, club)
            self._refuse_name(connection, club, new.name, "")
            connection.execute(insert(self._table).values(
                id=one, club=club, name=new.name, settings=dict(new.settings), revision=1, created=now,
                changed=now,
            ))  # fmt: skip
            return self._found(connection, one)

    def get(self, one: str) -> SharedRecord:
        """Return the record of one, or raise `NoSuch`."""
        with self._database.reading() as connection:
            return self._found(connection, one)

    def page(self, club: str, cursor: int | None, limit: int) -> Page[SharedRecord]:
        """Return a page of a club's, newest first; raise `NoSuch` if there is no such club."""
        with self._database.reading() as connection:
            found_club(connection, club)
            query = select(self._table).where(self._table.c.club == club)
            rows, following = page_of(connection, self._table, query, cursor, limit)
        return Page(tuple(SharedRecord(**row) for row in rows), following)

    def several(
        self, club: str, wanted: Sequence[str], *, all_of_them: bool = True
    ) -> tuple[SharedRecord, ...]:
        """Return those of a club by id, in the order asked for.

        One the club has not raises `NoSuch`, or is left out where not `all_of_them` are needed.
        """
        query = select(self._table).where(self._table.c.club == club, self._table.c.id.in_(wanted))
        with self._database.reading() as connection:
            known = {row["id"]: SharedRecord(**row) for row in connection.execute(query).mappings()}
        missing = [one for one in wanted if one not in known]
        if missing and all_of_them:
            raise NoSuch(self._noun, missing[0])
        return tuple(known[one] for one in wanted if one in known)

    def replace(self, one: str, new: NewShared, expected: Set[int] | None) -> SharedRecord:
        """Change one if its revision is `expected` (any where None), or raise `Stale`."""
        with self._database.writing() as connection:
            record = self._expected(connection, one, expected)
            self._refuse_name(connection, record.club, new.name, one)
            connection.execute(update(self._table).where(self._table.c.id == one).values(
                name=new.name, settings=dict(new.settings), revision=record.revision + 1,
                changed=self._database.now(),
            ))  # fmt: skip
            return self._found(connection, one)

    def delete(self, one: str, expected: Set[int] | None) -> None:
        """Delete one; scenarios keep what they took over of it."""
        with self._database.writing() as connection:
            self._expected(connection, one, expected)
            connection.execute(delete(self._table).where(self._table.c.id == one))

    def _refuse_name(self, connection: Connection, club: str, name: str, but: str) -> None:
        table: Table = self._table
        query = select(table.c.id).where(table.c.club == club, table.c.name == name, table.c.id != but)
        if connection.execute(query).first() is not None:
            raise AlreadyKept(self._noun, name)

    def _found(self, connection: Connection, one: str) -> SharedRecord:
        row = connection.execute(select(self._table).where(self._table.c.id == one)).mappings().first()
        if row is None:
            raise NoSuch(self._noun, one)
        return SharedRecord(**row)

    def _expected(self, connection: Connection, one: str, expected: Set[int] | None) -> SharedRecord:
        record = self._found(connection, one)
        if expected is not None and record.revision not in expected:
            raise Stale(record.tag)
        return record
