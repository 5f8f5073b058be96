"""When somebody is busy, read from a calendar of their own: bytes in, stretches of time out, nothing else.

Whatever a calendar says of titles, places and people is left out before anything reads it (`sieve`). What is
left is expanded by libraries (`expansion`), and each rule is asked first how much it would bring (`rules`).
The service lets a child process do this (`deed`), so that a hostile calendar costs one child at most.

References
----------
B. Desruisseaux, "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545, 2009.
"""

from __future__ import annotations

from .busy import BusyTimes, merged
from .deed import READ, busy_from_json, calendar_deeds

__all__ = ["READ", "BusyTimes", "busy_from_json", "calendar_deeds", "merged"]
