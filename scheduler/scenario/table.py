"""Read a CSV text as a table: what separates its cells, its rows, its columns."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping

from .notes import Notes, near

MOST_COLUMNS = 60


def separator_of(text: str) -> str:
    """Return what separates the cells: the commonest of comma, semicolon and tab in the first filled line.

    >>> separator_of("target;minutes")
    ';'
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max(",;\t", key=first.count)


def rows_of(text: str, mark: str, notes: Notes) -> Iterator[tuple[int, list[str]]]:
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


def columns_of(
    row: int, header: list[str], known: Mapping[str, object], needed: tuple[str, ...], notes: Notes
) -> list[str] | None:
    """Return the names of the columns, or None where one that is needed is missing; faults go to `notes`."""
    columns = ["_".join(cell.casefold().split()) for cell in header]
    while columns and not columns[-1]:
        columns.pop()
    if len(columns) > MOST_COLUMNS:
        notes.add(f"{len(columns)} columns", f"at most {MOST_COLUMNS} columns", row=row)
        return None
    for column in dict.fromkeys(columns):
        if column not in known:
            notes.add(
                column,
                f"one of the columns {', '.join(known)}",
                column=column or None,
                row=row,
                near=near(column, known),
            )
    for column in sorted({one for one in columns if columns.count(one) > 1 and one in known}):
        notes.add(column, "each column once", column=column, row=row)
    missing = [column for column in needed if column not in columns]
    if missing:
        names = " and ".join(f'"{column}"' for column in missing)
        ones = "one" if len(missing) == 1 else f"{len(missing)}"
        notes.add(header[0], f"a header row naming the columns, {ones} of them {names}", row=row)
        return None
    return columns


def cells_of(row: int, cells: list[str], columns: list[str], notes: Notes) -> dict[str, str] | None:
    """Return a row's filled cells by column, or None where it has too many or too few of them."""
    while len(cells) > len(columns) and not cells[-1]:
        cells.pop()
    if len(cells) != len(columns):
        notes.add(
            f"{len(cells)} cells",
            f"{len(columns)} cells as in the header; leave cells blank "
            "rather than out, and quote a cell that holds a separator",
            row=row,
        )
        return None
    return {column: cell for column, cell in zip(columns, cells, strict=True) if cell}
