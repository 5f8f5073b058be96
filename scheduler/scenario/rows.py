"""Read one row of a wish-list after the other into targets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, tzinfo
from typing import Any

from ..domain import Kind, Nature, Occasion, Orbit, Target
from ..domain.target import LONGEST_VISIT_MIN, NEEDS_NATURE
from ..errors import UnknownName
from .columns import (
    BODY_OF_KIND,
    COLUMNS,
    MINUTES,
    anything,
    lowest_deg_of,
    one_line,
)
from .known import Known, LookUp
from .natures import nature_of
from .notes import Notes, Unreadable, near
from .table import cells_of

KNOWN = "a designation or name the catalogue knows, or ra_deg and dec_deg beside it"
SUN = frozenset({"sun", "the sun", "sol", "solar eclipse", "sunspots"})
NO_SUN = "a target of the night: nothing here is planned on the Sun, for one unfiltered look blinds"


@dataclass(frozen=True)
class Circumstances:
    """What a wish-list is read against.

    Attributes
    ----------
    look_up : Resolves a designation or raises `UnknownName`.
    wishes : What blank cells mean, by column; the kind's defaults stand behind it.
    zone : In which the times of events are told.
    ways : What a target may ask to be seen with; None where kit or observers could not be read.
    observers : For whom a target may be; None where they could not be read.
    """

    look_up: LookUp
    wishes: Mapping[str, Any] = field(default_factory=dict)
    zone: tzinfo = UTC
    ways: tuple[str, ...] | None = None
    observers: tuple[str, ...] | None = None


class RowReader:
    """Reads one row after the other and remembers which object each was."""

    def __init__(self, known: Circumstances, notes: Notes, *, commas: bool) -> None:
        self.known, self.notes, self.commas = known, notes, commas
        self.seen: dict[str, tuple[int, str]] = {}
        self.names: dict[str, int] = {}
        self.sound_until = 0

    def target_of(self, row: int, cells: list[str], columns: list[str]) -> Target | None:
        """Return the row's target, or None with its faults noted."""
        written = cells_of(row, cells, columns, self.notes)
        if written is None:
            return None
        self.sound_until = len(self.notes.found)
        read = self._values(row, written)
        if "target" not in read:
            if "target" not in written:
                self.notes.add("nothing", "a designation or name", column="target", row=row)
            return None
        entry = self._entry(row, read, written)
        target = self._target(row, read, entry, written)
        if target is not None:
            self._note_same_name(row, target.name)
        return None if self._faulty else target

    @property
    def _faulty(self) -> bool:
        """Whether anything has been wrong with the row so far."""
        return len(self.notes.found) > self.sound_until

    def _note_same_name(self, row: int, name: str) -> None:
        """Note another target's name, as when an event is called like what it happens at."""
        if self.names.setdefault(name, row) != row and not self._faulty:
            expected = f"every target once; row {self.names[name]} has the same name"
            self.notes.add(name, expected, column="target", row=row)

    def _values(self, row: int, written: Mapping[str, str]) -> dict[str, Any]:
        read = {}
        for column, cell in written.items():
            parse = COLUMNS.get(column, anything)
            if self.commas and parse not in (one_line, anything) and cell.count(",") == 1:
                cell = cell.replace(",", ".")
            try:
                read[column] = parse(cell)
            except Unreadable as wrong:
                self.notes.add(written[column], wrong.expected, column=column, row=row)
        self._note_unknown(row, read, "instrument", self.known.ways)
        self._note_unknown(row, read, "observer", self.known.observers)
        return read

    def _note_unknown(
        self, row: int, read: dict[str, Any], column: str, ways: tuple[str, ...] | None
    ) -> None:
        """Note an instrument nobody uses, or an observer there is not; write one in the settings' letters."""
        own = {way.casefold(): way for way in ways or ()}
        if column in read and read[column] not in (ways or ()):
            read[column] = own.get(read[column].casefold(), read[column])
        if column in read and ways is not None and read[column] not in ways:
            expected = f"one of {', '.join(ways)}, or blank"
            hints = near(read[column], ways)
            self.notes.add(read[column], expected, column=column, row=row, near=hints)

    def _entry(self, row: int, read: Mapping[str, Any], written: Mapping[str, str]) -> Known | None:
        """Return what the catalogue knows, or None; note a name without a place, and a name met before."""
        name = read["target"]
        entry: Known | None = None
        near_names: tuple[str, ...] = ()
        try:
            entry = self.known.look_up(name)
        except UnknownName as unknown:
            near_names = unknown.near
        own = [column for column in ("ra_deg", "dec_deg") if column in written]
        elsewhere = {"elements", "at", "moon_longitude_deg"}.intersection(written)
        nowhere = entry is None and not (own or elsewhere or read.get("kind") is Kind.EVENT)
        if nowhere:
            self.notes.add(name, NO_SUN if name.casefold() in SUN else KNOWN, column="target", row=row,
                           near=near_names)  # fmt: skip
        if read.get("kind") is Kind.EVENT or "elements" in written:
            entry = None  # an event may bear the name of what takes part in it; own elements win
        self._note_place(row, read, entry, own)
        if not nowhere:
            self._note_again(row, name, entry.identity if entry else f"own {name.casefold()}")
        return entry

    def _note_again(self, row: int, name: str, identity: str) -> None:
        """Note an object met before."""
        if identity in self.seen:
            first_row, first_name = self.seen[identity]
            self.notes.add(
                name,
                f"each object once; row {first_row} ({first_name}) is the same one; raise its visits instead",
                column="target",
                row=row,
            )
        self.seen.setdefault(identity, (row, name))

    def _note_place(self, row: int, read: Mapping[str, Any], entry: Known | None, own: list[str]) -> None:
        """Note half a place, a place for what moves, and a kind that does not fit."""
        name = read["target"]
        moves = entry is not None and entry.ra_deg is None
        if len(own) == 1 and not moves:
            other = "dec_deg" if own == ["ra_deg"] else "ra_deg"
            self.notes.add("nothing", f"a value beside {own[0]}", column=other, row=row)
        if own and own[0] in read and moves and entry:
            expected = f"no ra_deg and dec_deg: {entry.kind.with_article} moves"
            self.notes.add(name, expected, column=own[0], row=row)
        kind = read.get("kind")
        if kind is not None and not _fits(kind, read, entry):
            fitting = entry.kind.value if moves and entry else "a kind that stays in its place"
            self.notes.add(kind.value, f"{fitting}, or blank, for {name}", column="kind", row=row)

    def _event_place(self, row: int, read: Mapping[str, Any]) -> dict[str, Any]:
        """Return where an event happens: its own place, or that of the object it names."""
        if "ra_deg" in read and "dec_deg" in read:
            return {}
        try:
            at = self.known.look_up(read["at"]) if "at" in read else None
        except UnknownName as unknown:
            expected = "a designation or name the catalogue knows, or blank and ra_deg and dec_deg instead"
            self.notes.add(read["at"], expected, column="at", row=row, near=unknown.near)
            return {"ra_deg": 0.0, "dec_deg": 0.0}
        if at is None or (at.body is None and at.ra_deg is None):
            self.notes.add(read.get("at", "nothing"), "the name of what it happens at, or ra_deg and dec_deg",
                           column="at", row=row)  # fmt: skip
            return {"ra_deg": 0.0, "dec_deg": 0.0}
        return {key: getattr(at, key) for key in ("ra_deg", "dec_deg", "body", "constellation")}

    def _target(
        self, row: int, read: Mapping[str, Any], entry: Known | None, written: Mapping[str, str]
    ) -> Target | None:
        """Return the row's target; the row's own cells win over defaults and catalogue."""
        kind = _kind_of(read, entry)
        facts: dict[str, Any] = {"name": read["target"], "body": BODY_OF_KIND.get(kind)}
        if entry:
            facts = {key: getattr(entry, key) for key in FACTS}
        facts |= self._event_place(row, read) if kind is Kind.EVENT else {}
        if "name" in read:
            facts["also_known_as"] = read["name"]
        nature = nature_of(
            kind, read, entry.nature if entry else None, self.notes,
            row=row, written=written, zone=self.known.zone,
        )  # fmt: skip
        if nature is None and kind in NEEDS_NATURE and self._faulty:
            return None  # what is wrong with it has been said
        own = {key: read[key] for key in OWN if key in read}
        moves = facts["body"] is not None or isinstance(nature, Orbit)
        if moves:
            own = {key: value for key, value in own.items() if key not in ("ra_deg", "dec_deg")}
        return self.notes.build(
            Target,
            {**_usual(kind, facts["body"]), **self.known.wishes, **facts, "kind": kind,
             "nature": nature, **_whole_event(nature), **own},
            {} if moves else {"ra_deg": 0.0, "dec_deg": 0.0},
            row=row,
            written=written,
        )  # fmt: skip


