"""What feeds answer: nights or the sky's dates as one calendar, made anew only where something changed."""

from __future__ import annotations

import gzip
from collections import OrderedDict
from collections.abc import Callable, Iterator
from datetime import date
from hashlib import sha256
from threading import Lock
from typing import TypeAlias

from .ics import FORM, Pages, whole
from .skydates import SkyPages, SkyTold
from .storage import EntryVersion, FeedRecord, Shows, Storage

MOST_WHOLE = 64
"""Whole feeds kept in memory, each as text or compressed."""

_Shown: TypeAlias = SkyTold | tuple[EntryVersion, ...]
"""What a feed shows: the sky's dates, or the version of each night."""


class Feeder:
    """Writes feeds from what is kept.

    Parameters
    ----------
    storage : Where entries are kept.
    sky : Knows the sky's dates.
    """

    def __init__(self, storage: Storage, sky: SkyPages) -> None:
        self._storage, self._sky, self._pages = storage, sky, Pages()
        self._whole: OrderedDict[str, bytes] = OrderedDict()
        self._lock = Lock()

    def tag_of(self, feed: FeedRecord, base: str, alarm_min: int | None, *, compressed: bool) -> str:
        """Return the entity tag of a feed as it stands now: another one whenever a byte of it is another.

        Parameters
        ----------
        base : Where others reach the service; links begin with it.
        alarm_min : How long before each night to be reminded; None for not at all. [min]
        """
        told: _Shown = (
            self._sky_of(feed) if feed.shows is Shows.SKY else self._storage.entries.versions_shown_by(feed)
        )
        return _tag(feed, self.name_of(feed), told, (base, alarm_min), compressed=compressed)

    def body_of(
        self, feed: FeedRecord, base: str, alarm_min: int | None, *, compressed: bool
    ) -> tuple[str, bytes]:
        """Return a feed with its entity tag, both of one reading; one tag is one text, to the byte."""
        name = self.name_of(feed)
        told, events = self._read(feed, base, alarm_min)
        tag = _tag(feed, name, told, (base, alarm_min), compressed=compressed)

        def write() -> bytes:
            text = whole(name, feed.id, events).encode()
            return gzip.compress(text, 6, mtime=0) if compressed else text

        return tag, self._once(tag, write)

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
                name = scenario.title or scenario.name
                return f"{name}: sky dates" if feed.shows is Shows.SKY else name

    def _read(self, feed: FeedRecord, base: str, alarm_min: int | None) -> tuple[_Shown, Iterator[str]]:
        """Return what a feed shows, and how it is written; nothing is written before it is asked for."""
        if feed.shows is Shows.SKY:
            sky = self._sky_of(feed)
            return sky, sky.events(alarm_min)
        entries = self._storage.entries.shown_by(feed)
        events = self._pages.events(entries, lambda evening: link_of(base, feed, evening), alarm_min)
        return tuple(one.version for one in entries), events

    def _sky_of(self, feed: FeedRecord) -> SkyTold:
        return self._sky.told_of(feed.scenario or "")

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


def _tag(
    feed: FeedRecord, name: str, told: _Shown, asked: tuple[str, int | None], *, compressed: bool
) -> str:
    what = told.digest if isinstance(told, SkyTold) else told
    state = repr((FORM, feed.id, feed.secret, name, asked, what))
    return f'"{sha256(state.encode()).hexdigest()[:32]}{"-gzip" if compressed else ""}"'


def address_of(base: str, feed: FeedRecord) -> str:
    """Return where a feed is read: 42 signs after `base`."""
    return f"{base}/calendars/{feed.secret}.ics"


def link_of(base: str, feed: FeedRecord, evening: date) -> str:
    """Return the page of a night, for whoever has the feed."""
    return f"{base}/nights/{feed.secret}/{evening.isoformat()}"
