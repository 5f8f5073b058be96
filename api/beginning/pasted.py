"""Pasted or uploaded lines as a wish-list: a name a line, rows of a spreadsheet, or a wish-list.csv itself.

The wish-list made of it goes to the scenario's own reader; here is only settled which part of a line is what.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TypeAlias

from scheduler.scenario.columns import COLUMNS
from scheduler.scenario.notes import near
from scheduler.scenario.table import separator_of

Knows: TypeAlias = Callable[[str], bool]
"""Tells whether the catalogue knows a name."""

TARGET = "target"
ALSO_TARGET = ("object", "objects", "targets", "designation", "name")
"""What a first row may call the column of the targets, where none is called target."""
MOST_WORKED_OUT = 2000
"""Lines with something behind the name that are looked into; no year has room for more."""
_BULLET = re.compile(r"(?:[-*•–]|\d+[.)]|\[[ xX]?\])\s+")
_PRIORITY = re.compile(r"[1-5]")
_TAILS = (
    re.compile(r"(?P<target>.*\S)\s*\((?P<unused>[^()]*)\)"),
    re.compile(r"(?P<target>.*\S)\s+(?:x\s*|×\s*)(?P<visits>\d{1,2})", re.IGNORECASE),
    re.compile(r"(?P<target>.*\S)\s+(?P<visits>\d{1,2})\s*(?:x|×|times|visits)", re.IGNORECASE),
    re.compile(r"(?P<target>.*\S)\s+(?P<priority>\d{1,3})"),
)
"""What may stand behind a name: a remark in brackets, "x 3" for three visits, a number for its priority.

Which priorities there are is the reader's matter, so that one too high is told as such."""


@dataclass(frozen=True, slots=True)
class Line:
    """What one line asks for, as cells of a wish-list.

    Attributes
    ----------
    target, priority, visits : Its cells; blank where it says nothing of them.
    unused : What else stands in it; kept as a note.
    """

    target: str
    priority: str = ""
    visits: str = ""
    unused: str = ""


@dataclass(frozen=True, slots=True)
class Pasted:
    """A wish-list made of a text.

    Attributes
    ----------
    csv : The wish-list, its header in row 1.
    rows : By the row of the wish-list, what stood there in the text.
    lines : By the row of the wish-list, the line of the text, counted from 1; empty for a table.
    unused : By the row, what of it is not used.
    columns_unused : Columns of a table that mean nothing here.
    header : The row that names the columns.
    mark : What separates the cells.
    """

    csv: str
    rows: Mapping[int, str]
    lines: Mapping[int, int] = field(default_factory=dict)
    unused: Mapping[int, str] = field(default_factory=dict)
    columns_unused: tuple[str, ...] = ()
    header: int = 1
    mark: str = ","

    @property
    def is_table(self) -> bool:
        """Whether the text named its columns itself."""
        return not self.lines


def wish_list_of(text: str, knows: Knows) -> Pasted:
    r"""Return the wish-list a text stands for.

    Parameters
    ----------
    text : A target a line, or a table with a row of names of columns above it.
    knows : Asked what of a line is the name.

    Examples
    --------
    >>> known = {"M 31", "Jupiter", "Albireo"}
    >>> pasted = wish_list_of("- M 31\nJupiter 4 x3\nAlbireo (the fine one)", known.__contains__)
    >>> print(pasted.csv.replace("\r", ""), end="")
    target,priority,visits,notes
    M 31,,,
    Jupiter,4,3,
    Albireo,,,the fine one
    """
    return _table(text) if _has_header(text) else _plain_lines(text, knows)


def joined(text: str, more: str, knows: Knows, join: Callable[[bytes, bytes], bytes]) -> str:
    """Return a wish-list's text with more below it; lines that are there already are not said twice.

    Parameters
    ----------
    text, more : As people paste them.
    knows : As for `wish_list_of`.
    join : Joins two wish-lists where one of them is a table; what it raises is passed on.
    """
    if not text.strip() or not more.strip():
        return text if text.strip() else more
    if not _has_header(text) and not _has_header(more):
        said = {_said(line) for line in text.splitlines()}
        fresh = [line for line in more.splitlines() if _said(line) not in said]
        return "\n".join([*text.rstrip().splitlines(), *fresh]) + "\n"
    both = (wish_list_of(one, knows).csv.encode() for one in (text, more))
    return join(*both).decode().replace("\r\n", "\n")


def with_more(kept: str, more: str, knows: Knows, join: Callable[[bytes, bytes], bytes]) -> str:
    """Return a kept wish-list with more below it, as people paste it; the kept rows stay as they are.

    `knows` and `join` are as for `joined`. A list of lines takes over what separates the kept cells; a table
    has its own, and where that is another, `join` refuses it.
    """
    added = wish_list_of(more, knows)
    rows = csv.reader(io.StringIO(added.csv, newline=""))
    table = added.csv if added.is_table else _written(list(rows), separator_of(kept))
    return join(kept.encode(), table.encode()).decode()


