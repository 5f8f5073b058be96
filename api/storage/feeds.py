"""Kept feeds. Their secrets are kept as they are: addresses of calendars go on working for years."""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from ..errors import NoSuch
from .clubs import found_club
from .database import Database, new_id, page_of
from .records import Page
from .tables import feeds, scenarios
from .told import FeedRecord, NewFeed, Shows

SECRET_BYTES = 20
"""160 random bits: 27 signs of an address."""
_SECRET = re.compile(r"[A-Za-z0-9_-]{1,64}")


class StoredFeeds:
    """Feeds as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, club: str, new: NewFeed) -> FeedRecord:
        """Keep a new feed with a fresh secret; raise `NoSuch` where the club has not what it is to show."""
        now, one = self._database.now(), new_id()
        with self._database.writing() as connection:
            found_club(connection, club)
            if new.scenario is not None:
                known = select(scenarios.c.id).where(scenarios.c.id == new.scenario, scenarios.c.club == club)
                if connection.execute(known).first() is None:
                    raise NoSuch("scenario", new.scenario)
            connection.execute(insert(feeds).values(
                id=one, club=club, scenario=new.scenario, shows=new.shows.value, observer=new.observer,
                secret=_new_secret(), revision=1, created=now, changed=now,
            ))  # fmt: skip
            return _found(connection, one)

    def get(self, feed: str) -> FeedRecord:
        """Return the record of a feed, or raise `NoSuch`."""
        with self._database.reading() as connection:
            return _found(connection, feed)

    def by_secret(self, secret: str) -> FeedRecord:
        """Return the feed of a secret, or raise `NoSuch`, which tells nothing of what was looked for."""
        if not _SECRET.fullmatch(secret):
            raise NoSuch("feed", "")
        with self._database.reading() as connection:
            row = connection.execute(select(feeds).where(feeds.c.secret == secret)).mappings().first()
        if row is None:
            raise NoSuch("feed", "")
        return _record(row)

    def page(self, club: str, cursor: int | None, limit: int) -> Page[FeedRecord]:
        """Return a page of a club's feeds, newest first; raise `NoSuch` if there is no such club."""
        with self._database.reading() as connection:
            found_club(connection, club)
            query = select(feeds).where(feeds.c.club == club)
            rows, following = page_of(connection, feeds, query, cursor, limit)
        return Page(tuple(_record(row) for row in rows), following)

    def rotate(self, feed: str) -> FeedRecord:
        """Give a feed a fresh secret; the old address opens nothing from then on."""
        with self._database.writing() as connection:
            record = _found(connection, feed)
            connection.execute(update(feeds).where(feeds.c.id == feed).values(
                secret=_new_secret(), revision=record.revision + 1, changed=self._database.now()
            ))  # fmt: skip
            return _found(connection, feed)

    def delete(self, feed: str) -> None:
        """Revoke a feed: its address opens nothing any more."""
        with self._database.writing() as connection:
            _found(connection, feed)
            connection.execute(delete(feeds).where(feeds.c.id == feed))


def _new_secret() -> str:
    return secrets.token_urlsafe(SECRET_BYTES)


def _found(connection: Connection, feed: str) -> FeedRecord:
    row = connection.execute(select(feeds).where(feeds.c.id == feed)).mappings().first()
    if row is None:
        raise NoSuch("feed", feed)
    return _record(row)


def _record(row: Mapping[Any, Any]) -> FeedRecord:
    return FeedRecord(**{**row, "shows": Shows(row["shows"])})
