"""The element that holds a picture, and how wide a picture is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

import svg

from .letters import written
from .shapes import rounded

WIDE = 600.0
"""From this width on a picture has its labels beside the rows; below it is drawn for a phone."""


def picture(
    elements: Sequence[svg.Element], width: float, height: float, size: float, *classes: str, label: str,
    how: str, linked: bool,
) -> str:  # fmt: skip
    """Return a picture whose one unit is a pixel where it has room, and which shrinks where it has not.

    Parameters
    ----------
    size : Of its letters.
    label, how : What it shows, and how to read it.
    linked : Whether it holds links; without them it is one image to whoever listens to it.
    """
    height = ceil(height)
    return str(
        svg.SVG(
            viewBox=svg.ViewBoxSpec(0, 0, rounded(width), height), width=rounded(width),
            height=height, class_=["picture", *classes],
            elements=[svg.Desc(text=written(how)), *elements],
            extra={
                "font-size": f"{rounded(size)}", "role": "group" if linked else "img",
                "aria-label": written(label),
            },
        )
    )  # fmt: skip


def linked(
    address: str | None, summary: str, elements: list[svg.Element], *classes: str, data: dict[str, str]
) -> svg.Element:
    """Return elements that lead to an address and are named by a summary; without one they have a title."""
    told = {name: written(value) for name, value in data.items()}
    if address is None:
        named = svg.Title(text=written(summary))
        return svg.G(class_=[*classes], data=told, elements=[named, *elements])
    return svg.A(
        href=written(address), class_=[*classes], data=told, elements=elements,
        extra={"aria-label": written(summary)},
    )  # fmt: skip
