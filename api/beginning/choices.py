"""What may be chosen in plain words, and the figure behind each choice."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several answers in plain words, and the figure it stands for."""

    words: str
    figure: float


SKIES = MappingProxyType({
    "centre": Choice("City centre: a few dozen stars, never the Milky Way", 17.5),
    "suburb": Choice("Suburb: a few hundred stars, the Milky Way hardly ever", 19.0),
    "village": Choice("Village, edge of a town: the Milky Way overhead", 20.4),
    "country": Choice("Country: the Milky Way with bright and dark parts", 21.2),
    "dark": Choice("Dark country: the Milky Way down to the horizon", 21.7),
})  # fmt: skip
"""Zenith sky on a moonless night [mag/arcsec2]; common practice, no source."""

ODDS = MappingProxyType({
    "half": Choice("I do not know: say every second one", 0.5),
    "rare": Choice("One in five: mostly clouded", 0.2),
    "some": Choice("One in three", 0.33),
    "often": Choice("Two in three", 0.67),
    "most": Choice("Four in five: a dry country", 0.8),
})  # fmt: skip
"""How often an evening is clear. [0..1]"""

TELESCOPES = MappingProxyType({
    "reflector": Choice("Reflector: a large mirror at the bottom of the tube", 0.25),
    "refractor": Choice("Refractor: a lens at the front", 0.0),
    "Cassegrain": Choice("Cassegrain: a short tube, looked into from behind", 0.34),
})  # fmt: skip
"""Part of the aperture's diameter that the secondary mirror hides; common practice, no source. [0..1]"""
