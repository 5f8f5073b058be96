"""Pictures of a plan as SVG: the year, the targets' seasons, the sky of an evening.

Everything is drawn from the plan alone. Whatever the plan quotes is cleaned and escaped; looks come from
classes alone, so that a page restyles them, and `standalone` gives a picture the looks of `STYLE`.

=============== ======================================================================================
class           what it is
=============== ======================================================================================
`picture`       every picture; with it `year`, `targets` or `strip`
`ground`        what a picture lies on, where it is a file of its own
`quiet`         text that says the lesser things
`strong`        text that says the greater things
`base` `grid`   the line things stand on; lines at whole hours, months and altitudes
`now`           the line of today
`night`         a night: a link, or a group with a title; `past` beside it before today
`target`        a target's row, likewise
`hit`           what may be pointed at of them, unseen
`dark` `dusk`   outline of the dark hours; the same, dashed, where twilight lasts all night
`moonless`      the moonless part of them
`planned`       the stem of the pin as high as the programme is long; `planned-head` its head
`sign`          a solid sign: announced, clear, club night, at risk
`sign-open`     one of strokes: part-clear, clouded out, could not go, at a site away
`moon-dark`     the Moon, or a part of her disc, unlit; `moon-lit` what is lit
`shown` `good`  weeks in which a target shows, and shows well
`visit` `seen`  a planned visit, and one made
`odds`          frame of the completion odds; `odds-share` what of it is filled
`horizon`       what stands round the site
`path` `spot`   the way from visit to visit; the disc with its number
`legend`        what the signs mean
=============== ======================================================================================
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from .nights import summaries_of
from .png import png_of
from .style import RED_STYLE, STYLE, standalone
from .themed import COLOURS, themed

if TYPE_CHECKING:
    from .strip import sky_strip
    from .targets import targets_picture
    from .year import year_picture

__all__ = [
    "COLOURS", "RED_STYLE", "STYLE", "png_of", "sky_strip", "standalone", "summaries_of", "targets_picture",
    "themed", "year_picture",
]  # fmt: skip

_DRAWN_BY = {"sky_strip": "strip", "targets_picture": "targets", "year_picture": "year"}


def __getattr__(name: str) -> Any:
    """Load what draws only when it is asked for: the library of SVG's elements takes a while to import."""
    if name not in _DRAWN_BY:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f".{_DRAWN_BY[name]}", __name__), name)
