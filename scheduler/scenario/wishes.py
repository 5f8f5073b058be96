"""Read wish-list.csv into targets."""

from __future__ import annotations

from ..domain import Target
from .columns import COLUMNS
from .notes import Notes
from .rows import Circumstances, RowReader
from .table import columns_of, rows_of, separator_of

MOST_ROWS = 20000


def targets_of(text: str, known: Circumstances, notes: Notes) -> tuple[Target, ...]:
    """Return the targets a CSV text asks for, in its order; faults go to `notes`.

    Parameters
    ----------
    text : The whole file.
    known : What it is read against.
    notes : Where faults go.
    """
    mark = separator_of(text)
    rows = [(row, cells) for row, cells in rows_of(text, mark, notes) if any(cells)]
    if not rows:
        notes.add("no rows", 'a header row with a column "target", then one row per target')
        return ()
    (header_row, header), *rows = rows
    columns = columns_of(header_row, header, COLUMNS, ("target",), notes)
    if columns is None:
        return ()
    if not rows and not notes.found:
        notes.add("no targets", "at least one row below the header")
    if len(rows) > MOST_ROWS:
        notes.add(f"{len(rows)} rows", f"at most {MOST_ROWS} targets; split the list")
        return ()
    reader = RowReader(known, notes, commas=mark != ",")
    return tuple(target for row, cells in rows if (target := reader.target_of(row, cells, columns)))
