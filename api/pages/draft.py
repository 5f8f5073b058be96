"""What a form of the log says, and the line it makes; nothing is guessed that nobody said."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from scheduler.domain import Outcome, Went
from scheduler.errors import InvalidValue

from ..storage import NewOutcome, OutcomeRecord
from .silent import NOT_TOLD, is_counted_as_past

MARKS: Mapping[str, str] = {"seen": "seen", "poorly": "seen_poorly", "not": "not_seen"}
"""How a target went, as the form says it, and where the log has it."""
TARGET = "target:"
"""What the name of a field begins with that holds how the target of this name went."""
LONGEST = 10_000


@dataclass(frozen=True, slots=True)
class Draft:
    """A form of the log, as it was sent or is shown.

    Attributes
    ----------
    key : The sender's own, so that what is sent twice is kept once.
    over : The line of the log that stood for the night when the form was shown; 0 for none.
    went : How it went, in the log's words; empty where nothing is chosen yet.
    marks : How targets went, by name; see `MARKS`.
    all_seen : Whether what stands on the programme without a mark of its own was seen.
    usable_min, sky_brightness, notes : As they were typed.
    """

    key: str
    over: int = 0
    went: str = ""
    marks: Mapping[str, str] = field(default_factory=dict)
    all_seen: bool = False
    usable_min: str = ""
    sky_brightness: str = ""
    notes: str = ""

    @property
    def out(self) -> bool:
        """Whether the night was spent outside, so that there is more to tell."""
        return self.went in (Went.CLEAR, Went.PART_CLEAR)

    def with_fresh_key(self, over: int) -> Draft:
        """Return the draft to be sent as another line, over one its writer knows now."""
        return replace(self, key=fresh_key(), over=over)


def fresh_key() -> str:
    """Return a key nobody used before."""
    return secrets.token_hex(16)


def draft_of(line: OutcomeRecord | None) -> Draft:
    """Return a form that says what the log says of a night; an empty one where nobody told anything.

    Examples
    --------
    >>> draft_of(None).went, draft_of(None).marks
    ('', {})
    """
    if line is None:
        return Draft(fresh_key())
    if is_counted_as_past(line):
        return Draft(fresh_key(), line.line)
    marks = {name: mark for mark, column in MARKS.items() for name in getattr(line, column)}
    return Draft(
        fresh_key(), line.line, line.outcome, marks, False,
        "" if line.usable_min is None else str(line.usable_min),
        "" if line.sky_brightness is None else f"{line.sky_brightness:g}", line.notes,
    )  # fmt: skip


def draft_sent(fields: Iterable[tuple[str, str]]) -> Draft:
    """Return what a form says that was sent; what is no part of it is passed over.

    Examples
    --------
    >>> sent = draft_sent([("went", "clear"), ("target:M 42", "seen"), ("target:M 1", ""), ("over", "2")])
    >>> sent.went, sent.marks, sent.over
    ('clear', {'M 42': 'seen'}, 2)
    """
    given = list(fields)
    last = dict(given)
    marks = {
        name.removeprefix(TARGET): mark
        for name, mark in given if name.startswith(TARGET) and mark in MARKS
    }  # fmt: skip
    over = last.get("over", "")
    return Draft(
        last.get("key", "")[:200] or fresh_key(),
        int(over) if over.isascii() and over.isdecimal() and len(over) < 9 else 0,
        last.get("went", ""), marks, bool(last.get("all")), last.get("usable_min", "").strip(),
        last.get("sky_brightness", "").strip(), last.get("notes", "").strip(),
    )  # fmt: skip


def line_of(draft: Draft, evening: date, programme: Sequence[str]) -> NewOutcome:
    """Return the line of the log a form makes.

    Parameters
    ----------
    programme : Names of the night's programme, for who says that all of it was seen.

    Raises
    ------
    InvalidValue
        Something in it cannot be; what it is called says where.

    Notes
    -----
    What the page hides once a choice is made counts no longer: targets and the sky of a night that was
    clouded out or on which nobody could go, and minutes but of one that was clear in part.

    Examples
    --------
    >>> sent = Draft("k", went="part-clear", all_seen=True, marks={"M 1": "not"}, usable_min="90")
    >>> line = line_of(sent, date(2027, 1, 8), ["M 42", "M 1"])
    >>> line.usable_min, line.seen, line.not_seen
    (90, ('M 42',), ('M 1',))
    """
    if draft.went not in {one.value for one in Went}:
        raise InvalidValue("outcome", draft.went or "nothing", "how the night went: choose one of the four")
    went = Went(draft.went)
    if len(draft.notes) > LONGEST:
        raise InvalidValue("notes", f"{len(draft.notes)} letters", f"{LONGEST} letters at most")
    notes = " ".join(draft.notes.split())
    if not draft.out:
        return NewOutcome(evening, went.value, notes=notes)
    marks = dict(draft.marks)
    if draft.all_seen:
        marks |= {name: "seen" for name in programme if name not in marks}
    minutes = _number("usable_min", draft.usable_min) if went is Went.PART_CLEAR else None
    if minutes is not None and minutes != int(minutes):
        raise InvalidValue("usable_min", draft.usable_min, "a whole number of minutes")
    seen, poorly, unseen = (tuple(name for name, mark in marks.items() if mark == one) for one in MARKS)
    told = Outcome(
        evening, went, None if minutes is None else int(minutes), notes, seen, poorly, unseen,
        _number("sky_brightness", draft.sky_brightness),
    )  # fmt: skip
    return NewOutcome(
        evening, went.value, told.usable_min, told.seen, told.seen_poorly, told.not_seen, notes,
        told.sky_brightness,
    )  # fmt: skip


def _number(name: str, text: str) -> float | None:
    """Return a number as people type it, a comma for a point too; None for nothing."""
    if not text:
        return None
    plain = text.replace(",", ".")
    if not plain.replace(".", "", 1).isdecimal() or not plain.isascii() or len(plain) > 12:
        raise InvalidValue(name, text[:40], "a number")
    return float(plain)


def words_of(line: OutcomeRecord) -> str:
    """Return a line of the log in words.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> told, now = (["M 42"], [], [], "", 21.3), datetime(2027, 1, 9, tzinfo=UTC)
    >>> words_of(OutcomeRecord("s", 1, date(2027, 1, 8), "part-clear", 90, *told, now, None))
    'part-clear, 90 usable minutes; seen M 42; sky 21.3 mag/arcsec2'
    """
    if is_counted_as_past(line):
        return NOT_TOLD
    told = line.outcome if line.usable_min is None else f"{line.outcome}, {line.usable_min} usable minutes"
    for words, names in (("seen", line.seen), ("seen poorly", line.seen_poorly),
                         ("not seen", line.not_seen)):  # fmt: skip
        told += f"; {words} {', '.join(names)}" if names else ""
    if line.sky_brightness is not None:
        told += f"; sky {line.sky_brightness:g} mag/arcsec2"
    return told + (f"; {line.notes}" if line.notes else "")
