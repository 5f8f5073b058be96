"""Points moved apart just so far that what is drawn at them does not overlap."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, hypot, sin
from typing import TypeAlias

Point: TypeAlias = tuple[float, float]

ROUNDS = 200
"""Overlaps left after so many rounds stay: there are more discs than room."""

TURN = 2.399963
"""Points in one place part in directions this far apart, so that no two are the same. [rad]"""


def parted(points: Sequence[Point], apart: float, bounds: tuple[float, float, float, float]) -> list[Point]:
    """Return points near those given, at least `apart` from each other while there is room for it.

    Parameters
    ----------
    bounds : Left, top, right and bottom, which they do not leave.

    Examples
    --------
    >>> parted([(10.0, 10.0), (14.0, 10.0)], 8.0, (0.0, 0.0, 100.0, 100.0))
    [(8.0, 10.0), (16.0, 10.0)]
    """
    left, top, right, bottom = bounds
    found = [(min(max(x, left), right), min(max(y, top), bottom)) for x, y in points]
    for _ in range(ROUNDS):
        moved = False
        for one in range(len(found)):
            for other in range(one):
                moved |= _part(found, other, one, apart)
        found = [(min(max(x, left), right), min(max(y, top), bottom)) for x, y in found]
        if not moved:
            break
    return found


def _part(points: list[Point], one: int, other: int, apart: float) -> bool:
    """Move two points apart, each by half of what is missing, and tell whether any was."""
    (x, y), (other_x, other_y) = points[one], points[other]
    dx, dy = other_x - x, other_y - y
    distance = hypot(dx, dy)
    if distance >= apart - 1e-6:
        return False
    if distance < 1e-6:
        dx, dy, distance = cos(TURN * other), sin(TURN * other), 1.0
        missing = apart / 2
    else:
        missing = (apart - distance) / 2
    step_x, step_y = dx / distance * missing, dy / distance * missing
    points[one], points[other] = (x - step_x, y - step_y), (other_x + step_x, other_y + step_y)
    return True
