"""Kept clubs. What a club has goes with it."""

from __future__ import annotations

from collections.abc import Set

from sqlalchemy import Connection, delete, insert, select, update

from ..errors import NoSuch, Stale, StillAtWork
from .database import Database, new_id, page_of
from .records import ClubRecord, Page
from .results import JobState
from .tables import clubs, jobs


class StoredClubs:
    """Clubs as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, name: str) -> ClubRecord:
        """Keep a new club and return its record."""
        now, club = self._database.now(), new_id()
        with self._database.writing() as connection:
            connection.execute(insert(clubs).values(id=club, name=name, revision=1, created=now, changed=now))
            return found_club(connection, club)

    def get(self, club: str) -> ClubRecord:
        """Return the record of a club, or raise `NoSuch`."""
        with self._database.reading() as connection:
            return found_club(connection, club)

    def page(self, cursor: int | None, limit: int) -> Page[ClubRecord]:
        """Return a page of clubs, newest first."""
        with self._database.reading() as connection:
            rows, following = page_of(connection, clubs, select(clubs), cursor, limit)
        return Page(tuple(ClubRecord(**row) for row in rows), following)

    def rename(self, club: str, name: str, expected: Set[int] | None) -> ClubRecord:
        """Give a club another name if its revision is `expected` (any where None), or raise `Stale`."""
        with self._database.writing() as connection:
            revision = _expected(connection, club, expected).revision + 1
            values = {"name": name, "revision": revision, "changed": self._database.now()}
            connection.execute(update(clubs).where(clubs.c.id == club).values(values))
            return found_club(connection, club)

    def delete(self, club: str, expected: Set[int] | None) -> None:
        """Delete a club with everything it has, unless it is `Stale` or `StillAtWork`."""
        unfinished = [state.value for state in JobState if not state.ended]
        with self._database.writing() as connection:
            _expected(connection, club, expected)
            busy = select(jobs.c.id).where(jobs.c.club == club, jobs.c.state.in_(unfinished)).limit(1)
            job = connection.execute(busy).scalar()
            if job is not None:
                raise StillAtWork(job)
            connection.execute(delete(clubs).where(clubs.c.id == club))


def found_club(connection: Connection, club: str) -> ClubRecord:
    """Return the record of a club, or raise `NoSuch`."""
    row = connection.execute(select(clubs).where(clubs.c.id == club)).mappings().first()
    if row is None:
        raise NoSuch("club", club)
    return ClubRecord(**row)


def _expected(connection: Connection, club: str, expected: Set[int] | None) -> ClubRecord:
    record = found_club(connection, club)
    if expected is not None and record.revision not in expected:
        raise Stale(record.tag)
    return record
