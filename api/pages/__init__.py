"""What people look at: pages for a browser, one module for each matter. Their looks stand in `static`."""

from __future__ import annotations

from fastapi import APIRouter

from . import answer, ask, front, target, year

PAGES: tuple[APIRouter, ...] = (front.router, year.router, target.router, ask.router, answer.router)
