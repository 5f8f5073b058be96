"""What people write into a field, as scenario.toml has it; what makes no sense stays as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

from scheduler.scenario import values
from scheduler.scenario.notes import Unreadable

from .choices import Choice

_DEGREES = re.compile(
    r"(?P<sign>[+-]?)(?P<degrees>\d{1,3}(?:\.\d+)?)\s*[°\s]?\s*"
    r"(?:(?P<minutes>\d{1,2}(?:\.\d+)?)\s*['′’\s]?\s*(?:(?P<seconds>\d{1,2}(?:\.\d+)?)\s*[\"″”]?\s*)?)?"
    r"(?P<side>[NSEW]?)", re.IGNORECASE | re.ASCII,
)  # fmt: skip
_BETWEEN = re.compile(r"[\n,;]+")


def number(text: str) -> float | int | str:
    """Return the number a text says, with a comma or a point, or the text itself.

    Examples
    --------
    >>> number("200"), number("47,25"), number("2.0"), number("−3"), number("wide")
    (200, 47.25, 2, -3, 'wide')
    """
    plain = text.strip()
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        read = values.number(plain)
    except Unreadable:
        return text
    return int(read) if read.is_integer() and abs(read) < 1e9 else read


def degrees(text: str, sides: str) -> float | int | str:
    """Return the degrees a latitude or longitude says, or the text itself.

    `sides` : The letters of its two sides, the positive first.

    Examples
    --------
    >>> degrees("47.26", "NS"), degrees("33° 51′ 54″ S", "NS"), degrees("11 24 E", "EW"), degrees("x", "NS")
    (47.26, -33.865, 11.4, 'x')
    """
    plain = number(text)
    found = _DEGREES.fullmatch(text.strip().replace("−", "-").replace(",", "."))
    if not isinstance(plain, str) or not found:
        return plain
    side = found["side"].upper()
    if (side and side not in sides) or (side and found["sign"]):
        return text
    minutes, seconds = float(found["minutes"] or 0.0), float(found["seconds"] or 0.0)
    if minutes >= 60.0 or seconds >= 60.0:
        return text
    size = round(float(found["degrees"]) + minutes / 60.0 + seconds / 3600.0, 6)
    return -size if found["sign"] == "-" or side == sides[1] else size


def chosen(text: str, choices: Mapping[str, Choice]) -> float | str:
    """Return the figure of a choice, or the text itself."""
    return choices[text].figure if text in choices else text


def day(text: str) -> date | str:
    """Return the date a text says, or the text itself."""
    try:
        return values.day(text)
    except Unreadable:
        return text


def stretches(text: str) -> list[str]:
    r"""Return the dates and stretches of dates a text lists.

    Examples
    --------
    >>> stretches("2027-07-10 to 2027-07-24, 2027-08-01\n\n2027-12-24..2027-12-26")
    ['2027-07-10..2027-07-24', '2027-08-01', '2027-12-24..2027-12-26']
    """
    parts = [" ".join(part.split()) for part in _BETWEEN.split(text)]
    return [re.sub(r" ?(?:\bto\b|–) ?", "..", part) for part in parts if part]


def share(text: str) -> float | str:
    """Return the part of the whole that a figure in percent says, or the text itself.

    Examples
    --------
    >>> share("35"), share("35 %"), share("often")
    (0.35, 0.35, 'often')
    """
    percent = number(text.strip().removesuffix("%"))
    return text if isinstance(percent, str) else round(percent / 100.0, 6)
