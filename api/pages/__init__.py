"""What people look at: pages for a browser, one module for each matter. Their looks stand in `static`."""

from __future__ import annotations

from fastapi import APIRouter

from . import answer, ask, begin, front, night, target, work, year

PAGES: tuple[APIRouter, ...] = (
    front.router, begin.router, work.router, year.router, night.router, target.router, ask.router,
    answer.router,
)  # fmt: skip
