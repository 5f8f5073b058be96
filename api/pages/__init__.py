"""What people look at: pages for a browser, one module for each matter. Their looks stand in `static`."""

from __future__ import annotations

from fastapi import APIRouter

from . import (
    answer,
    ask,
    begin,
    calendar,
    changes,
    entry,
    files,
    front,
    keeping,
    log,
    more,
    night,
    target,
    work,
    year,
)

PAGES: tuple[APIRouter, ...] = (
    front.router, entry.router, begin.router, files.router, more.router, work.router, year.router,
    night.router, log.router, changes.router, target.router, ask.router, calendar.router, answer.router,
    keeping.router,
)  # fmt: skip
