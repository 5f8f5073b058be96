"""What is let through of a calendar: when things are, and nothing of what they are.

So titles, descriptions, places and people are gone before anything reads them, and what follows has little to
do. Nothing here costs more than a look at each line.

References
----------
B. Desruisseaux, "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545, 2009,
sections 3.1 (lines and how they are folded), 3.4 and 3.6 (what lies in what).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from scheduler.scenario.text import decoded

from ..calendar_errors import CalendarFault, CalendarFaults

MOST_BYTES = 5_000_000
MOST_COMPONENTS = 20_000
"""Those that are left out count too."""
MOST_DEEP = 8
LONGEST_LINE = 200_000
MOST_DATES = 50_000
"""Of all dates that a calendar lists one by one."""

_ZONE = ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO", "RRULE", "RDATE", "TZNAME")
WANTED: Mapping[str, frozenset[str]] = {
    "VEVENT": frozenset({
        "DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "RECURRENCE-ID", "UID", "SEQUENCE",
        "STATUS", "TRANSP", "X-MICROSOFT-CDO-BUSYSTATUS",
    }),
    "VFREEBUSY": frozenset({"FREEBUSY"}),
    "VTIMEZONE": frozenset({"TZID"}), "STANDARD": frozenset(_ZONE), "DAYLIGHT": frozenset(_ZONE),
}  # fmt: skip
"""Which properties of which components are let through."""
_INNER = ("STANDARD", "DAYLIGHT")
_FOLDED = re.compile(r"(?:\r\n|\r|\n)[ \t]")
_ENDS = re.compile(r"\r\n|\r|\n")
_NAME = re.compile(r"[A-Za-z0-9-]+")


@dataclass(slots=True)
class Block:
    """A component of the calendar: its place among all, its name, and the lines that are let through."""

    number: int
    name: str
    lines: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """The component as text."""
        return "\r\n".join([f"BEGIN:{self.name}", *self.lines, f"END:{self.name}", ""])


def sieved(content: bytes) -> list[Block]:
    """Return the events, the busy times and the time zones of a calendar, in their order.

    Raises
    ------
    CalendarFaults
        It is no calendar, or more of one than is read.
    """
    if len(content) > MOST_BYTES:
        raise refused(None, None, f"at most {MOST_BYTES} bytes")
    text = decoded(content)
    lines = _lines(text) if text is not None else iter(())
    if next(lines, "").rstrip().upper() != "BEGIN:VCALENDAR":
        raise refused(None, None, "iCalendar text, which begins with BEGIN:VCALENDAR (RFC 5545)")
    return _Sieve().through(lines)


def refused(component: int | None, property_: str | None, expected: str) -> CalendarFaults:
    """Return the error that tells of one fault."""
    return CalendarFaults((CalendarFault(component, property_, expected),))


def _lines(text: str) -> Iterator[str]:
    unfolded = _FOLDED.sub("", text.removeprefix("\ufeff"))
    return (line for line in _ENDS.split(unfolded) if line.strip())


class _Sieve:
    """Goes through the lines of a calendar once."""

    def __init__(self) -> None:
        self._open = ["VCALENDAR"]
        self._numbers = [1]
        self._count, self._dates = 1, 0
        self._block: Block | None = None
        self._found: list[Block] = []

    def through(self, lines: Iterator[str]) -> list[Block]:
        for line in lines:
            name = self._name_of(line)
            if name == "BEGIN":
                self._begin(line[6:].strip().upper())
            elif name == "END":
                self._end(line[4:].strip().upper())
            elif self._open and name in WANTED.get(self._open[-1], ()):
                self._keep(name, line)
        if self._open:
            raise refused(self._numbers[-1], None, "its END; the file is cut short")
        return self._found

    @staticmethod
    def _name_of(line: str) -> str:
        found = _NAME.match(line)
        return found[0].upper() if found and line[found.end() : found.end() + 1] in (":", ";") else ""

    def _begin(self, name: str) -> None:
        self._count += 1
        if self._count > MOST_COMPONENTS:
            raise refused(None, None, f"at most {MOST_COMPONENTS} components; leave out what is past")
        if len(self._open) >= MOST_DEEP:
            raise refused(self._count, None, f"components at most {MOST_DEEP} deep in each other")
        if not self._open and name != "VCALENDAR":
            raise refused(self._count, None, "a VCALENDAR around every component")
        if self._open[-1:] == ["VCALENDAR"] and name in WANTED and name not in _INNER:
            self._block = Block(self._count, name)
        elif self._block is not None and self._open[-1] == "VTIMEZONE" and name in _INNER:
            self._block.lines.append(f"BEGIN:{name}")
        elif name in WANTED:
            name = f"LEFT OUT {name}"  # where it does not belong
        self._open.append(name)
        self._numbers.append(self._count)

    def _end(self, name: str) -> None:
        begun = self._open[-1].removeprefix("LEFT OUT ") if self._open else ""
        if name != begun:
            number = self._numbers[-1] if self._open else None
            raise refused(number, None, "BEGIN and END in pairs, and nothing half of one")
        if self._block is not None and self._open[-1] in _INNER:
            self._block.lines.append(f"END:{name}")
        elif self._block is not None and self._numbers[-1] == self._block.number:
            self._found.append(self._block)
            self._block = None
        self._open.pop()
        self._numbers.pop()

    def _keep(self, name: str, line: str) -> None:
        if len(line) > LONGEST_LINE:
            raise refused(self._numbers[-1], name, f"at most {LONGEST_LINE} signs")
        if name in ("RDATE", "EXDATE", "FREEBUSY"):
            self._dates += 1 + line.count(",")
            if self._dates > MOST_DATES:
                raise refused(self._numbers[-1], name, f"at most {MOST_DATES} dates listed in one calendar")
        assert self._block is not None, "what is wanted stands in a block"
        self._block.lines.append(line)
