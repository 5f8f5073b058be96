"""Members' own calendars: kept of each are its name, its sealed address, and when its owner is busy."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence, Set
from datetime import date
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from scheduler.domain import Span

from ..errors import AlreadyKept, NoSuch, Stale
from .busy_records import EngagementRecord, Known, NewEngagement
from .database import Database, new_id, page_of
from .records import Page
from .tables import busy_times, engagements, members


class StoredEngagements:
    """Members' own calendars as they are kept; the busy times of each are replaced all at once."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, member: str, new: NewEngagement, most: int) -> EngagementRecord:
        """Keep a new one and return its record.

        Raises
        ------
        NoSuch
            There is no such member.
        AlreadyKept
            They have one of this name, or `most` of them.
        """
        now, one = self._database.now(), new_id()
        with self._database.writing() as connection:
            _found_member(connection, member)
            known = select(engagements.c.name).where(engagements.c.member == member)
            names = connection.execute(known).scalars().all()
            if new.name in names:
                raise AlreadyKept("engagement", new.name)
            if len(names) >= most:
                raise AlreadyKept("engagement", f"number {most}, the most a member may have")
            connection.execute(insert(engagements).values(
                id=one, member=member, name=new.name, address=new.address, first=new.first, last=new.last,
                told=dict(new.told), revision=1, created=now, changed=now,
            ))  # fmt: skip
            _keep_busy(connection, one, new.busy)
            return _found(connection, one)

    def get(self, one: str) -> EngagementRecord:
        """Return the record of one, or raise `NoSuch`."""
        with self._database.reading() as connection:
            return _found(connection, one)

    def page(self, member: str, cursor: int | None, limit: int) -> Page[EngagementRecord]:
        """Return a page of a member's, newest first; raise `NoSuch` if there is no such member."""
        with self._database.reading() as connection:
            _found_member(connection, member)
            query = select(engagements).where(engagements.c.member == member)
            rows, following = page_of(connection, engagements, query, cursor, limit)
        return Page(tuple(EngagementRecord(**row) for row in rows), following)

    def busy(self, one: str) -> tuple[EngagementRecord, tuple[Span, ...]]:
        """Return one with its busy times, in order, as they stood together; raise `NoSuch` if it is not."""
        query = select(busy_times).where(busy_times.c.engagement == one).order_by(busy_times.c.start)
        with self._database.reading() as connection:
            record = _found(connection, one)
            rows = connection.execute(query).mappings().all()
        return record, tuple(Span(row["start"], row["end"]) for row in rows)

    def known_of(self, wanted: Sequence[str]) -> Mapping[str, Known]:
        """Return what is known of the time of each of these members."""
        spans: dict[str, list[Span]] = defaultdict(list)
        read: dict[str, list[tuple[date, date]]] = defaultdict(list)
        mine = select(engagements).where(engagements.c.member.in_(wanted))
        theirs = (
            select(engagements.c.member, busy_times.c.start, busy_times.c.end)
            .join(engagements, engagements.c.id == busy_times.c.engagement)
            .where(engagements.c.member.in_(wanted))
            .order_by(busy_times.c.start)
        )
        with self._database.reading() as connection:
            for row in connection.execute(mine).mappings():
                if row["told"].get("read") is not None:
                    read[row["member"]].append((row["first"], row["last"]))
            for member, start, end in connection.execute(theirs):
                spans[member].append(Span(start, end))
        return {member: Known(tuple(spans[member]), tuple(read[member])) for member in wanted}

    def read_again(self, one: str, new: NewEngagement, expected: Set[int] | None) -> EngagementRecord:
        """Replace the days, the busy times and what is told; its name and its address stay.

        Raises
        ------
        NoSuch, Stale
            It is not kept, or its revision is not `expected` (any where None).
        """
        with self._database.writing() as connection:
            record = _expected(connection, one, expected)
            _tell(connection, self._database, record, first=new.first, last=new.last, told=dict(new.told))
            connection.execute(delete(busy_times).where(busy_times.c.engagement == one))
            _keep_busy(connection, one, new.busy)
            return _found(connection, one)

    def tell(self, one: str, told: Mapping[str, Any]) -> EngagementRecord:
        """Replace what is told of one; what is known of its times stays. Raise `NoSuch` if it is not kept."""
        with self._database.writing() as connection:
            _tell(connection, self._database, _found(connection, one), told=dict(told))
            return _found(connection, one)

    def delete(self, one: str, expected: Set[int] | None) -> None:
        """Delete one with its busy times, unless it is `Stale`."""
        with self._database.writing() as connection:
            _expected(connection, one, expected)
            connection.execute(delete(engagements).where(engagements.c.id == one))


def _keep_busy(connection: Connection, one: str, spans: Sequence[Span]) -> None:
    rows = [{"engagement": one, "start": span.start, "end": span.end} for span in spans]
    if rows:
        connection.execute(insert(busy_times), rows)


def _tell(connection: Connection, database: Database, record: EngagementRecord, **values: Any) -> None:
    connection.execute(update(engagements).where(engagements.c.id == record.id).values(
        **values, revision=record.revision + 1, changed=database.now()
    ))  # fmt: skip


def _found_member(connection: Connection, member: str) -> None:
    if connection.execute(select(members.c.id).where(members.c.id == member)).first() is None:
        raise NoSuch("member", member)


def _found(connection: Connection, one: str) -> EngagementRecord:
    row = connection.execute(select(engagements).where(engagements.c.id == one)).mappings().first()
    if row is None:
        raise NoSuch("engagement", one)
    return EngagementRecord(**row)


def _expected(connection: Connection, one: str, expected: Set[int] | None) -> EngagementRecord:
    record = _found(connection, one)
    if expected is not None and record.revision not in expected:
        raise Stale(record.tag)
    return record
