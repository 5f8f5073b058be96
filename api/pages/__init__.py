"""What people look at: pages for a browser, one module for each matter. Their looks stand in `static`."""

from __future__ import annotations

from fastapi import APIRouter

from . import front, night, year

PAGES: tuple[APIRouter, ...] = (front.router, year.router, night.router)