def _fits(kind: Kind, read: Mapping[str, Any], entry: Known | None) -> bool:
    """Tell whether a row's target can be of the kind it names."""
    if entry is not None:
        return kind is entry.kind if entry.ra_deg is None else kind not in WANDERING
    own = {Kind.MOON_FEATURE: "moon_longitude_deg", Kind.MINOR_BODY: "elements", Kind.ECLIPSE: "nothing"}
    return kind is not Kind.PLANET and (kind not in own or own[kind] in read)


def _kind_of(read: Mapping[str, Any], entry: Known | None) -> Kind:
    """Return the kind the row names, where it can be, or the catalogue's, or the one its cells speak of."""
    named = read.get("kind")
    if named is not None and _fits(named, read, entry):
        return Kind(named)
    if entry is not None:
        return entry.kind
    speaking = {"elements": Kind.MINOR_BODY, "at": Kind.EVENT, "moon_longitude_deg": Kind.MOON_FEATURE}
    return next((kind for column, kind in speaking.items() if column in read), Kind.DEEP_SKY)


def _usual(kind: Kind, body: str | None) -> dict[str, Any]:
    """Return what blank cells mean for a kind."""
    return {"minutes": MINUTES[kind], "lowest_altitude_deg": lowest_deg_of(kind, body)}


def _whole_event(nature: Nature | None) -> dict[str, Any]:
    """Return an event's length: all of it, or as much as a visit can hold, whatever the defaults say."""
    if not isinstance(nature, Occasion):
        return {}
    lasts_min = int((nature.end - nature.start).total_seconds() // 60)
    return {"minutes": min(max(2, lasts_min), LONGEST_VISIT_MIN)}


WANDERING = (Kind.PLANET, Kind.MOON_FEATURE, Kind.MINOR_BODY, Kind.ECLIPSE)
"""Kinds whose targets have no place of their own."""

FACTS = (
    "name", "ra_deg", "dec_deg", "body", "constellation", "magnitude", "size_arcmin", "also_known_as",
)  # fmt: skip
OWN = (
    "minutes", "priority", "visits", "spacing_days", "longest_spacing_days", "earliest", "latest",
    "lowest_altitude_deg", "ra_deg", "dec_deg", "magnitude", "size_arcmin", "instrument",
    "observer",
)  # fmt: skip
