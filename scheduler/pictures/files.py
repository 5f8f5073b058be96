"""The pictures of a plan as files."""

from __future__ import annotations

from math import sqrt

from ..domain import Plan
from .png import png_of
from .style import size_of, standalone
from .targets import targets_picture
from .year import year_picture

NAMES = ("year.svg", "year.png", "targets.svg", "targets.png")
"""What `pictures_of` makes."""

WIDTH = 900.0
ZOOM = 1.0
"""Pixels a unit of a PNG, unless that were too many."""

MOST_PIXELS = 30e6
"""A list of thousands is drawn smaller instead (our judgement)."""


def pictures_of(plan: Plan) -> dict[str, bytes]:
    """Return the year and the targets' seasons by file name, drawn by day and without a mark for today."""
    name = plan.scenario
    drawn = {
        "year": standalone(year_picture(plan, width=WIDTH), f"The year of {name}"),
        "targets": standalone(targets_picture(plan, width=WIDTH), f"The targets of {name}"),
    }
    files: dict[str, bytes] = {}
    for stem, svg in drawn.items():
        files[f"{stem}.svg"] = svg.encode("utf-8")
        files[f"{stem}.png"] = png_of(svg, zoom=_zoom(svg))
    return files


def _zoom(svg: str) -> float:
    """Return as how many pixels a unit is drawn."""
    width, height = size_of(svg)
    return min(ZOOM, sqrt(MOST_PIXELS / (width * height)))
