"""How pictures look on their own: by day on white, or in red on black."""

from __future__ import annotations

import re
from string import Template
from typing import Literal, TypeAlias

from .letters import written

Light: TypeAlias = Literal["day", "red"]

RULES = Template("""\
.picture { font-family: "Noto Sans", "Liberation Sans", Arial, sans-serif; fill: $ink; stroke: none; }
.picture a { text-decoration: none; }
.ground { fill: $ground; }
.quiet { fill: $quiet; }
.strong { font-weight: bold; }
.target text { stroke: $ground; stroke-width: 2.5; stroke-linejoin: round; paint-order: stroke; }
.hit { fill: none; pointer-events: all; }
.base { stroke: $ink; stroke-width: 1; }
.grid { stroke: $line; stroke-width: 0.6; }
.now { stroke: $mark; stroke-width: 1.6; stroke-dasharray: 3 2; }
.dark { fill: none; stroke: $ink; stroke-width: 0.9; }
.dusk { fill: none; stroke: $ink; stroke-width: 0.9; stroke-dasharray: 2 1.6; }
.moonless { fill: $fill; }
.planned { stroke: $mark; stroke-width: 1.8; }
.planned-head { fill: $mark; }
.sign { fill: $ink; }
.sign-open { fill: none; stroke: $ink; stroke-width: 1.5; }
.moon-dark { fill: $night; stroke: $ink; stroke-width: 0.9; }
.moon-lit { fill: $lit; stroke: $ink; stroke-width: 0.9; }
.shown { fill: none; stroke: $quiet; stroke-width: 1.2; }
.good { fill: none; stroke: $fill; stroke-width: 6; }
.visit { fill: $ground; stroke: $mark; stroke-width: 1.8; }
.seen { fill: $mark; stroke: $ground; stroke-width: 1; }
.odds { fill: none; stroke: $ink; stroke-width: 0.8; }
.odds-share { fill: $ink; }
.horizon { fill: $quiet; }
.path { fill: none; stroke: $quiet; stroke-width: 0.9; stroke-dasharray: 3 2; }
.spot { fill: $ground; stroke: $ink; stroke-width: 1.2; }
""")
"""The looks of every class, in colours still to be given."""

_DAY = {
    "ground": "#ffffff", "ink": "#16181d", "quiet": "#4a4f59", "line": "#c3c8d0", "fill": "#3c5a99",
    "mark": "#9c3a00", "night": "#16181d", "lit": "#ffffff",
}  # fmt: skip
_RED = {
    "ground": "#000000", "ink": "#ff0000", "quiet": "#ff0000", "line": "#700000", "fill": "#ff0000",
    "mark": "#ff0000", "night": "#000000", "lit": "#ff0000",
}  # fmt: skip

STYLE = RULES.substitute(_DAY)
"""The classes of all pictures, by day, on white."""

RED_STYLE = RULES.substitute(_RED)
"""The same in red alone, on black: told apart by shape, never by tone."""


MARGIN = 14
"""Round a picture that is a file of its own. [units]"""

_SIZE = re.compile(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)" width="[0-9.]+" height="[0-9.]+"')


def standalone(svg: str, title: str, *, light: Light = "day") -> str:
    """Return a picture as a file of its own, with its look and its ground in it.

    Parameters
    ----------
    svg : What one of the pictures' functions returned.
    light : "red" leaves green and blue out altogether.
    """
    opening, inside = svg.split(">", 1)
    opening = _SIZE.sub(_with_margin, opening, count=1)
    style = RED_STYLE if light == "red" else STYLE
    ground = f'<rect class="ground" x="{-MARGIN}" y="{-MARGIN}" width="100%" height="100%"/>'
    head = f"<title>{written(title)}</title><style>{style}</style>{ground}"
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{opening}>{head}{inside}\n'


def size_of(svg: str) -> tuple[float, float]:
    """Return how wide and high a standalone picture is, in units."""
    found = re.search(r'width="([0-9.]+)" height="([0-9.]+)"', svg)
    assert found, "pictures tell their size"
    return float(found[1]), float(found[2])


def _with_margin(size: re.Match[str]) -> str:
    width, height = (float(one) + 2 * MARGIN for one in size.groups())
    return f'viewBox="{-MARGIN} {-MARGIN} {width:g} {height:g}" width="{width:g}" height="{height:g}"'
