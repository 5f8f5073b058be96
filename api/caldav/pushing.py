"""A push: a collection on a calendar server is made to show what a feed shows, and nothing else is touched.

Whatever is cut off can be begun again: each event is written on the condition that it is there as we saw it,
and says by a mark of its own whether it is as some push of ours left it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from scheduler.domain import Progress
from scheduler.errors import Cancelled

from .client import Calendar, Cut, Elsewhere, Overtaken
from .content import digest_of, marked
from .errors import CalendarUnreachable
from .nouns import BEGUN, Conflict, Conflicts, Found, Item, Memory, Outcome, Pushed, Tally, There
from .plan import Deed, Sort, deeds_of, overtook, unread

LOOKS = 4
"""How often an event is looked at that others change while it is pushed."""


@dataclass(frozen=True, slots=True)
class Course:
    """How a push goes along with who asked for it.

    Attributes
    ----------
    memory : Told of every write once it was acknowledged.
    report : Told how far the push has come.
    asked_to_stop : Asked before every write.
    """

    memory: Memory
    report: Callable[[Progress], None] = lambda progress: None
    asked_to_stop: Callable[[], bool] = lambda: False


def push(
    calendar: Calendar, items: Sequence[Item], pushed: Mapping[str, Pushed], conflicts: Conflicts,
    course: Course, tally: Tally,
) -> None:  # fmt: skip
    """Make a calendar show these events, as far as nobody changed them by hand.

    Parameters
    ----------
    items : All it should show of ours; what was pushed and is not among them is deleted.
    pushed : What is remembered of what was put before.
    conflicts : What becomes of events changed by hand.
    tally : What was done is counted here, also where the push does not come to its end.

    Raises
    ------
    Cancelled
        The push was asked to stop.
    CalendarUnreachable, CalendarRefused, CalendarBusy, NotACalendar, HostNotAllowed
        The server did not go along; what was acknowledged is remembered.
    """
    uids = tuple(dict.fromkeys([*(item.uid for item in items), *pushed]))
    there = calendar.tags(uids)
    there |= calendar.texts(unread(uids, pushed, there))
    one = _Push(calendar, items, dict(pushed), conflicts, course, tally)
    deeds = deeds_of(items, pushed, there, conflicts)
    for count, deed in enumerate(deeds):
        course.report(Progress("pushing events", count / len(deeds)))
        one.settle(deed)


class _Push:
    def __init__(
        self, calendar: Calendar, items: Sequence[Item], pushed: dict[str, Pushed], conflicts: Conflicts,
        course: Course, tally: Tally,
    ) -> None:  # fmt: skip
        self._calendar, self._pushed, self._conflicts = calendar, pushed, conflicts
        self._items = {item.uid: item for item in items}
        self._course, self._tally = course, tally

    def settle(self, deed: Deed) -> None:
        """Do a deed; where others were faster, or nobody knows, look again and decide anew."""
        why: Exception | None = None
        for _ in range(LOOKS):
            if self._course.asked_to_stop():
                raise Cancelled
            try:
                return self._do(deed)
            except (Overtaken, Cut) as error:
                why = error
            there = self._calendar.texts([deed.uid]).get(deed.uid)
            item = self._items.get(deed.uid)
            if item is not None and overtook(item, there):
                self._tally.unchanged += 1
                return None
            deed = self._decided(deed.uid, there)
        if isinstance(why, Cut):
            raise CalendarUnreachable(self._calendar.host, str(why))
        return self._tell(deed.uid, Found.RESTLESS, Outcome.LEFT)

    def _decided(self, uid: str, there: There | None) -> Deed:
        item, noted = self._items.get(uid), self._pushed.get(uid)
        (deed,) = deeds_of(
            [] if item is None else [item], {} if noted is None else {uid: noted},
            {} if there is None else {uid: there}, self._conflicts,
        ) or (Deed(uid, Sort.FORGET),)  # fmt: skip
        return deed

    def _do(self, deed: Deed) -> None:
        match deed.sort:
            case Sort.CREATE | Sort.UPDATE:
                self._put(deed)
            case Sort.DELETE:
                self._calendar.delete(deed.uid, str(deed.etag))
                self._forget(deed.uid)
                self._tally.deleted += 1
                self._tell(deed.uid, deed.found, Outcome.OVERWRITTEN)
            case Sort.ADOPT:
                self._note(deed.uid, Pushed(deed.etag, digest_of(self._items[deed.uid].text)))
                self._tally.unchanged += 1
            case Sort.LEAVE:
                self._tally.unchanged += 1
            case Sort.FORGET:
                self._forget(deed.uid)
                self._tell(deed.uid, deed.found, Outcome.KEPT)
            case Sort.TELL:
                self._tell(deed.uid, deed.found, Outcome.LEFT)
            case Sort.KEEP:
                self._note(deed.uid, Pushed(None, digest_of(self._items[deed.uid].text)))
                self._tell(deed.uid, deed.found, Outcome.KEPT)
            case Sort.STAY:
                self._tally.kept += 1

    def _put(self, deed: Deed) -> None:
        text = self._items[deed.uid].text
        if deed.etag is None:  # so that what arrives although we never hear of it is known as ours
            self._note(deed.uid, Pushed(BEGUN, digest_of(text)))
        try:
            tag = self._calendar.put(deed.uid, marked(text), deed.etag)
        except Elsewhere:
            return self._tell(deed.uid, Found.ELSEWHERE, Outcome.LEFT)
        if tag is None:
            there = self._calendar.tags([deed.uid]).get(deed.uid)
            tag = BEGUN if there is None else there.etag
        self._note(deed.uid, Pushed(tag, digest_of(text)))
        if deed.sort is Sort.CREATE:
            self._tally.created += 1
        else:
            self._tally.updated += 1
        return self._tell(deed.uid, deed.found, Outcome.OVERWRITTEN)

    def _note(self, uid: str, pushed: Pushed) -> None:
        self._course.memory.note(uid, pushed)
        self._pushed[uid] = pushed

    def _forget(self, uid: str) -> None:
        self._course.memory.forget(uid)
        self._pushed.pop(uid, None)

    def _tell(self, uid: str, found: Found | None, outcome: Outcome) -> None:
        if found is not None:
            item = self._items.get(uid)
            self._tally.conflicts.append(Conflict(uid, item.evening if item else None, found, outcome))