def _said(line: str) -> str:
    return "".join(line.casefold().split())


def _has_header(text: str) -> bool:
    return bool({TARGET, *ALSO_TARGET} & set(_names_of(text)))


def _names_of(text: str) -> list[str]:
    """Return the cells of the first filled line as names of columns."""
    mark = separator_of(text)
    first = next((line for line in text.splitlines() if line.strip()), "")
    return [_column(cell) for cell in first.split(mark)]


def _column(cell: str) -> str:
    return "_".join(cell.strip().strip('"').casefold().split())


# Tables ------------------------------------------------------------------------------------------------


def _table(text: str) -> Pasted:
    """Return a table as it is, without the columns that mean nothing here."""
    mark = separator_of(text)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True))
    except csv.Error:
        return Pasted(text, {})  # the reader tells what is wrong with it
    head = next(place for place, row in enumerate(rows) if any(cell.strip() for cell in row))
    names = _with_target([_column(cell) for cell in rows[head]])
    drop = [place for place, name in enumerate(names) if name not in COLUMNS and not near(name, COLUMNS)]
    kept = [[*names], *rows[head + 1 :]]
    numbered = list(enumerate(kept, head + 1))
    shown = {row: mark.join(cells).strip() for row, cells in numbered[1:] if any(cells)}
    unused = {row: ", ".join(_at(cells, drop)) for row, cells in numbered[1:] if any(_at(cells, drop))}
    written = _written([*rows[:head], *([_without(cells, drop) for cells in kept])], mark)
    nothing_here = tuple(names[place] for place in drop if names[place])
    return Pasted(written, shown, {}, unused, nothing_here, head + 1, mark)


def _with_target(names: list[str]) -> list[str]:
    """Return the names of columns, one of them target."""
    if TARGET in names:
        return names
    at = next(names.index(name) for name in ALSO_TARGET if name in names)
    return [*names[:at], TARGET, *names[at + 1 :]]


def _at(cells: Sequence[str], places: Sequence[int]) -> list[str]:
    return [cells[place].strip() for place in places if place < len(cells) and cells[place].strip()]


def _without(cells: Sequence[str], places: Sequence[int]) -> list[str]:
    return [cell for place, cell in enumerate(cells) if place not in places]


def _written(rows: Sequence[Sequence[str]], mark: str = ",") -> str:
    written = io.StringIO(newline="")
    csv.writer(written, delimiter=mark).writerows(rows)
    return written.getvalue()


# Lines -------------------------------------------------------------------------------------------------


def _plain_lines(text: str, knows: Knows) -> Pasted:
    filled = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    split = [(number, part) for number, line in filled for part in _parts(line, alone=len(filled) == 1)]
    worked_out = 0
    found: list[Line] = []
    for _, part in split:
        line = _line_of(part)
        if any(tail.fullmatch(line.target) for tail in _TAILS) and worked_out < MOST_WORKED_OUT:
            worked_out += 1
            line = next((one for one in _readings(line) if knows(one.target)), line)
        found.append(line)
    columns = [TARGET, *(name for name in _OPTIONAL if any(getattr(line, name) for line in found))]
    header = [_COLUMN_OF[name] for name in columns]
    cells = [[getattr(line, name) for name in columns] for line in found]
    return Pasted(
        csv=_written([header, *cells]) if found else "",
        rows={row: part.strip() for row, (_, part) in enumerate(split, 2)},
        lines={row: number for row, (number, _) in enumerate(split, 2)},
        unused={row: line.unused for row, line in enumerate(found, 2) if line.unused},
    )


_OPTIONAL = ("priority", "visits", "unused")
_COLUMN_OF = MappingProxyType({name: name for name in (TARGET, *_OPTIONAL)} | {"unused": "notes"})


def _parts(line: str, *, alone: bool) -> list[str]:
    """Return the targets of a line: one, unless a list was written in a single line."""
    mark = separator_of(line)
    parts = [part for part in line.split(mark) if part.strip()]
    if not alone or mark == "\t" or len(parts) < 2 or _PRIORITY.fullmatch(parts[1].strip()):
        return [line]
    return parts


def _line_of(part: str) -> Line:
    """Return what a line says by its cells: a name, then if it likes a priority, then what is not used."""
    plain = _BULLET.sub("", part.strip(), count=1) if _BULLET.match(part.strip()) else part.strip()
    mark = separator_of(plain)
    name, *rest = (cell.strip().strip('"').strip() for cell in plain.split(mark))
    priority = rest.pop(0) if rest and _PRIORITY.fullmatch(rest[0]) else ""
    return Line(name, priority, "", ", ".join(cell for cell in rest if cell))


def _readings(line: Line) -> Iterator[Line]:
    """Yield what a line may mean: its name as it stands, then without one thing behind it, then two."""
    yield line
    for tail in _TAILS:
        found = tail.fullmatch(line.target)
        if found and not any(getattr(line, name) for name in found.groupdict() if name != TARGET):
            yield from _readings(replace(line, **found.groupdict()))
