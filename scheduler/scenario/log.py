"""Read what the observer wrote down of past nights, and what a forecast says of those to come."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from ..domain import Forecast, Outcome, OutcomeLog, Went
from ..domain.outcome import MOST_OUTCOMES
from . import values
from .columns import anything
from .keys import Table, read_table
from .notes import Notes, Unreadable, near
from .seen import WishNames, names
from .table import cells_of, columns_of, rows_of, separator_of

Parsers: TypeAlias = Mapping[str, Callable[[str], Any]]


def went(text: str) -> Went:
    """Return how a night went, as the observer wrote it.

    >>> went("Part clear"), went("clouded-out")
    (<Went.PART_CLEAR: 'part-clear'>, <Went.CLOUDED_OUT: 'clouded out'>)
    """
    by_name = {_plain(one.value): one for one in Went}
    if (plain := _plain(text)) in by_name:
        return by_name[plain]
    names = [one.value for one in Went]
    raise Unreadable(f"one of {', '.join(names)}", near(text.casefold(), names))


def _plain(text: str) -> str:
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())


def notes_of(text: str) -> str:
    """Return the observer's words on one line; a night may have much to tell."""
    return " ".join(text.split())


OUTCOME_COLUMNS: Parsers = {
    "evening": values.day, "outcome": went, "usable_min": values.whole_number, "notes": notes_of,
    "seen": names, "seen_poorly": names, "not_seen": names, "sky_brightness": values.number,
}  # fmt: skip
FORECAST_COLUMNS: Parsers = {
    "evening": values.day, "clear_odds": values.number, "made_on": values.day, "notes": anything,
}  # fmt: skip
FORECAST_EXAMPLES = {
    "evening": "a date such as 2027-03-05", "clear_odds": "a number from 0 to 1",
    "made_on": "the day it was made, such as 2027-03-03",
}  # fmt: skip


def outcomes_of(text: str, notes: Notes, wishes: WishNames | None = None) -> OutcomeLog:
    """Return the log a CSV text holds, its lines in the order they were written; faults go to `notes`.

    `wishes` : Says which target of the wish-list a name means; None takes every name as it stands.
    """
    needed = {"evening": FORECAST_EXAMPLES["evening"], "outcome": f"one of {', '.join(Went)}"}
    lines = []
    for row, read, written in _rows_read(text, OUTCOME_COLUMNS, needed, notes):
        given = {("went" if column == "outcome" else column): value for column, value in read.items()}
        if wishes is not None:
            wishes.resolve(row, given, notes)
        lines.append(notes.build(Outcome, given, {}, row=row, written=written))
    return OutcomeLog() if notes.found else OutcomeLog(tuple(line for line in lines if line))


def forecasts_of(text: str, notes: Notes) -> tuple[Forecast, ...]:
    """Return the forecasts a CSV text holds; faults go to `notes`."""
    found = [
        notes.build(Forecast, _without_notes(read), {"made_on": read["evening"], "clear_odds": 0.5}, row=row,
                    written=written)
        for row, read, written in _rows_read(text, FORECAST_COLUMNS, FORECAST_EXAMPLES, notes)
    ]  # fmt: skip
    return tuple(one for one in found if one)


def forecast_tables_of(tables: Sequence[Table] | None, notes: Notes) -> tuple[Forecast, ...]:
    """Return the forecasts of the `[[forecast]]` tables of scenario.toml; faults go to `notes`."""
    found = []
    for place, one in enumerate(tables or (), 1):
        under = f"forecast.{place}"
        read = read_table(one, "forecast", under, notes)
        missing = [key for key in FORECAST_EXAMPLES if key not in read]
        for key in missing:
            if key not in one:
                notes.add("nothing", f"{key} = {FORECAST_EXAMPLES[key]}", column=f"{under}.{key}")
        if not missing:
            spare = {"made_on": read["evening"], "clear_odds": 0.5}
            found.append(notes.build(Forecast, read, spare, under=under))
    return tuple(one for one in found if one)


def _without_notes(read: Mapping[str, Any]) -> dict[str, Any]:
    return {column: value for column, value in read.items() if column != "notes"}


def _rows_read(
    text: str, columns: Parsers, needed: Mapping[str, str], notes: Notes
) -> Iterator[tuple[int, dict[str, Any], dict[str, str]]]:
    """Yield each sound row: its number, its values and its cells by column; needed cells are all there."""
    mark = separator_of(text)
    rows = [(row, cells) for row, cells in rows_of(text, mark, notes) if any(cells)]
    if not rows:
        return  # an empty log is no fault: it waits for its first line
    (header_row, header), *rows = rows
    names = columns_of(header_row, header, columns, tuple(needed), notes)
    if names is None:
        return
    if len(rows) > MOST_OUTCOMES:
        notes.add(f"{len(rows)} rows", f"at most {MOST_OUTCOMES} rows; begin a new file")
        return
    for row, cells in rows:
        written = cells_of(row, cells, names, notes)
        if written is None:
            continue
        read = _values(row, written, columns, notes, commas=mark != ",")
        for column in needed:
            if column not in written:
                notes.add("nothing", needed[column], column=column, row=row)
        if all(column in read for column in needed):
            yield row, read, written


def _values(
    row: int, written: Mapping[str, str], columns: Parsers, notes: Notes, *, commas: bool
) -> dict[str, Any]:
    """Return what the cells of one row say; decimal commas are read where a comma does not separate."""
    read = {}
    for column, cell in written.items():
        parse = columns.get(column)
        if parse is None:
            continue  # the header's fault has been noted
        number = parse in (values.number, values.whole_number)
        try:
            read[column] = parse(cell.replace(",", ".") if commas and number else cell)
        except Unreadable as wrong:
            notes.add(cell, wrong.expected, column=column, row=row, near=wrong.near)
    return read
