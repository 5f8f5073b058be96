"""What feeds answer: nights or the sky's dates as one calendar, made anew only where something changed."""

from __future__ import annotations

import gzip
from collections import OrderedDict
from collections.abc import Callable
from datetime import date
from functools import partial
from hashlib import sha256
from threading import Lock
from typing import TypeAlias

from .ics import FORM, Pages, whole
from .skydates import SkyPages, SkyTold
from .storage import FeedRecord, Shows, Storage

MOST_WHOLE = 64
"""Whole feeds kept in memory, each as text or compressed."""

_Shown: TypeAlias = SkyTold | tuple[tuple[str, int], ...]
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
        return self._tag(feed, base, alarm_min, self._shown(feed), compressed=compressed)

    def body_of(
        self, feed: FeedRecord, base: str, alarm_min: int | None, *, compressed: bool
    ) -> tuple[str, bytes]:
        """Return a feed with its entity tag; the text of one and the same tag is the same to the byte."""
        shown = self._shown(feed)
        tag = self._tag(feed, base, alarm_min, shown, compressed=compressed)
        write = partial(self._written, feed, base, alarm_min, shown, compressed=compressed)
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

    def _shown(self, feed: FeedRecord) -> _Shown:
        if feed.shows is Shows.SKY:
            return self._sky.told_of(feed.scenario or "")
        return self._storage.entries.versions_shown_by(feed)

    def _tag(
        self, feed: FeedRecord, base: str, alarm_min: int | None, shown: _Shown, *, compressed: bool
    ) -> str:
        what = shown.digest if isinstance(shown, SkyTold) else shown
        state = repr((FORM, feed.id, feed.secret, self.name_of(feed), base, alarm_min, what))
        return f'"{sha256(state.encode()).hexdigest()[:32]}{"-gzip" if compressed else ""}"'

    def _written(
        self, feed: FeedRecord, base: str, alarm_min: int | None, shown: _Shown, *, compressed: bool
    ) -> bytes:
        if isinstance(shown, SkyTold):
            text = whole(self.name_of(feed), feed.id, shown.events(alarm_min)).encode()
        else:
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
