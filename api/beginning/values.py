"""What people write into a field, as scenario.toml has it; what makes no sense stays as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from types import MappingProxyType
from typing import TypeAlias

from scheduler.scenario import values
from scheduler.scenario.notes import Unreadable

from .choices import Choice

_DEGREES = re.compile(
    r"(?P<sign>[+-]?)(?P<degrees>\d{1,3}(?:\.\d+)?)\s*[°\s]?\s*"
    r"(?:(?P<minutes>\d{1,2}(?:\.\d+)?)\s*['′’\s]?\s*(?:(?P<seconds>\d{1,2}(?:\.\d+)?)\s*[\"″”]?\s*)?)?"
    r"(?P<side>[NSEW]?)", re.IGNORECASE | re.ASCII,
)  # fmt: skip
_BETWEEN = re.compile(r"[\n,;]+")
_WITH_UNIT = re.compile(r"(?P<number>.*[\d.,])\s*(?P<unit>[^\W\d]+|[°×%])\.?", re.ASCII | re.DOTALL)
_BINOCULARS = re.compile(
    r"\s*(?P<power>\d+(?:[.,]\d+)?)\s*[x×]\s*(?P<aperture>\d+(?:[.,]\d+)?)\s*(?:mm)?\s*", re.IGNORECASE
)

Units: TypeAlias = "Mapping[str, float]"
"""What may stand behind a number, and how many of the field's own unit it is."""
LENGTHS_MM: Units = MappingProxyType({"mm": 1.0, "cm": 10.0, "m": 1000.0})
HEIGHTS_M: Units = MappingProxyType({"m": 1.0, "metres": 1.0, "km": 1000.0})
TIMES: Units = MappingProxyType({"x": 1.0, "×": 1.0, "times": 1.0})
ANGLES_DEG: Units = MappingProxyType({"°": 1.0, "deg": 1.0, "degrees": 1.0})
PERCENT: Units = MappingProxyType({"%": 1.0})


def number(text: str, units: Units = MappingProxyType({})) -> float | int | str:
    """Return the number a text says, with a comma or a point, or the text itself.

    `units` : What may stand behind it.

    Examples
    --------
    >>> number("200"), number("47,25"), number("2.0"), number("−3"), number("wide")
    (200, 47.25, 2, -3, 'wide')
    >>> number("15 cm", LENGTHS_MM), number("920m", HEIGHTS_M), number("9 in", LENGTHS_MM)
    (150, 920, '9 in')
    """
    found = _WITH_UNIT.fullmatch(text.strip())
    if found and found["unit"].casefold() in units:
        bare = number(found["number"])
        if isinstance(bare, str):
            return text
        size = round(bare * units[found["unit"].casefold()], 6)
        return int(size) if float(size).is_integer() and abs(size) < 1e9 else size
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
    return [re.sub(r" ?(?:\bto\b|–) ?| - ", "..", part) for part in parts if part]


def binoculars(text: str) -> tuple[str, str] | None:
    """Return the two figures that are printed on binoculars, where a text says both.

    Examples
    --------
    >>> binoculars("10x50"), binoculars("8 × 42 mm"), binoculars("10"), binoculars("10x")
    (('10', '50'), ('8', '42'), None, None)
    """
    found = _BINOCULARS.fullmatch(text)
    return (found["power"], found["aperture"]) if found else None


def tidied(typed: dict[str, str]) -> dict[str, str]:
    """Return what was typed, with 10x50 in both fields it is for, unless the other says otherwise."""
    both = binoculars(typed["binoculars_power"])
    if both is None or typed["binoculars_aperture"].strip() not in ("", both[1]):
        return typed
    return typed | {"binoculars_power": both[0], "binoculars_aperture": both[1]}


def share(text: str) -> float | str:
    """Return the part of the whole that a figure in percent says, or the text itself.

    Examples
    --------
    >>> share("35"), share("35 %"), share("often")
    (0.35, 0.35, 'often')
    """
    percent = number(text, PERCENT)
    return text if isinstance(percent, str) else round(percent / 100.0, 6)
