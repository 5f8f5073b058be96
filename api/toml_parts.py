"""Parts of a scenario.toml read and changed in place: whatever else stands there, comments too, stays.

The file is the scenario; its availability, its people, sites and telescopes are views of the file's tables.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, MutableMapping, Sequence
from datetime import date
from typing import Any

import tomlkit

from scheduler.scenario.text import decoded
from scheduler.scenario.values import days

from .storage import NewShared, Noun

AVAILABILITY = "availability"
EVENINGS = "evenings"
ANNOUNCED = "announced"
SEVERAL = {Noun.MEMBER: "observers", Noun.SITE: "sites", Noun.TELESCOPE: "telescopes"}
"""Which array of tables holds what of the club's."""
SINGLE = {Noun.TELESCOPE: "telescope"}


def availability_in(toml: bytes) -> dict[str, Any]:
    r"""Return the keys of the table [availability], and the [[evenings]] beside them.

    Examples
    --------
    >>> availability_in(b'[availability]\naway = [2027-07-10]\n[[evenings]]\nweekdays = "Fri"')
    {'evenings': [{'weekdays': 'Fri'}], 'away': ['2027-07-10']}
    """
    text = decoded(toml)
    assert text is not None, "what is kept has been read before"
    read = tomllib.loads(text)
    return {EVENINGS: _plain(read.get(EVENINGS, [])), **_plain(read.get(AVAILABILITY, {}))}


def with_availability(toml: bytes, wanted: Mapping[str, Any]) -> bytes:
    """Return the file with another availability, as `availability_in` gives it; nothing of the old stays."""

    def change(tables: MutableMapping[str, Any]) -> None:
        for name in (EVENINGS, AVAILABILITY):
            tables.pop(name, None)
        if wanted.get(EVENINGS):
            tables[EVENINGS] = [_plain(evening) for evening in wanted[EVENINGS]]
        rest = {key: value for key, value in wanted.items() if key != EVENINGS}
        if rest:
            tables[AVAILABILITY] = _plain(rest)

    return _changed(toml, change)


def announced_in(toml: bytes) -> frozenset[date]:
    r"""Return the evenings a scenario.toml has announced, those of ranges too.

    Examples
    --------
    >>> evenings = announced_in(b"[availability]\nannounced = [2027-07-10, '2027-07-16..2027-07-17']")
    >>> [str(evening) for evening in sorted(evenings)]
    ['2027-07-10', '2027-07-16', '2027-07-17']
    """
    return days(tomllib.loads(decoded(toml) or "").get(AVAILABILITY, {}).get(ANNOUNCED, []))


def with_announced(toml: bytes, evenings: Sequence[date]) -> bytes:
    r"""Return the file with these evenings announced too, beside those that are.

    Examples
    --------
    >>> with_announced(b'[availability]\nannounced = ["2027-07-10"]\n', [date(2027, 7, 17)]).decode()
    '[availability]\nannounced = ["2027-07-10", "2027-07-17"]\n'
    """

    def change(tables: MutableMapping[str, Any]) -> None:
        table = tables.setdefault(AVAILABILITY, {})
        known = _plain(table.get(ANNOUNCED, []))
        fresh = sorted({evening.isoformat() for evening in evenings} - set(known))
        if fresh:
            table[ANNOUNCED] = [*known, *fresh]

    return _changed(toml, change)


def with_shared(toml: bytes, shared: Mapping[Noun, Sequence[NewShared]], home: NewShared | None) -> bytes:
    """Return the file with the tables of what the club shares: replaced by name, or added.

    Parameters
    ----------
    shared : Members, sites away and telescopes.
    home : The site one starts from; None leaves the file's own.
    """

    def change(tables: MutableMapping[str, Any]) -> None:
        if home is not None:
            tables["site"] = _table_of(home)
        for noun, ones in shared.items():
            for one in ones:
                _put(tables, noun, _table_of(one))

    return _changed(toml, change)


def named_alone(noun: Noun, one: NewShared, *, home: bool = False) -> bytes:
    """Return a small whole scenario.toml with this one in it, so that it can be read and its faults told."""
    rest: dict[str, Any] = {
        "title": "Read alone",
        "site": {"name": "Home", "latitude_deg": 0, "longitude_deg": 0, "zone": "UTC"},
        "binoculars": {"magnification": 10, "aperture_mm": 50},
    }
    return with_shared(tomlkit.dumps(rest).encode(), {} if home else {noun: [one]}, one if home else None)


def _put(tables: MutableMapping[str, Any], noun: Noun, table: dict[str, Any]) -> None:
    single = SINGLE.get(noun)
    if single and tables.get(single, {}).get("name") == table["name"]:
        tables[single] = table
        return
    if SEVERAL[noun] not in tables:
        tables[SEVERAL[noun]] = [table]
        return
    array = tables[SEVERAL[noun]]
    for place, known in enumerate(array):
        if known.get("name") == table["name"]:
            array[place] = table
            return
    array.append(table)


def _changed(toml: bytes, change: Callable[[MutableMapping[str, Any]], None]) -> bytes:
    """Return the file changed, its comments and order kept wherever its form allows.

    The same change is made to the bare values; where the text edited in place does not say just these (tables
    written in line, dotted keys), the text is written anew from them.
    """
    text = decoded(toml)
    assert text is not None, "what is kept has been read before"
    before, wanted = tomllib.loads(text), tomllib.loads(text)
    change(wanted)
    if wanted == before:
        return toml
    document = tomlkit.parse(text)
    try:
        change(document)
        edited = tomlkit.dumps(document)
        if tomllib.loads(edited) == wanted:
            return edited.encode()
    except (tomlkit.exceptions.TOMLKitError, tomllib.TOMLDecodeError, TypeError, ValueError):
        pass  # written anew, then
    return tomlkit.dumps(wanted).encode()


def _table_of(one: NewShared) -> dict[str, Any]:
    table: dict[str, Any] = _plain({**one.settings, "name": one.name})
    return table


def _plain(value: Any) -> Any:
    """Return a value as both JSON and TOML can hold it: dates and times in words, nulls left out."""
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items() if one is not None}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value if one is not None]
    return value if isinstance(value, str | int | float | bool) else str(value)
