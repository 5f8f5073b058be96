"""Read single values: numbers, angles, dates, times, weekdays; each refuses by `Unreadable`."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from ..domain import Kind, Phase
from .notes import Unreadable

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
FIRST_DATE, LAST_DATE = date(1900, 1, 1), date(2100, 12, 31)
LONGEST_RANGE_DAYS = 800

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_SEXAGESIMAL = re.compile(
    r"([+-]?)(\d{1,3})\s*[:hd°\s]\s*(\d{1,2})(?:\s*[:m'′\s]\s*(\d{1,2}(?:\.\d*)?))?\s*[s\"″'′m]?", re.ASCII
)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_TIME = re.compile(r"(\d{1,2}):(\d{2})(?::\d{2})?", re.ASCII)


def number(text: str) -> float:
    """Return the finite number `text` says.

    >>> number("−5.25")
    -5.25
    """
    plain = text.replace("−", "-").strip()
    value = float(plain) if _NUMBER.fullmatch(plain) else math.nan
    if not math.isfinite(value):
        raise Unreadable("a number such as 12 or 12.5")
    return value


def whole_number(text: str) -> int:
    """Return the whole number `text` says; spreadsheets like to write 20 as 20.0."""
    try:
        value = number(text)
    except Unreadable:
        value = math.nan
    if not abs(value) < 1e9 or value != int(value):
        raise Unreadable("a whole number such as 20")
    return int(value)


def right_ascension_deg(text: str) -> float:
    """Return a right ascension in degrees; a plain number is degrees, sexagesimal is hours. [0..360]

    >>> right_ascension_deg("05:35:17.3") == right_ascension_deg("5h 35m 17.3s") == 83.82208333333332
    True
    """
    hours = _sexagesimal(text)
    if hours is not None:
        if not 0.0 <= hours <= 24.0:
            raise Unreadable("hours from 0 to 24, or degrees as a plain number")
        return hours * 15.0
    return _angle(text, 0.0, 360.0, "degrees from 0 to 360, or hours as in 05:35:17")


def declination_deg(text: str) -> float:
    """Return a declination in degrees, plain or sexagesimal. [-90..90]

    >>> declination_deg("-00 30 00")
    -0.5
    """
    degrees = _sexagesimal(text)
    return _angle(
        text if degrees is None else str(degrees), -90.0, 90.0, "degrees from -90 to 90, or as in -05:23:28"
    )


def _angle(text: str, low: float, high: float, expected: str) -> float:
    try:
        value = number(text)
    except Unreadable:
        raise Unreadable(expected) from None
    if not low <= value <= high:
        raise Unreadable(expected)
    return value


def _sexagesimal(text: str) -> float | None:
    found = _SEXAGESIMAL.fullmatch(text.replace("−", "-").strip())
    if not found:
        return None
    sign, units, minutes, seconds = found.groups()
    if int(minutes) >= 60 or float(seconds or 0) >= 60:
        raise Unreadable("minutes and seconds below 60")
    value = int(units) + int(minutes) / 60 + float(seconds or 0) / 3600
    return -value if sign == "-" else value


def day(value: object) -> date:
    """Return the date a TOML date or the text 2027-03-01 says."""
    expected = f"a date such as 2027-03-01, from {FIRST_DATE.year} to {LAST_DATE.year}"
    if isinstance(value, str) and _DATE.fullmatch(value.strip()):
        try:
            value = date.fromisoformat(value.strip())
        except ValueError:
            raise Unreadable(f"{expected}; there is no such day") from None
    if not isinstance(value, date) or isinstance(value, datetime) or not FIRST_DATE <= value <= LAST_DATE:
        raise Unreadable(expected)
    return value


def days(value: object) -> frozenset[date]:
    """Return the dates a list of dates and `"from..to"` ranges says, both ends included."""
    if not isinstance(value, list):
        raise Unreadable('a list of dates and ranges such as [2027-03-01, "2027-07-10..2027-07-24"]')
    return frozenset(one for entry in value for one in _stretch(entry))


def _stretch(entry: object) -> list[date]:
    ends = re.split(r"\s*(?:\.\.|\bto\b)\s*", entry.strip()) if isinstance(entry, str) else [entry]
    if len(ends) > 2:
        raise Unreadable('a range of two dates such as "2027-07-10..2027-07-24"')
    first, last = day(ends[0]), day(ends[-1])
    if not 0 <= (last - first).days < LONGEST_RANGE_DAYS:
        raise Unreadable(f"a range that ends after it starts and spans less than {LONGEST_RANGE_DAYS} days")
    return [first + timedelta(days=i) for i in range((last - first).days + 1)]


def clock(value: object) -> time:
    """Return the time of day a TOML time or the text 20:30 says."""
    if isinstance(value, str) and (found := _TIME.fullmatch(value.strip())):
        hour, minute = int(found[1]), int(found[2])
        if hour < 24 and minute < 60:
            return time(hour, minute)
    if isinstance(value, time):
        return value.replace(second=0, microsecond=0, tzinfo=None)
    raise Unreadable('a time of day such as "20:30"')


def weekdays(value: object) -> tuple[int, ...]:
    """Return the weekdays a text or list names, Monday = 0, each once and in order.

    >>> weekdays("Fri to Sun"), weekdays(["mon", "Thursday"]), weekdays("sat-mon")
    ((4, 5, 6), (0, 3), (0, 5, 6))
    """
    parts = re.split(r"\s*(?:,|\band\b)\s*", value.strip()) if isinstance(value, str) else value
    if isinstance(parts, list) and all(isinstance(part, str) for part in parts):
        found = {day for part in parts if part for day in _weekdays(part)}
        if found:
            return tuple(sorted(found))
    raise Unreadable('weekdays such as "Mon to Thu" or ["Mon", "Wed"]')


def _weekdays(part: str) -> list[int]:
    if part.strip().casefold() in ("every day", "daily"):
        return list(range(7))
    ends = [_weekday(name) for name in re.split(r"\s*(?:\bto\b|\.\.|-|–)\s*", part.strip())]
    if len(ends) > 2:
        raise Unreadable('weekdays such as "Mon to Thu" or ["Mon", "Wed"]')
    return [(ends[0] + i) % 7 for i in range((ends[-1] - ends[0]) % 7 + 1)]


def _weekday(name: str) -> int:
    short = name.casefold().rstrip(".")
    short = short.removesuffix("s") if short.endswith("days") else short
    matches = [i for i, full in enumerate(WEEKDAYS) if len(short) >= 2 and full.casefold().startswith(short)]
    if len(matches) != 1:
        raise Unreadable(f"weekdays out of {_list(day[:3] for day in WEEKDAYS)}")
    return matches[0]


def kind(text: str) -> Kind:
    """Return the kind `text` names, as in "double star" or "deep sky"."""
    plain = " ".join(text.casefold().replace("-", " ").replace("_", " ").split())
    for one in Kind:
        full = one.value.replace("-", " ")
        if plain and (plain == full or full.startswith(plain + " ") or plain == full + "s"):
            return one
    raise Unreadable(f"one of {_list(one.value for one in Kind)}")


def phase(text: str) -> Phase:
    """Return the phase of a variable star `text` names."""
    plain = text.strip().casefold()
    for one in Phase:
        if plain and one.value.startswith(plain):
            return one
    raise Unreadable(f"one of {_list(one.value for one in Phase)}")


def local_moment(text: str) -> datetime:
    """Return the local date and time `text` says, its zone still open.

    >>> local_moment("2027-08-12 21:30").isoformat()
    '2027-08-12T21:30:00'
    """
    date_text, _, time_text = text.strip().replace("T", " ").partition(" ")
    try:
        return datetime.combine(day(date_text), clock(time_text.strip()))
    except Unreadable:
        raise Unreadable("a local date and time such as 2027-08-12 21:30") from None


def _list(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} or {last}"
