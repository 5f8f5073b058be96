"""Read wish-list.csv into targets."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from ..domain import Kind, Target
from ..errors import UnknownName
from . import values
from .known import Known, LookUp
from .notes import Notes, Unreadable, near

MOST_ROWS = 20000
MOST_COLUMNS = 60


def one_line(text: str) -> str:
    """Return a short printable text, its spaces tidied."""
    if "\n" in text or "\r" in text:
        raise Unreadable("text on one line; is a quote left open?")
    tidy = " ".join(text.split())
    if len(tidy) > 200 or not tidy.isprintable():
        raise Unreadable("a printable text of at most 200 characters")
    return tidy


def anything(text: str) -> str:
    """Return the text as it stands."""
    return text


COLUMNS: dict[str, Callable[[str], Any]] = {
    "target": one_line,
    "kind": values.kind,
    "minutes": values.whole_number,
    "priority": values.whole_number,
    "visits": values.whole_number,
    "spacing_days": values.whole_number,
    "earliest": values.day,
    "latest": values.day,
    "lowest_altitude_deg": values.number,
    "ra_deg": values.right_ascension_deg,
    "dec_deg": values.declination_deg,
    "magnitude": values.number,
    "size_arcmin": values.number,
    "name": one_line,
    "notes": anything,
}

# Common practice, no source.
MINUTES = {Kind.PLANET: 15, Kind.DOUBLE_STAR: 10, Kind.DEEP_SKY: 20}
LOWEST_ALTITUDE_DEG = {Kind.PLANET: 15.0, Kind.DOUBLE_STAR: 20.0, Kind.DEEP_SKY: 20.0}
LOWEST_NEAR_THE_SUN_DEG = {"mercury": 8.0, "venus": 10.0}


def targets_of(text: str, look_up: LookUp, wishes: Mapping[str, Any], notes: Notes) -> tuple[Target, ...]:
    """Return the targets a CSV text asks for, in its order; faults go to `notes`.

    Parameters
    ----------
    text : The whole file.
    look_up : Resolves a designation or raises `UnknownName`.
    wishes : What blank cells mean, by column; the kind's defaults stand behind it.
    notes : Where faults go.
    """
    mark = separator_of(text)
    rows = [(row, cells) for row, cells in _rows(text, mark, notes) if any(cells)]
    if not rows:
        notes.add("no rows", 'a header row with a column "target", then one row per target')
        return ()
    (header_row, header), *rows = rows
    columns = _columns(header_row, header, notes)
    if columns is None:
        return ()
    if not rows and not notes.found:
        notes.add("no targets", "at least one row below the header")
    if len(rows) > MOST_ROWS:
        notes.add(f"{len(rows)} rows", f"at most {MOST_ROWS} targets; split the list")
        return ()
    reader = _RowReader(look_up, wishes, notes, commas=mark != ",")
    return tuple(target for row, cells in rows if (target := reader.target_of(row, cells, columns)))


def separator_of(text: str) -> str:
    """Return what separates the cells: the commonest of comma, semicolon and tab in the first filled line.

    >>> separator_of("target;minutes")
    ';'
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max(",;\t", key=first.count)


def _rows(text: str, mark: str, notes: Notes) -> Iterator[tuple[int, list[str]]]:
    """Yield each row with its number, spaces tidied, as far as the quotes are sound."""
    row = 0
    table = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        for row, cells in enumerate(table, 1):
            yield row, [cell.strip() for cell in cells]
    except csv.Error as error:
        notes.add(
            str(error),
            "quotes that come in pairs around a whole cell; one is left open here or in a row above",
            row=row + 1,
        )


def _columns(row: int, header: list[str], notes: Notes) -> list[str] | None:
    """Return the names of the columns, or None where there is none called target."""
    columns = ["_".join(cell.casefold().split()) for cell in header]
    while columns and not columns[-1]:
        columns.pop()
    if len(columns) > MOST_COLUMNS:
        notes.add(f"{len(columns)} columns", f"at most {MOST_COLUMNS} columns", row=row)
        return None
    for column in columns:
        if column not in COLUMNS:
            notes.add(
                column,
                f"one of the columns {', '.join(COLUMNS)}",
                column=column or None,
                row=row,
                near=near(column, COLUMNS),
            )
    for column in sorted({one for one in columns if columns.count(one) > 1 and one in COLUMNS}):
        notes.add(column, "each column once", column=column, row=row)
    if "target" in columns:
        return columns
    notes.add(header[0], 'a header row naming the columns, one of them "target"', row=row)
    return None


