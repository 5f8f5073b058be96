"""What people look at: pages for a browser, one module for each matter. Their looks stand in `static`."""

from __future__ import annotations

from fastapi import APIRouter

from . import changes, front, keeping, log, year

PAGES: tuple[APIRouter, ...] = (changes.router, front.router, keeping.router, log.router, year.router)
