"""Calendars read while their owner waits, by a child process of their own with little time and memory."""

from __future__ import annotations

from datetime import date
from threading import BoundedSemaphore

from scheduler.domain import ignore_progress

from .calendar_errors import CalendarTooHard
from .engaged import READ, BusyTimes, busy_from_json
from .errors import NotReady, OutOfMemory, OutOfTime, WorkCrashed
from .hands import Limits
from .ports import Hands, Task

MOST_AT_ONCE = 8
LIMITS = Limits(minutes=0.5, memory_mb=400)
"""What one calendar may use; the largest that are read at all take half of either at most."""


class CalendarReading:
    """Reads calendars by hands of its own.

    Parameters
    ----------
    hands : Who reads them, within `LIMITS`.
    most : How many may wait for it at the same time; more are told to ask again.
    """

    def __init__(self, hands: Hands, most: int = MOST_AT_ONCE) -> None:
        self._hands, self._room = hands, BoundedSemaphore(most)

    def read(self, content: bytes, first: date, last: date, zone: str) -> BusyTimes:
        """Return when a calendar's owner is busy, see `engaged.expansion.busy_times_of`.

        Raises
        ------
        CalendarFaults
            It cannot be read.
        CalendarTooHard
            It takes too much to read.
        NotReady
            Too many calendars wait to be read.
        """
        given = {"content": content, "first": first.isoformat(), "last": last.isoformat(), "zone": zone}
        if not self._room.acquire(blocking=False):
            raise NotReady("too many calendars at once")
        try:
            return busy_from_json(self._hands.do(Task(READ, given), ignore_progress, lambda: False))
        except OutOfTime as error:
            raise CalendarTooHard(f"reading it was not done after {60 * error.minutes:.0f} s") from None
        except OutOfMemory as error:
            raise CalendarTooHard(f"reading it took more than {error.megabytes} MB") from None
        except WorkCrashed:
            raise CalendarTooHard("the process that read it died of it") from None
        finally:
            self._room.release()

    def close(self) -> None:
        """Stop reading."""
        self._hands.close()
