"""The legend of a picture: signs with a word or two each, in as many lines as its width asks for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeAlias

import svg

from .letters import width_of
from .shapes import words

Drawing: TypeAlias = Callable[[float, float], list[svg.Element]]
"""Draws a sign whose left end and middle height are given."""


class Entry(NamedTuple):
    """A sign, how broad it is, and what it stands for."""

    draw: Drawing
    broad: float
    meaning: str


def legend(
    entries: Sequence[Entry], x: float, y: float, width: float, size: float
) -> tuple[list[svg.Element], float]:
    """Return a legend from its upper left corner, and how high it is."""
    drawn: list[svg.Element] = []
    across, high = 0.0, 1.8 * size
    down = high / 2
    for entry in entries:
        room = entry.broad + 0.5 * size + width_of(entry.meaning, size)
        if across and across + room > width:
            across, down = 0.0, down + high
        drawn += entry.draw(x + across, y + down)
        drawn.append(words(x + across + entry.broad + 0.5 * size, y + down + 0.36 * size, entry.meaning))
        across += room + 0.9 * size
    return [svg.G(class_=["legend"], elements=drawn)], down + high / 2
