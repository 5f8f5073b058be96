"""What an event says, however a server or a calendar program writes it down.

Servers fold lines anew, order properties otherwise, and refresh when an event was made; programs add marks of
their own. None of that changes what the event says, and none of it may look like a change by hand.

References
----------
B. Desruisseaux (ed.), "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545,
2009, sections 3.1 (folding), 3.3.11 (escapes), 3.8.8.2 (non-standard properties).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from hashlib import sha256

MARK = "X-DUSKWRIGHT-DIGEST"
"""Property of an event we put: the digest of what it said then. While both agree, nobody changed it."""
_MARK_DIGITS = 32
_FOLD = re.compile(r"\r?\n[ \t]")
_LINE = re.compile(r'([A-Za-z0-9-]+)((?:;(?:"[^"]*"|[^":])*)?):(.*)', re.DOTALL)
_PARAMETER = re.compile(r';((?:"[^"]*"|[^";])*)')
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)
_WHEN_WRITTEN = frozenset({"DTSTAMP", "CREATED", "LAST-MODIFIED"})


def digest_of(text: str) -> str:
    r"""Return the SHA-256 digest of what the events of a text say.

    Left out is what says when they were written, and every property whose name begins with X-.

    Examples
    --------
    >>> one = "BEGIN:VEVENT\r\nUID:7\r\nSUMMARY:M 13\\, M 57\r\nEND:VEVENT\r\n"
    >>> other = "BEGIN:VEVENT\nSUMMARY:M 13\\,\n  M 57\nDTSTAMP:20261001T120000Z\nUID:7\nEND:VEVENT\n"
    >>> digest_of(one) == digest_of(other) != digest_of(one.replace("13", "15"))
    True
    """
    return sha256("\n".join(sorted(_events_of(text))).encode()).hexdigest()


def marked(text: str) -> str:
    """Return the text of an event with the mark that tells its digest."""
    mark = f"{MARK}:{digest_of(text)[:_MARK_DIGITS]}\r\n"
    return re.sub(r"(?m)^END:VEVENT", lambda end: mark + end[0], text, count=1)


def is_as_written(text: str) -> bool:
    """Tell whether an event bears our mark and still says what it said when we put it there."""
    marks = [value for name, value in _properties_of(text) if name == MARK]
    return marks == [digest_of(text)[:_MARK_DIGITS]]


def uid_of(text: str) -> str | None:
    """Return the UID of the events in a text, None where there is no event or more than one UID."""
    uids = {value for name, value in _properties_of(text) if name == "UID"}
    return uids.pop() if len(uids) == 1 else None


def sequence_of(text: str) -> int:
    """Return the highest SEQUENCE of the events in a text, 0 where there is none."""
    told = [value for name, value in _properties_of(text) if name == "SEQUENCE"]
    return max((int(value) for value in told if re.fullmatch("[0-9]{1,9}", value)), default=0)


def _lines_of(text: str) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield each unfolded line with the components around it, outermost first."""
    around: list[str] = []
    for line in _FOLD.sub("", text).replace("\r\n", "\n").split("\n"):
        word, _, name = line.partition(":")
        if word.upper() == "BEGIN":
            around.append(name.strip().upper())
        elif word.upper() == "END":
            del around[-1:]
        elif line:
            yield tuple(around), line


def _properties_of(text: str) -> Iterator[tuple[str, str]]:
    """Yield name and value of every property that stands in an event itself."""
    for around, line in _lines_of(text):
        found = _LINE.fullmatch(line)
        if around[-1:] == ("VEVENT",) and found:
            yield found[1].upper(), found[3].strip()


def _events_of(text: str) -> Iterator[str]:
    """Yield each event in one way to write it: properties in order, parts after what they are parts of."""
    parts: list[list[str]] = []
    names: list[str] = []
    for line in _FOLD.sub("", text).replace("\r\n", "\n").split("\n"):
        word, _, name = line.partition(":")
        if word.upper() == "BEGIN" and (names or name.strip().upper() == "VEVENT"):
            names.append(name.strip().upper())
            parts.append([])
        elif word.upper() == "END" and names:
            whole = f"{names.pop()}({'|'.join(sorted(parts.pop()))})"
            if names:
                parts[-1].append(whole)
            else:
                yield whole
        elif names and (told := _said(line)) is not None:
            parts[-1].append(told)


def _said(line: str) -> str | None:
    """Return a property in one way to write it, None where it says nothing that counts."""
    found = _LINE.fullmatch(line)
    if found is None:
        return repr(line) if line else None
    name, value = found[1].upper(), _ESCAPE.sub(_unescaped, found[3])
    if name.startswith("X-") or name in _WHEN_WRITTEN:
        return None
    parameters = sorted(one.replace('"', "") for one in _PARAMETER.findall(found[2]))
    return repr((name, parameters, value))


def _unescaped(escape: re.Match[str]) -> str:
    return "\n" if escape[1] in "nN" else escape[1]
