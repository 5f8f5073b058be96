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


def parted(
    points: Sequence[Point], apart: float, bounds: tuple[float, float, float, float],
    beside: Sequence[Point] = (),
) -> list[Point]:  # fmt: skip
    """Return points near those given, at least `apart` from each other while there is room for it.

    Parameters
    ----------
    bounds : Left, top, right and bottom, which they do not leave.
    beside : Points to keep as far from, which stay where they are.

    Examples
    --------
    >>> parted([(10.0, 10.0), (14.0, 10.0)], 8.0, (0.0, 0.0, 100.0, 100.0))
    [(8.0, 10.0), (16.0, 10.0)]
    >>> parted([(14.0, 10.0)], 8.0, (0.0, 0.0, 100.0, 100.0), [(10.0, 10.0)])
    [(18.0, 10.0)]
    """
    found = [_inside(point, bounds) for point in points]
    for _ in range(ROUNDS):
        moved = False
        for one, point in enumerate(found):
            for still in beside:
                step = _step(still, point, apart, one + 1)
                point = found[one] = point[0] + step[0], point[1] + step[1]
                moved |= step != (0.0, 0.0)
            for other in range(one):
                step = _step(found[other], found[one], apart, one)
                found[other] = found[other][0] - step[0] / 2, found[other][1] - step[1] / 2
                found[one] = found[one][0] + step[0] / 2, found[one][1] + step[1] / 2
                moved |= step != (0.0, 0.0)
        found = [_inside(point, bounds) for point in found]
        if not moved:
            break
    return found


def _inside(point: Point, bounds: tuple[float, float, float, float]) -> Point:
    left, top, right, bottom = bounds
    return min(max(point[0], left), right), min(max(point[1], top), bottom)


def _step(still: Point, point: Point, apart: float, turns: int) -> Point:
    """Return the way a point has to go from another to be far enough from it."""
    dx, dy = point[0] - still[0], point[1] - still[1]
    distance = hypot(dx, dy)
    if distance >= apart - 1e-6:
        return 0.0, 0.0
    if distance < 1e-6:
        return cos(TURN * turns) * apart, sin(TURN * turns) * apart
    return dx / distance * (apart - distance), dy / distance * (apart - distance)
