"""Resolve a designation or name to what is known about it: `look_up("M 31")`.

Knows the whole New General Catalogue and both Index Catalogues with their cross-identifications, the Messier
and Caldwell lists, common names, a table of showpiece clusters, nebulae and double stars outside those
catalogues, and the seven planets; features of the Moon, variable stars, meteor showers, bright minor planets
and the lunar eclipse; and the bright stars to start from. Everything is offline and read once a process.

The NGC and IC data are OpenNGC by Mattia Verga, shipped in the package `pyongc`, under CC-BY-SA 4.0; what we
repair in them is told in `repair`. See `ATTRIBUTION` and ATTRIBUTION.md beside this file.
"""

from .entry import Entry
from .index import look_up, near_names
from .stars import BrightStars, bright_stars

ATTRIBUTION = (
    "NGC/IC data: OpenNGC by Mattia Verga, CC-BY-SA 4.0, github.com/mattiaverga/OpenNGC, magnitudes mended. "
    "Globular clusters: W. E. Harris, Astronomical Journal 112 (1996), 1487, 2010 edition. "
    "Star names: International Astronomical Union, CC-BY."
)

__all__ = ["ATTRIBUTION", "BrightStars", "Entry", "bright_stars", "look_up", "near_names"]
