"""All names of all objects, built once a process, and the way from a text to an entry."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache

from ..domain import Kind
from ..errors import UnknownName
from . import ongc, tables
from .designation import key_of, printed
from .entry import Entry
from .near import Near
from .repair import visual_magnitude

WHAT = {
    "*": "star", "**": "double star", "*Ass": "star cloud", "OCl": "open cluster", "GCl": "globular cluster",
    "Cl+N": "cluster with nebula", "G": "galaxy", "GPair": "pair of galaxies", "GTrpl": "triplet of galaxies",
    "GGroup": "group of galaxies", "PN": "planetary nebula", "HII": "emission nebula", "DrkN": "dark nebula",
    "EmN": "emission nebula", "Neb": "nebula", "RfN": "reflection nebula", "SNR": "supernova remnant",
    "Nova": "nova", "Other": "asterism",
}  # fmt: skip
PLANETS = ("Mercury", "Venus", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune")


def look_up(text: str) -> Entry:
    """Return what is known about a designation or name, under the name asked for.

    Parameters
    ----------
    text : As people write it: "M31", "ngc 0224", "Caldwell 14", "Andromeda Galaxy", "Sh 2-281", "jupiter".

    Raises
    ------
    UnknownName
        Where nothing goes by that name; it carries names that look alike.

    Examples
    --------
    >>> entry = look_up("messier 31")
    >>> entry.name, entry.identity, entry.constellation, entry.magnitude, entry.also_known_as
    ('M 31', 'NGC 224', 'Andromeda', 3.44, 'Andromeda Galaxy')
    """
    key = key_of(text[:200])
    index = _index()
    entry = index.entries.get(index.keys.get(key, ""))
    if entry is None:
        raise UnknownName(text, near_names(text))
    name = printed(key) or index.spelling.get(key) or " ".join(text.split()).upper()
    others = (other for other in index.names.get(entry.identity, ()) if key_of(other) != key)
    return replace(entry, name=name, also_known_as=next(others, None))


def near_names(text: str) -> tuple[str, ...]:
    """Return up to three known names that look like `text`, best first."""
    return _index().near.names(text[:200])


@dataclass(frozen=True)
class _Index:
    entries: dict[str, Entry]
    """By identity."""
    keys: dict[str, str]
    """Identity by key of any name."""
    names: dict[str, list[str]]
    """By identity: the names worth printing, best first."""
    spelling: dict[str, str]
    """Printed form of a common name, by its key."""
    near: Near


class _Builder:
    """Gathers rows and names; the first owner of a name keeps it."""

    def __init__(self) -> None:
        self.entries: dict[str, Entry] = {}
        self.keys: dict[str, str] = {}
        self.names: dict[str, list[str]] = {}
        self.spelling: dict[str, str] = {}

    def add(self, entry: Entry, designations: Iterable[str]) -> None:
        self.entries.setdefault(entry.identity, entry)
        for designation in (entry.identity, *designations):
            self.keys.setdefault(key_of(designation), entry.identity)

    def call(self, identity: str, name: str) -> None:
        """Give an object a name worth printing."""
        key = key_of(name)
        if self.keys.setdefault(key, identity) == identity:
            self.names.setdefault(identity, []).append(name)
            self.spelling.setdefault(key, name)


@cache
def _index() -> _Index:
    build = _Builder()
    _add_planets(build)
    _add_our_tables(build)
    _add_open_catalogue(build)
    friendly = [*build.spelling.values(), *(f"M {number}" for number in range(1, 111))]
    near = Near([*friendly, *(f"C {number}" for number in range(1, 110))], build.keys)
    return _Index(build.entries, build.keys, build.names, build.spelling, near)


def _add_planets(build: _Builder) -> None:
    for planet in PLANETS:
        build.add(Entry(planet, planet, Kind.PLANET, "planet", body=planet.lower()), ())
        build.spelling[key_of(planet)] = planet


def _add_our_tables(build: _Builder) -> None:
    for piece in (*tables.showpieces(), *tables.doubles()):
        build.add(piece.entry, ())
        for name in piece.names:
            build.call(piece.entry.identity, name)
        for alias in piece.aliases:
            build.keys.setdefault(key_of(alias), piece.entry.identity)


def _add_open_catalogue(build: _Builder) -> None:
    rows = list(ongc.rows())
    own = {row.name: row for row in rows if row.type not in ("Dup", "NonEx") and row.ra_deg is not None}
    identity = {name: printed(key_of(name)) or name for name in own}
    for row in own.values():
        messier = (f"M {int(row.messier)}",) if row.messier else ()
        place = identity[row.name]
        taken = build.keys.get(key_of(messier[0])) if messier else None
        if taken:  # one of our tables has it already, and better
            build.keys[key_of(row.name)] = taken
            continue
        build.add(_entry(row, place), messier)
        if messier:
            build.names.setdefault(place, []).append(messier[0])
    _add_designations(build, rows, own)
    _add_names(build, own.values())


def _entry(row: ongc.Row, identity: str) -> Entry:
    magnitude = tables.globular_magnitudes().get(identity)
    if magnitude is None:
        magnitude = visual_magnitude(row.type, row.b_mag, row.v_mag, row.hubble)
    mend = tables.mends().get(f"M {int(row.messier)}" if row.messier else identity, {})
    kind = Kind.DOUBLE_STAR if row.type == "**" else Kind.DEEP_SKY
    return Entry(
        name=identity, identity=identity, kind=kind, what=WHAT[row.type], ra_deg=row.ra_deg,
        dec_deg=row.dec_deg, constellation=tables.constellation_name(row.constellation),
        magnitude=mend.get("magnitude", None if magnitude is None else round(magnitude, 2)),
        size_arcmin=mend.get("size_arcmin", row.major_arcmin),
    )  # fmt: skip


def _add_designations(build: _Builder, rows: list[ongc.Row], own: dict[str, ongc.Row]) -> None:
    """Let every number another catalogue gives an object lead to it, and every duplicate row to its twin."""
    others = [(designation, name) for designation, name in ongc.cross_identifications() if name in own]
    others += [(designation, row.name) for row in own.values() for designation in row.identifiers]
    others += [(row.name, row.same_as) for row in rows if row.same_as]
    for designation, name in others:
        if identity := build.keys.get(key_of(name)):
            build.keys.setdefault(key_of(designation), identity)


def _add_names(build: _Builder, rows: Iterable[ongc.Row]) -> None:
    """Add common names; where the open catalogue means another object by one, our table wins."""
    for name, designation in tables.also():
        identity = build.keys[key_of(designation)]
        build.keys[key_of(name)] = identity
        if printed(key_of(name)) is None:
            build.call(identity, name)
    for row in rows:
        for name in row.common_names:
            build.call(build.keys[key_of(row.name)], _capital(name))
    _add_short_names(build)


def _capital(name: str) -> str:
    name = name.removeprefix("the ")
    return name[0].upper() + name[1:]


def _add_short_names(build: _Builder) -> None:
    """Let "Whirlpool" do for "Whirlpool Galaxy" where only one object would answer to it."""
    short: dict[str, dict[str, str]] = {}
    for key, name in build.spelling.items():
        first, _, last = name.rpartition(" ")
        if first and last.casefold() in ("galaxy", "nebula", "cluster"):
            short.setdefault(key_of(first), {})[build.keys[key]] = name
    for key, objects in short.items():
        if len(objects) == 1 and key not in build.keys:
            ((build.keys[key], build.spelling[key]),) = objects.items()
