"""The small shapes pictures are made of. All sizes are in the picture's units."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin
from typing import Literal, TypeAlias

import svg

from .letters import written

Anchor: TypeAlias = Literal["start", "middle", "end"]


def rounded(length: float) -> float | int:
    """Return a length to a tenth of a unit, short to write: 12 instead of 12.0."""
    near = round(length, 1)
    return int(near) if near == int(near) else near


def words(
    x: float, y: float, text: str, *classes: str, anchor: Anchor | None = None, size: float | None = None
) -> svg.Text:
    """Return a text whose baseline begins, or has its middle or end, at a point."""
    return svg.Text(
        x=rounded(x), y=rounded(y), class_=[*classes] or None, text_anchor=anchor,
        font_size=None if size is None else rounded(size), text=written(text),
    )  # fmt: skip


def box(x: float, y: float, width: float, height: float, *classes: str) -> svg.Rect:
    """Return a rectangle from its upper left corner."""
    return svg.Rect(
        x=rounded(x), y=rounded(y), width=rounded(width), height=rounded(height), class_=[*classes]
    )


def disc(x: float, y: float, r: float, *classes: str) -> svg.Circle:
    """Return a circle round a point."""
    return svg.Circle(cx=rounded(x), cy=rounded(y), r=rounded(r), class_=[*classes])


def line(x1: float, y1: float, x2: float, y2: float, *classes: str) -> svg.Line:
    """Return a straight line."""
    return svg.Line(x1=rounded(x1), y1=rounded(y1), x2=rounded(x2), y2=rounded(y2), class_=[*classes])


def outline(points: list[tuple[float, float]], *classes: str, closed: bool = True) -> svg.Path:
    """Return straight lines from point to point."""
    (x, y), *others = points
    data: list[svg.PathData] = [svg.M(rounded(x), rounded(y))]
    data += [svg.L(rounded(x), rounded(y)) for x, y in others]
    return svg.Path(d=[*data, svg.Z()] if closed else data, class_=[*classes])


@dataclass
class _Brief(svg.PathData):
    """A whole path written out, shorter than its commands one by one."""

    written: str

    def __str__(self) -> str:
        return self.written


def brief(path: str, *classes: str) -> svg.Path:
    """Return a path given as it is written, for what long lists hold by the thousand."""
    return svg.Path(d=[_Brief(path)], class_=[*classes])


def diamond(x: float, y: float, r: float, *classes: str) -> svg.Path:
    """Return a square stood on its corner."""
    r = rounded(r)
    return brief(f"M{rounded(x)} {rounded(y - r)}l{r} {r}-{r} {r}-{r}-{r}z", *classes)


def pin(x: float, foot: float, top: float, r: float) -> list[svg.Element]:
    """Return a stem from its foot up to a round head, whose middle is at `top`."""
    return [line(x, foot, x, top, "planned"), disc(x, top, r, "planned-head")]


def sign(kind: str, x: float, y: float, r: float) -> svg.Element:
    """Return one of the signs of a night, as large as `r` to each side.

    Parameters
    ----------
    kind : "announced", "clear", "part-clear", "clouded out", "could not go", "club" or "away".
    """
    if kind == "announced":
        return outline([(x, y - r), (x + r, y + r), (x - r, y + r)], "sign")
    if kind in ("clear", "part-clear"):
        return outline(_star(x, y, 1.15 * r), "sign" if kind == "clear" else "sign-open")
    if kind == "clouded out":
        cross: list[svg.PathData] = [
            svg.M(rounded(x - r), rounded(y - r)), svg.L(rounded(x + r), rounded(y + r)),
            svg.M(rounded(x - r), rounded(y + r)), svg.L(rounded(x + r), rounded(y - r)),
        ]  # fmt: skip
        return svg.Path(d=cross, class_=["sign-open"])
    if kind == "could not go":
        return line(x - r, y, x + r, y, "sign-open")
    if kind == "club":
        return box(x - 0.8 * r, y - 0.8 * r, 1.6 * r, 1.6 * r, "sign")
    return outline([(x - 0.8 * r, y - r), (x + r, y), (x - 0.8 * r, y + r)], "sign-open")


def moon(x: float, y: float, r: float, lit: float, *, right: bool) -> list[svg.Element]:
    """Return the Moon, lit from one side as far as her terminator.

    Parameters
    ----------
    lit : Lit part of her disc. [0..1]
    right : Whether she is lit from the right, as waxing from north of the equator.
    """
    if lit in (0.0, 1.0):
        return [disc(x, y, r, "moon-lit" if lit else "moon-dark")]
    top, bottom, r = rounded(y - r), rounded(y + r), rounded(r)
    bulge, outer, inner = rounded(r * abs(1 - 2 * lit)), int(right), int(right == (lit > 0.5))
    edge = f"M{rounded(x)} {top}A{r} {r} 0 0 {outer} {rounded(x)} {bottom}"
    return [
        disc(x, y, r, "moon-dark"),
        brief(f"{edge}A{bulge} {r} 0 0 {inner} {rounded(x)} {top}z", "moon-lit"),
    ]


def _star(x: float, y: float, r: float) -> list[tuple[float, float]]:
    """Return the ten corners of a star of five points."""
    turns = [(pi * step / 5, r if step % 2 == 0 else 0.45 * r) for step in range(10)]
    return [(x + far * sin(turn), y - far * cos(turn)) for turn, far in turns]
