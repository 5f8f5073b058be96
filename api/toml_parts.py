"""Parts of a scenario.toml read and changed in place: whatever else stands there, comments too, stays.

The file is the scenario; its availability, its people, sites and telescopes are views of the file's tables.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT
from tomlkit.toml_document import TOMLDocument

from scheduler.scenario.text import decoded

from .storage import NewShared, Noun

AVAILABILITY = "availability"
EVENINGS = "evenings"
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
    read = tomllib.loads(_text(toml))
    return {EVENINGS: _plain(read.get(EVENINGS, [])), **_plain(read.get(AVAILABILITY, {}))}


def with_availability(toml: bytes, wanted: Mapping[str, Any]) -> bytes:
    """Return the file with another availability, as `availability_in` gives it; nothing of the old stays."""
    document = tomlkit.parse(_text(toml))
    document.pop(AVAILABILITY, None)
    document.pop(EVENINGS, None)
    evenings = wanted.get(EVENINGS) or []
    if evenings:
        document.append(EVENINGS, _tables(evenings))
    rest = {key: value for key, value in wanted.items() if key != EVENINGS and value is not None}
    if rest:
        document.append(AVAILABILITY, tomlkit.item(rest))
    return _bytes(document)


def with_shared(toml: bytes, shared: Mapping[Noun, Sequence[NewShared]], home: NewShared | None) -> bytes:
    """Return the file with the tables of what the club shares: replaced by name, or added.

    Parameters
    ----------
    shared : Members, sites away and telescopes.
    home : The site one starts from; None leaves the file's own.
    """
    document = tomlkit.parse(_text(toml))
    if home is not None:
        document["site"] = tomlkit.item(_table_of(home))
    for noun, ones in shared.items():
        for one in ones:
            _put(document, noun, one)
    return _bytes(document)


def named_alone(noun: Noun, one: NewShared, *, home: bool = False) -> bytes:
    """Return a small whole scenario.toml with this one in it, so that it can be read and its faults told."""
    rest: dict[str, Any] = {
        "title": "Read alone",
        "site": {"name": "Home", "latitude_deg": 0, "longitude_deg": 0, "zone": "UTC"},
        "binoculars": {"magnification": 10, "aperture_mm": 50},
    }
    document = tomlkit.item(rest)
    text = tomlkit.dumps(document).encode()
    return with_shared(text, {} if home else {noun: [one]}, one if home else None)


def _put(document: TOMLDocument, noun: Noun, one: NewShared) -> None:
    single = SINGLE.get(noun)
    if single and document.get(single, {}).get("name") == one.name:
        document[single] = tomlkit.item(_table_of(one))
        return
    array = document.get(SEVERAL[noun])
    if array is None:
        document.append(SEVERAL[noun], _tables([_table_of(one)]))
        return
    for place, table in enumerate(array):
        if table.get("name") == one.name:
            array[place] = tomlkit.item(_table_of(one))
            return
    array.append(tomlkit.item(_table_of(one)))


def _table_of(one: NewShared) -> dict[str, Any]:
    return {"name": one.name, **{key: value for key, value in one.settings.items() if value is not None}}


def _tables(tables: Sequence[Mapping[str, Any]]) -> AoT:
    array = tomlkit.aot()
    for table in tables:
        array.append(tomlkit.item({key: value for key, value in table.items() if value is not None}))
    return array


def _plain(value: Any) -> Any:
    """Return what TOML holds as JSON can hold it: dates and times in words."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    return value if isinstance(value, str | int | float | bool) else str(value)


def _text(toml: bytes) -> str:
    text = decoded(toml)
    assert text is not None, "what is kept has been read before"
    return text


def _bytes(document: TOMLDocument) -> bytes:
    return tomlkit.dumps(document).encode()
