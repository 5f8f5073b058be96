"""Two wish-lists made one: rows are added below, columns as needed."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from ..errors import Fault, ScenarioFaults
from .table import separator_of
from .text import decoded

FILE = "wish-list.csv"


def joined_wish_lists(kept: bytes, added: bytes) -> bytes:
    r"""Return the rows of two wish-lists below one header, as RFC 4180 has it, in UTF-8.

    Cells are carried over as they stand; whether they make sense is asked when the list is read.

    Raises
    ------
    ScenarioFaults
        One of them is no text, has no header or a quote left open, or they separate their cells otherwise, so
        that a comma may mean two things.

    Examples
    --------
    >>> joined_wish_lists(b"target,priority\nM 42,5\n", b"target,minutes\nM 31,20\n").decode().split()
    ['target,priority,minutes', 'M', '42,5,', 'M', '31,,20']
    """
    mark, first = _table(kept, "the kept wish-list")
    other, second = _table(added, "the rows to add")
    if mark != other:
        raise _fault(f"cells separated by {other!r}", f"{mark!r} between the cells, as in the kept wish-list")
    columns = [*first[0], *(name for name in second[0] if name not in first[0])]
    written = io.StringIO(newline="")
    table = csv.writer(written, delimiter=mark)
    table.writerow(columns)
    for header, *rows in (first, second):
        for row in rows:
            cells = dict(zip(header, row, strict=False))
            over = row[len(header) :]  # kept, so that reading can tell of them
            table.writerow([*(cells.get(name, "") for name in columns), *over])
    return written.getvalue().encode()


def _table(raw: bytes, what: str) -> tuple[str, Sequence[list[str]]]:
    text = decoded(raw)
    if text is None:
        raise _fault("bytes that are not text", "plain text in UTF-8")
    mark = separator_of(text)
    try:
        rows = [row for row in csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
                if any(cell.strip() for cell in row)]  # fmt: skip
    except csv.Error as error:
        raise _fault(str(error), "quotes in pairs around whole cells") from error
    if not rows:
        raise _fault("nothing", f"a header row in {what}, with a column target")
    header = ["_".join(name.casefold().split()) for name in rows[0]]
    return mark, [header, *rows[1:]]


def _fault(read: str, expected: str) -> ScenarioFaults:
    return ScenarioFaults((Fault(FILE, None, None, read, expected),))
