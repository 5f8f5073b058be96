"""A scenario's log as outcomes.csv, and the lines of one that is sent."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from scheduler.cells import text_cell
from scheduler.domain import OutcomeLog
from scheduler.scenario.seen import names_cell

from .storage import NewOutcome, OutcomeRecord

COLUMNS = ("evening", "outcome", "usable_min", "seen", "seen_poorly", "not_seen", "notes", "sky_brightness")


def outcomes_csv(lines: Iterable[OutcomeRecord | NewOutcome], *, guarded: bool = False) -> bytes:
    """Return a log as outcomes.csv; nothing for no lines.

    Parameters
    ----------
    guarded : Whether text that a spreadsheet would take for a formula gets an apostrophe before it.

    Examples
    --------
    >>> from datetime import date
    >>> line = NewOutcome(date(2027, 1, 1), "clear", seen=("M 42", "Saturn"))
    >>> outcomes_csv([line]).decode().splitlines()[1]
    '2027-01-01,clear,,M 42; Saturn,,,,'
    """
    rows = [_cells(line) for line in lines]
    if not rows:
        return b""
    written = io.StringIO(newline="")
    table = csv.writer(written)
    table.writerow(COLUMNS)
    table.writerows([text_cell(cell) for cell in row] if guarded else row for row in rows)
    return written.getvalue().encode()


def lines_of(log: OutcomeLog) -> tuple[NewOutcome, ...]:
    """Return the lines of a log that has been read."""
    return tuple(
        NewOutcome(
            one.evening, one.went.value, one.usable_min, one.seen, one.seen_poorly, one.not_seen, one.notes,
            one.sky_brightness,
        )
        for one in log.lines
    )  # fmt: skip


def _cells(line: OutcomeRecord | NewOutcome) -> Sequence[str]:
    usable = "" if line.usable_min is None else str(line.usable_min)
    names = map(names_cell, (line.seen, line.seen_poorly, line.not_seen))
    sky = "" if line.sky_brightness is None else str(line.sky_brightness)
    return (line.evening.isoformat(), line.outcome, usable, *names, line.notes, sky)
