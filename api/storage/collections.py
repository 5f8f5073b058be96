"""Kept collections: calendars on others' servers that feeds are pushed into, and what was put there."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, update

from ..errors import NoSuch, Stale
from .database import Database, new_id, page_of
from .records import Page
from .tables import calendars, collections, feeds, pushed, scenarios
from .told import CollectionRecord, NewCollection, PushedRecord


class StoredCollections:
    """Collections as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, feed: str, new: NewCollection) -> CollectionRecord:
        """Keep a new collection of a feed, or raise `NoSuch` where there is no such feed."""
        assert new.password is not None
        now, one = self._database.now(), new_id()
        with self._database.writing() as connection:
            _expect_feed(connection, feed)
            connection.execute(insert(collections).values(
                id=one, feed=feed, address=new.address, username=new.username, password=new.password,
                conflicts=new.conflicts, revision=1, created=now, changed=now,
            ))  # fmt: skip
            return _found(connection, one)

    def get(self, collection: str) -> CollectionRecord:
        """Return the record of a collection, or raise `NoSuch`."""
        with self._database.reading() as connection:
            return _found(connection, collection)

    def page(self, feed: str, cursor: int | None, limit: int) -> Page[CollectionRecord]:
        """Return a page of a feed's collections, newest first; raise `NoSuch` if there is no such feed."""
        with self._database.reading() as connection:
            _expect_feed(connection, feed)
            query = select(collections).where(collections.c.feed == feed)
            rows, following = page_of(connection, collections, query, cursor, limit)
        return Page(tuple(CollectionRecord(**row) for row in rows), following)

    def replace(self, collection: str, new: NewCollection, expected: Set[int] | None) -> CollectionRecord:
        """Change a collection if its revision is `expected` (any where None), or raise `Stale`.

        With another address, nothing is remembered of what was put at the old one.
        """
        with self._database.writing() as connection:
            record = _expected(connection, collection, expected)
            values: dict[str, Any] = {} if new.password is None else {"password": new.password}
            if new.address != record.address:
                values["told"] = None
                connection.execute(delete(pushed).where(pushed.c.collection == collection))
            connection.execute(update(collections).where(collections.c.id == collection).values(
                address=new.address, username=new.username, conflicts=new.conflicts,
                revision=record.revision + 1, changed=self._database.now(), **values,
            ))  # fmt: skip
            return _found(connection, collection)

    def delete(self, collection: str, expected: Set[int] | None) -> None:
        """Delete a collection here; what was put there stays there."""
        with self._database.writing() as connection:
            _expected(connection, collection, expected)
            connection.execute(delete(collections).where(collections.c.id == collection))

    def pushed(self, collection: str) -> Mapping[str, PushedRecord]:
        """Return what is remembered of what was put there, by UID."""
        query = select(pushed).where(pushed.c.collection == collection).order_by(pushed.c.uid)
        with self._database.reading() as connection:
            rows = connection.execute(query).mappings().all()
        return {row["uid"]: PushedRecord(row["etag"], row["digest"]) for row in rows}

    def note(self, collection: CollectionRecord, uid: str, now_there: PushedRecord) -> None:
        """Remember an event as it is there now; raise `Stale` if the collection was changed meanwhile."""
        mine = (pushed.c.collection == collection.id) & (pushed.c.uid == uid)
        values = {"etag": now_there.etag, "digest": now_there.digest}
        with self._database.writing() as connection:
            _expected(connection, collection.id, {collection.revision})
            if not connection.execute(update(pushed).where(mine).values(**values)).rowcount:
                connection.execute(insert(pushed).values(collection=collection.id, uid=uid, **values))

    def forget(self, collection: CollectionRecord, uid: str) -> None:
        """Remember an event no longer; raise `Stale` as `note` does."""
        with self._database.writing() as connection:
            _expected(connection, collection.id, {collection.revision})
            mine = (pushed.c.collection == collection.id) & (pushed.c.uid == uid)
            connection.execute(delete(pushed).where(mine))

    def tell(self, collection: str, told: Mapping[str, Any]) -> None:
        """Keep what the last push came to; a collection that is gone by now needs none."""
        with self._database.writing() as connection:
            connection.execute(
                update(collections).where(collections.c.id == collection).values(told=dict(told))
            )

    def scenario_of(self, collection: str) -> str:
        """Return the scenario whose jobs push this collection.

        That is the feed's, or of its club's the one whose calendar changed last.

        Raises
        ------
        NoSuch
            There is no such collection, or its club has no calendar yet.
        """
        with self._database.reading() as connection:
            feed = _found(connection, collection).feed
            row = connection.execute(select(feeds.c.scenario, feeds.c.club).where(feeds.c.id == feed)).one()
            newest = (
                select(calendars.c.scenario).join(scenarios, scenarios.c.id == calendars.c.scenario)
                .where(scenarios.c.club == row.club)
                .order_by(calendars.c.changed.desc(), calendars.c.number.desc()).limit(1)
            )  # fmt: skip
            found: str | None = row.scenario or connection.execute(newest).scalar()
        if found is None:
            raise NoSuch("calendar", collection)
        return found


def _expect_feed(connection: Connection, feed: str) -> None:
    if connection.execute(select(func.count()).where(feeds.c.id == feed)).scalar_one() == 0:
        raise NoSuch("feed", feed)


def _found(connection: Connection, collection: str) -> CollectionRecord:
    row = connection.execute(select(collections).where(collections.c.id == collection)).mappings().first()
    if row is None:
        raise NoSuch("collection", collection)
    return CollectionRecord(**row)


def _expected(connection: Connection, collection: str, expected: Set[int] | None) -> CollectionRecord:
    record = _found(connection, collection)
    if expected is not None and record.revision not in expected:
        raise Stale(record.tag)
    return record
