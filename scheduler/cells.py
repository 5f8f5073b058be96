"""The cells of tables: local times, texts no spreadsheet takes for formulas, and the CSV around them."""

from __future__ import annotations

import csv
import io
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
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{value}" if value[:1] in {"=", "+", "-", "@", "\t", "\r"} else value


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
