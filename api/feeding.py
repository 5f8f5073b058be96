"""What feeds answer: the nights they show as one calendar, written anew only where something changed."""

from __future__ import annotations

import gzip
from collections import OrderedDict
from collections.abc import Callable
from datetime import date
from hashlib import sha256
from threading import Lock

from .ics import FORM, Pages
from .storage import FeedRecord, Shows, Storage

MOST_WHOLE = 64
"""Whole feeds kept in memory, each as text or compressed."""


class Feeder:
    """Writes feeds from what is kept.

    Parameters
    ----------
    storage : Where entries are kept.
    """

    def __init__(self, storage: Storage) -> None:
        self._storage, self._pages = storage, Pages()
        self._whole: OrderedDict[str, bytes] = OrderedDict()
        self._lock = Lock()

    def tag_of(self, feed: FeedRecord, base: str, alarm_min: int | None, *, compressed: bool) -> str:
        """Return the entity tag of a feed as it stands now: another one whenever a byte of it is another.

        Parameters
        ----------
        base : Where others reach the service; links begin with it.
        alarm_min : How long before each night to be reminded; None for not at all. [min]
        """
        shown = self._storage.entries.versions_shown_by(feed)
        state = repr((FORM, feed.id, feed.secret, self.name_of(feed), base, alarm_min, shown))
        return f'"{sha256(state.encode()).hexdigest()[:32]}{"-gzip" if compressed else ""}"'

    def body_of(
        self, feed: FeedRecord, base: str, alarm_min: int | None, *, compressed: bool
    ) -> tuple[str, bytes]:
        """Return a feed with its entity tag; the text of one and the same tag is the same to the byte."""
        tag = self.tag_of(feed, base, alarm_min, compressed=compressed)
        return tag, self._once(tag, lambda: self._written(feed, base, alarm_min, compressed=compressed))

    def name_of(self, feed: FeedRecord) -> str:
        """Return what calendars call a feed."""
        club = self._storage.clubs.get(feed.club).name
        match feed.shows:
            case Shows.CLUB:
                return f"{club}: nights out"
            case Shows.OBSERVER:
                return f"{club}: nights out of {feed.observer}"
            case _:
                scenario = self._storage.scenarios.get(feed.scenario or "")
                return scenario.title or scenario.name

    def _written(self, feed: FeedRecord, base: str, alarm_min: int | None, *, compressed: bool) -> bytes:
        entries = self._storage.entries.shown_by(feed)
        text = self._pages.feed(
            self.name_of(feed), feed.id, entries, lambda evening: link_of(base, feed, evening), alarm_min
        ).encode()
        return gzip.compress(text, 6, mtime=0) if compressed else text

    def _once(self, tag: str, write: Callable[[], bytes]) -> bytes:
        with self._lock:
            if tag in self._whole:
                self._whole.move_to_end(tag)
                return self._whole[tag]
        written = write()
        with self._lock:
            self._whole[tag] = written
            if len(self._whole) > MOST_WHOLE:
                self._whole.popitem(last=False)
        return written


def address_of(base: str, feed: FeedRecord) -> str:
    """Return where a feed is read: 38 signs after `base`."""
    return f"{base}/feeds/{feed.secret}.ics"


def link_of(base: str, feed: FeedRecord, evening: date) -> str:
    """Return the page of a night, for whoever has the feed."""
    return f"{base}/nights/{feed.secret}/{evening.isoformat()}"