class _RowReader:
    """Reads one row after the other and remembers which object each was."""

    def __init__(self, look_up: LookUp, wishes: Mapping[str, Any], notes: Notes, *, commas: bool) -> None:
        self.look_up, self.wishes, self.notes, self.commas = look_up, wishes, notes, commas
        self.seen: dict[str, tuple[int, str]] = {}

    def target_of(self, row: int, cells: list[str], columns: list[str]) -> Target | None:
        """Return the row's target, or None with its faults noted."""
        while len(cells) > len(columns) and not cells[-1]:
            cells.pop()
        if len(cells) != len(columns):
            self.notes.add(
                f"{len(cells)} cells",
                f"{len(columns)} cells as in the header; leave cells blank "
                "rather than out, and quote a cell that holds a separator",
                row=row,
            )
            return None
        written = {column: cell for column, cell in zip(columns, cells, strict=True) if cell}
        before = len(self.notes.found)
        read = self._values(row, written)
        if "target" not in read:
            if "target" not in written:
                self.notes.add("nothing", "a designation or name", column="target", row=row)
            return None
        known = self._known(row, read, written)
        target = self._target(row, read, known, written)
        return target if len(self.notes.found) == before else None

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
        return read

    def _known(self, row: int, read: Mapping[str, Any], written: Mapping[str, str]) -> Known | None:
        """Return what the catalogue knows, or None; note a name without a place, and a name met before."""
        name = read["target"]
        known: Known | None = None
        near_names: tuple[str, ...] = ()
        try:
            known = self.look_up(name)
        except UnknownName as unknown:
            near_names = unknown.near
        own = [column for column in ("ra_deg", "dec_deg") if column in written]
        if known is None and not own:
            self.notes.add(
                name,
                "a designation or name the catalogue knows, or ra_deg and dec_deg beside it",
                column="target",
                row=row,
                near=near_names,
            )
        self._note_place(row, read, known, own)
        identity = known.identity if known else f"own {name.casefold()}"
        if identity in self.seen:
            first_row, first_name = self.seen[identity]
            self.notes.add(
                name,
                f"each object once; row {first_row} ({first_name}) is the same one; raise its visits instead",
                column="target",
                row=row,
            )
        self.seen.setdefault(identity, (row, name))
        return known

    def _note_place(self, row: int, read: Mapping[str, Any], known: Known | None, own: list[str]) -> None:
        """Note half a place, a place for what moves, and a kind that does not fit."""
        name = read["target"]
        if len(own) == 1:
            other = "dec_deg" if own == ["ra_deg"] else "ra_deg"
            self.notes.add("nothing", f"a value beside {own[0]}", column=other, row=row)
        if own and known is not None and known.body:
            self.notes.add(name, "no ra_deg and dec_deg: a planet moves", column=own[0], row=row)
        kind, moves = read.get("kind"), known is not None and known.body is not None
        if kind is not None and moves != (kind is Kind.PLANET):
            expected = (
                f"{Kind.PLANET.value}, or blank" if moves else "a kind that stays in its place, or blank"
            )
            self.notes.add(kind.value, f"{expected}, for {name}", column="kind", row=row)

    def _target(
        self, row: int, read: Mapping[str, Any], known: Known | None, written: Mapping[str, str]
    ) -> Target | None:
        """Return the row's target; the row's own cells win over defaults and catalogue."""
        kind, body = (known.kind, known.body) if known else (Kind.DEEP_SKY, None)
        if body is None and read.get("kind", Kind.PLANET) is not Kind.PLANET:
            kind = read["kind"]
        facts: dict[str, Any] = {"name": read["target"]}
        if known:
            facts = {key: getattr(known, key) for key in FACTS}
        if "name" in read:
            facts["also_known_as"] = read["name"]
        usual = {
            "minutes": MINUTES[kind],
            "lowest_altitude_deg": LOWEST_NEAR_THE_SUN_DEG.get(body or "", LOWEST_ALTITUDE_DEG[kind]),
        }
        own = {key: read[key] for key in OWN if key in read and not (body and key in ("ra_deg", "dec_deg"))}
        spare = {} if body else {"ra_deg": 0.0, "dec_deg": 0.0}
        return self.notes.build(
            Target,
            {**usual, **self.wishes, **facts, "kind": kind, "body": body, **own},
            spare,
            row=row,
            written=written,
        )


FACTS = ("name", "ra_deg", "dec_deg", "constellation", "magnitude", "size_arcmin", "also_known_as")
OWN = (
    "minutes",
    "priority",
    "visits",
    "spacing_days",
    "earliest",
    "latest",
    "lowest_altitude_deg",
    "ra_deg",
    "dec_deg",
    "magnitude",
    "size_arcmin",
)
