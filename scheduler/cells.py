"""The cells of tables: local times, texts no spreadsheet takes for formulas, and the CSV around them."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

from .domain import FreeNight, Plan, Span


def csv_of(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table as CSV (RFC 4180)."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue()


def text_cell(value: str) -> str:
    """Return a text that no spreadsheet takes for a formula: where it might, an apostrophe comes first.

    That is what begins with =, +, -, @, a tab or the end of a line, blanks before it aside. A spreadsheet of
    a country with decimal commas separates cells by semicolons, so what follows one is looked at too.

    References
    ----------
    T. Goosen & Albinowax, "CSV Injection", OWASP community pages, read 2026. That wide forms of these signs
    start formulas in some countries is from memory; that blanks may be dropped is caution, no source.

    Examples
    --------
    >>> text_cell("=1+1"), text_cell(" @now"), text_cell("M 31; =1+1"), text_cell("M 31 - M 33")
    ("'=1+1", "' @now", "M 31; '=1+1", 'M 31 - M 33')
    """
    guarded = _NEXT_CELL.sub(r"\1'", value)
    return f"'{guarded}" if _FORMULA.match(value) else guarded


_SIGNS = "=+\\-@＝＋－＠"
_FORMULA = re.compile(rf"[\t\r\n]|\s*[{_SIGNS}]")
_NEXT_CELL = re.compile(rf"([;\t\r\n]\s*)(?=[{_SIGNS}])")


def span_cells(plan: Plan, span: Span | None) -> tuple[str, str]:
    """Return both ends of a stretch of time by the local clock, blank for none."""
    return ("", "") if span is None else (local_cell(plan, span.start), local_cell(plan, span.end))


def local_cell(plan: Plan, moment: datetime) -> str:
    """Return a moment by the clock of home."""
    return moment.astimezone(plan.site.local).strftime("%Y-%m-%d %H:%M")


def utc_cell(moment: datetime) -> str:
    """Return a moment in UTC."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def trip_cells(plan: Plan, free: FreeNight) -> tuple[str, int, str, str]:
    """Return where a night is spent, how far it is, and from when to when one is away from home."""
    if free.trip is None:
        return text_cell(plan.site.name), 0, "", ""
    return text_cell(free.trip.site.name), free.trip.travel_min, *span_cells(plan, free.door_to_door)
