"""Read wish-list.csv into targets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from ..domain import Target
from .columns import COLUMNS
from .notes import Notes, near
from .rows import Circumstances, RowReader

MOST_ROWS = 20000
MOST_COLUMNS = 60


def targets_of(text: str, known: Circumstances, notes: Notes) -> tuple[Target, ...]:
    """Return the targets a CSV text asks for, in its order; faults go to `notes`.

    Parameters
    ----------
    text : The whole file.
    known : What it is read against.
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
    reader = RowReader(known, notes, commas=mark != ",")
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
    for column in dict.fromkeys(columns):
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
