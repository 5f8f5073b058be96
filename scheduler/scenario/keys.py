"""The keys each table of scenario.toml may hold, and how their values are read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from ..domain import Lines
from . import values
from .notes import Notes, Unreadable, near

Read: TypeAlias = Callable[[object], Any]
Table: TypeAlias = Mapping[str, object]


def a_number(value: object) -> float:
    """Return a TOML number."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not abs(value) < 1e300:
        raise Unreadable("a number such as 12 or 12.5")
    return float(value)


def a_whole_number(value: object) -> int:
    """Return a TOML integer; 20.0 will do."""
    plain = a_number(value)
    if abs(plain) >= 1e9 or plain != int(plain):
        raise Unreadable("a whole number such as 20")
    return int(plain)


def a_text(value: object) -> str:
    """Return a TOML string, its spaces tidied."""
    if not isinstance(value, str):
        raise Unreadable("a text in quotes")
    return " ".join(value.split())


def a_title(value: object) -> str:
    """Return a printable title of at most 200 characters."""
    title = a_text(value)
    if len(title) > 200 or not title.isprintable():
        raise Unreadable("a printable text of at most 200 characters")
    return title


def a_zone(value: object) -> str:
    """Return the IANA name of a time zone."""
    name = a_text(value)
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        expected = 'an IANA zone name such as "Europe/London"'
        raise Unreadable(expected, near(name, available_timezones())) from None
    return name


def _table(value: object) -> Table:
    if not isinstance(value, dict):
        raise Unreadable("a table: a line with its name in [brackets], then its keys")
    return value


def _tables(value: object) -> list[Table]:
    if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
        raise Unreadable("tables: each begins with its name in [[double brackets]]")
    return value


def _pairs(value: object) -> list[tuple[float, float]]:
    expected = "a list of [azimuth_deg, altitude_deg] pairs such as [[0, 5], [90, 12]]"
    if not isinstance(value, list) or not value:
        raise Unreadable(expected)
    for pair in value:
        if not isinstance(pair, list) or len(pair) != 2:
            raise Unreadable(expected)
    return [(a_number(azimuth), a_number(altitude)) for azimuth, altitude in value]


def a_list_of_names(value: object) -> tuple[str, ...]:
    """Return a TOML list of texts."""
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise Unreadable('a list of names such as ["200 mm f/6 Newtonian"]')
    return tuple(a_text(one) for one in value)


def some_lines(value: object) -> Lines:
    """Return which lines a filter passes."""
    plain = a_text(value).casefold().replace("-", " ")
    by_name = {one.value.casefold().replace("-", " "): one for one in Lines} | {"oiii": Lines.OXYGEN}
    if plain not in by_name:
        raise Unreadable(f"one of {', '.join(one.value for one in Lines)}")
    return by_name[plain]


def _monthly(value: object) -> tuple[float, ...]:
    if isinstance(value, list):
        if len(value) != 12:
            raise Unreadable("twelve numbers from 0 to 1, January to December, or one for every month")
        return tuple(a_number(odds) for odds in value)
    return (a_number(value),) * 12


_SITE: dict[str, Read] = {
    "name": a_text, "latitude_deg": a_number, "longitude_deg": a_number, "elevation_m": a_number,
    "sky_brightness": a_number, "extinction_mag": a_number, "horizon": _pairs,
    "seeing_arcsec": a_number,
}  # fmt: skip
_TELESCOPE: dict[str, Read] = {
    "name": a_text, "aperture_mm": a_number, "focal_length_mm": a_number, "obstruction_mm": a_number,
}  # fmt: skip

KEYS: dict[str, dict[str, Read]] = {
    "": {
        "title": a_title, "site": _table, "telescope": _table, "eyepieces": _tables, "barlow": _table,
        "binoculars": _table, "season": _table, "evenings": _tables, "availability": _table,
        "routine": _table, "clear_odds": _table, "defaults": _table, "telescopes": _tables,
        "filters": _tables, "observers": _tables, "guests": _table,
        "forecast": _tables, "sites": _tables, "club": _table,
    },
    "site": {**_SITE, "zone": a_zone},
    "sites": {**_SITE, "travel_min": a_whole_number, "trip_cost": a_number},
    "telescope": _TELESCOPE,
    "telescopes": _TELESCOPE,
    "eyepieces": {
        "name": a_text, "focal_length_mm": a_number, "apparent_field_deg": a_number, "telescope": a_text,
    },
    "filters": {"name": a_text, "lines": some_lines, "line_pass": a_number, "sky_pass": a_number},
    "observers": {
        "name": a_text, "age": a_whole_number, "instruments": a_list_of_names, "weekdays": values.weekdays,
        "away": values.days,
    },
    "club": {"evenings": values.days, "site": a_text},
    "guests": {
        "evenings": values.days, "people": a_whole_number, "minutes_each": a_number, "finish": values.clock,
    },
    "barlow": {"factor": a_number},
    "binoculars": {
        "name": a_text, "magnification": a_number, "aperture_mm": a_number, "true_field_deg": a_number,
    },
    "season": {"start": values.day, "nights": a_whole_number},
    "evenings": {"weekdays": values.weekdays, "start": values.clock, "finish": values.clock},
    "availability": {
        "extra": values.days, "away": values.days, "nights_per_week": a_whole_number,
        "nights_per_month": a_whole_number, "announced": values.days, "trips_per_month": a_whole_number,
        "trips_per_season": a_whole_number,
    },
    "routine": {
        "setup_min": a_whole_number, "dark_adaptation_min": a_whole_number, "move_min": a_whole_number,
        "outing_cost": a_number, "steadiness": a_number,
    },
    "clear_odds": {"monthly": _monthly, "persistence": a_number},
    "forecast": {"evening": values.day, "clear_odds": a_number, "made_on": values.day},
    "defaults": {
        "minutes": a_whole_number, "priority": a_whole_number, "visits": a_whole_number,
        "spacing_days": a_whole_number, "longest_spacing_days": a_whole_number,
        "lowest_altitude_deg": a_number,
    },
}  # fmt: skip

TABLES = tuple(name for name, read in KEYS[""].items() if read is _table)


def read_table(raw: Table, table: str, under: str, notes: Notes) -> dict[str, Any]:
    """Return the readable values of one table; note unknown keys and values of the wrong sort."""
    known, read = KEYS[table], {}
    for key, value in raw.items():
        column = f"{under}.{key}" if under else key
        if key not in known:
            notes.add(key, _known_keys(table, known), column=column, near=near(key, known))
            continue
        try:
            read[key] = known[key](value)
        except Unreadable as wrong:
            notes.add(value, wrong.expected, column=column, near=wrong.near)
    return read


def _known_keys(table: str, known: Mapping[str, Read]) -> str:
    return f"one of the keys of {f'[{table}]' if table else 'the file'}: {', '.join(known)}"
