"""All names of all objects, built once a process, and the way from a text to an entry."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache

from ..domain import Kind
from ..errors import UnknownName
from . import curated, ongc, tables
from .deep_sky import NOTHING, entry_of
from .designation import key_of, key_of_code, printed
from .entry import Entry
from .near import Near

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
    identity = index.keys.get(key) or _other_numbers().get(key)
    if identity is None:
        raise UnknownName(text, near_names(text))
    found = index.entries[identity]
    entry = found if isinstance(found, Entry) else entry_of(found, identity, _seen().get(identity, NOTHING))
    name = index.spelling.get(key) or printed(key) or " ".join(text.split()).upper()
    known = index.names.get(identity, [])
    known = known if entry.kind in (Kind.MOON_FEATURE, Kind.VARIABLE_STAR) else [*known, identity]
    others = (other for other in known if other != name)
    return replace(entry, name=name, also_known_as=next(others, None))


def near_names(text: str) -> tuple[str, ...]:
    """Return up to three known names that look like `text`, best first."""
    return curated.INSTEAD.get(key_of(text[:200])) or _index().near.names(text[:200])


@dataclass(frozen=True)
class _Index:
    entries: dict[str, Entry | ongc.Row]
    """By identity: an entry of ours, or a row to make one from when asked."""
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
        self.entries: dict[str, Entry | ongc.Row] = {}
        self.keys: dict[str, str] = {}
        self.names: dict[str, list[str]] = {}
        self.spelling: dict[str, str] = {}

    def add(self, entry: Entry) -> None:
        self.entries[entry.identity] = entry
        self.keys.setdefault(key_of(entry.identity), entry.identity)

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
    _add_curated(build)
    friendly = [*build.spelling.values(), *(f"M {number}" for number in range(1, 111))]
    near = Near([*friendly, *(f"C {number}" for number in range(1, 110))], build.keys)
    return _Index(build.entries, build.keys, build.names, build.spelling, near)


def _add_planets(build: _Builder) -> None:
    for planet in PLANETS:
        build.add(Entry(planet, planet, Kind.PLANET, "planet", body=planet.lower()))
        build.spelling[key_of(planet)] = planet


def _add_our_tables(build: _Builder) -> None:
    for piece in (*tables.showpieces(), *tables.doubles()):
        build.add(piece.entry)
        for name in piece.names:
            build.call(piece.entry.identity, name)
        for alias in piece.aliases:
            build.keys.setdefault(key_of(alias), piece.entry.identity)
            build.spelling.setdefault(key_of(alias), alias)


def _add_open_catalogue(build: _Builder) -> None:
    rows = list(ongc.rows())
    own = [row for row in rows if row.type not in ("Dup", "NonEx") and row.ra_deg is not None]
    for row in own:
        key = key_of_code(row.name)
        messier = f"M {int(row.messier)}" if row.messier else None
        if messier and (ours := build.keys.get(key_of(messier))):
            build.keys[key] = ours  # one of our tables has it, and better
            continue
        identity = printed(key) or row.name
        build.entries[identity] = row
        build.keys.setdefault(key, identity)
        if messier:
            build.call(identity, messier)
    _add_twins(build, rows)
    _add_names(build, own)


def _add_curated(build: _Builder) -> None:
    """Add the kinds that take what names are left; other spellings are printed as the best name they have."""
    for piece in curated.pieces():
        identity = piece.entry.identity
        build.add(piece.entry)
        for name in piece.names:
            build.call(identity, name)
        if not build.names.get(identity):
            build.call(identity, identity)
        best = build.names[identity][0]
        for alias in (identity, *piece.aliases):
            if build.keys.setdefault(key_of(alias), identity) == identity:
                build.spelling.setdefault(key_of(alias), best)


def _add_twins(build: _Builder, rows: Iterable[ongc.Row]) -> None:
    """Let every duplicate row lead to its twin, and the Caldwell numbers to their objects."""
    twins = ((row.name, row.same_as) for row in rows if row.same_as)
    for code, name in (*ongc.cross_identifications("C[01]*"), *twins):
        if identity := build.keys.get(key_of_code(name)):
            build.keys.setdefault(key_of_code(code), identity)


@cache
def _seen() -> dict[str, tables.Seen]:
    """Return by identity what our table of showpieces says."""
    keys = _index().keys
    return {keys[key_of(designation)]: seen for designation, seen in tables.seen().items()}


@cache
def _other_numbers() -> dict[str, str]:
    """Return identities by the key of every number in rarer catalogues; read when one is first asked for."""
    keys, own = _index().keys, ongc.cross_identifications()
    return {key_of_code(code): keys[key] for code, name in own if (key := key_of_code(name)) in keys}


def _add_names(build: _Builder, rows: Iterable[ongc.Row]) -> None:
    """Add common names; where the open catalogue means another object by one, our table wins."""
    for name, designation in tables.also():
        identity = build.keys[key_of(designation)]
        build.keys[key_of(name)] = identity
        if printed(key_of(name)) is None:
            build.call(identity, name)
    for row in rows:
        for name in row.common_names:
            build.call(build.keys[key_of_code(row.name)], _capital(name))
    _add_short_names(build)


def _capital(name: str) -> str:
    """Return "Omega Nebula" for "omega Nebula"; "h Persei" and "eta Car" begin small in the trade."""
    name = name.removeprefix("the ")
    return name[0].upper() + name[1:] if len(name.split()[0]) > 3 else name


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
