"""A job that pushes a feed into a collection: what is kept meets what speaks to calendar servers."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from threading import Event
from time import monotonic
from typing import Any, TypeVar

from scheduler.domain import Progress
from scheduler.errors import Cancelled

from ..caldav import Calendar, Conflicts, Course, Item, Login, Pushed, Tally, push
from ..feeding import link_of
from ..ics import single
from ..ports import Outside
from ..problems import problem_of
from ..seal import Seal
from ..storage import CollectionRecord, PushedRecord, Storage
from .patience import patiently

Result = TypeVar("Result")
_LOOK_EVERY_S = 0.25
"""How often a wait for a busy server is broken off to ask whether to stop. [s]"""


@dataclass(frozen=True, slots=True)
class Errand:
    """A push under way: what it is of, and how it goes along with its job.

    Attributes
    ----------
    storage, outside : Where things are kept; how calendar servers are reached.
    closing : Set when this process is about to stop.
    report : Told how far the push has come.
    asked_to_stop : Asked before every write.
    """

    storage: Storage
    outside: Outside
    closing: Event
    report: Callable[[Progress], None]
    asked_to_stop: Callable[[], bool]

    def run(self, wish: Mapping[str, Any]) -> str:
        """Push as `storage.push_wish` says; return what came of it as JSON, as the collection tells it too.

        Raises
        ------
        Cancelled
            The job was asked to stop, or this process.
        NoSuch, Stale
            The collection is gone, or was changed meanwhile.
        NoSealKey, SealBroken
            Its password cannot be opened.
        CalendarUnreachable, CalendarRefused, CalendarBusy, NotACalendar, HostNotAllowed
            Its server did not go along; what was written until then is remembered.
        """
        record = self._kept(lambda: self.storage.collections.get(str(wish["collection"])))
        tally = Tally()
        problem: dict[str, Any] | None = None
        try:
            self._push(record, [] if wish["withdraw"] else self._items(record), tally)
        except Cancelled:
            raise
        except Exception as error:
            problem = {name: told for name, told in problem_of(error).items() if name != "instance"}
            raise
        finally:
            told = {"when": self.storage.now().isoformat(), **tally.told(), "problem": problem}
            self._kept(lambda: self.storage.collections.tell(record.id, told))
        return json.dumps(told)

    def _push(self, record: CollectionRecord, items: list[Item], tally: Tally) -> None:
        login = Login(record.username, Seal().opened(record.password))
        before = self._kept(lambda: self.storage.collections.pushed(record.id))
        pushed = {uid: Pushed(one.etag, one.digest) for uid, one in before.items()}
        course = Course(_Memory(self, record), self.report, self.asked_to_stop)
        with Calendar(record.address, login, self.outside.transport(), self._wait) as calendar:
            push(calendar, items, pushed, Conflicts(record.conflicts), course, tally)

    def _items(self, record: CollectionRecord) -> list[Item]:
        feed = self._kept(lambda: self.storage.feeds.get(record.feed))
        base = self.outside.address
        return [
            Item(one.uid, single(one, link_of(base, feed, one.evening) if base else None), one.evening)
            for one in self._kept(lambda: self.storage.entries.shown_by(feed))
        ]

    def _wait(self, wait_s: float) -> bool:
        until_s = monotonic() + wait_s
        while (left_s := until_s - monotonic()) > 0:
            if self.asked_to_stop():
                raise Cancelled
            self.closing.wait(min(_LOOK_EVERY_S, left_s))
        return True

    def _kept(self, ask: Callable[[], Result]) -> Result:
        return patiently(ask, self.closing)


@dataclass(frozen=True, slots=True)
class _Memory:
    """Keeps what was put, however long the database is away."""

    errand: Errand
    record: CollectionRecord

    def note(self, uid: str, pushed: Pushed) -> None:
        there = PushedRecord(pushed.etag, pushed.digest)
        kept = self.errand.storage.collections
        patiently(lambda: kept.note(self.record, uid, there), self.errand.closing)

    def forget(self, uid: str) -> None:
        kept = self.errand.storage.collections
        patiently(lambda: kept.forget(self.record, uid), self.errand.closing)
