"""The reading of a calendar as a deed, so that a child process can do it; between the two only plain data."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.domain import Cancel, Report, Span

from ..ports import Deed
from .busy import BusyTimes

READ = "read calendar"


def calendar_deeds() -> Mapping[str, Deed]:
    """Return the one deed by its name."""
    return {READ: _read}


def _read(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    from .expansion import busy_times_of  # the libraries are wanted where calendars are read, not before

    first, last = (date.fromisoformat(given[name]) for name in ("first", "last"))
    busy = busy_times_of(given["content"], first, last, ZoneInfo(given["zone"]))
    spans = [[one.start.isoformat(), one.end.isoformat()] for one in busy.spans]
    return json.dumps({"events": busy.events, "spans": spans})


def busy_from_json(text: str) -> BusyTimes:
    """Return what a child has read."""
    told = json.loads(text)
    spans = (Span(*(datetime.fromisoformat(moment) for moment in span)) for span in told["spans"])
    return BusyTimes(tuple(spans), told["events"])
