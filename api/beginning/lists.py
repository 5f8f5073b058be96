"""Ready lists to begin with; every name is one the catalogue knows, every list is edited like any other."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

from .fields import LABELS


@dataclass(frozen=True, slots=True)
class ReadyList:
    """A wish-list to begin with: what it is called, what it holds, and its lines."""

    name: str
    about: str
    lines: tuple[str, ...]

    @property
    def text(self) -> str:
        """The list as it stands in the form."""
        return "\n".join(self.lines) + "\n"


_MOON = "Mare Crisium", "Theophilus", "Plato", "Copernicus", "Tycho", "Clavius"
_PLANETS = "Venus", "Mars", "Jupiter x3", "Saturn x2"
_BOTH = "M 42", "M 45", "M 41", "M 47", "M 11", "M 22", "M 8"
_NORTH = (
    "M 31", "M 13", "M 57", "M 27", "M 44", "M 81", "M 82", "M 51", "M 35", "M 37", "M 3", "M 15", "NGC 869",
    "NGC 457", "Albireo", "Mizar", "Almach", "Castor", "Cor Caroli", "Epsilon Lyr", "Eta Cas", "Gamma Del",
    "Iota Cnc", "Algol", "Perseids",
)  # fmt: skip
_SOUTH = (
    "NGC 5139", "NGC 104", "NGC 3372", "NGC 4755", "NGC 2070", "NGC 6397", "NGC 6752", "NGC 3532", "IC 2602",
    "NGC 2516", "NGC 5128", "NGC 253", "M 83", "M 104", "M 4", "M 6", "M 7", "Alpha Cen", "Acrux", "Gacrux",
    "Acamar", "h 3945", "Rigel", "Antares", "Geminids",
)  # fmt: skip

READY = MappingProxyType({
    "north": ReadyList("A first year, north", "42 showpieces for Europe, Asia, North America",
                       (*_PLANETS, *_MOON, *_BOTH, *_NORTH)),
    "south": ReadyList("A first year, south", "42 showpieces for Australia and the south",
                       (*_PLANETS, *_MOON, *_BOTH, *_SOUTH)),
    "messier": ReadyList("All of Messier", "the 110 clusters, nebulae and galaxies of his list",
                         tuple(f"M {number}" for number in range(1, 111))),
})  # fmt: skip
"""Our choice; common practice, no source."""

_SAMPLE = {
    "title": "A year under the Larkmoor sky (made up)", "site_name": "Larkmoor", "latitude": "55.2",
    "longitude": "-2.4", "zone": "Europe/London", "elevation": "240", "sky": "country", "aperture": "200",
    "focal_length": "1200", "telescope_type": "reflector", "eyepiece_1": "32",
    "eyepiece_1_field": "50", "eyepiece_2": "17", "eyepiece_2_field": "65", "eyepiece_3": "9",
    "eyepiece_3_field": "60", "barlow": "2", "binoculars_power": "10", "binoculars_aperture": "50",
    "binoculars_field": "6.5", "nights": "365", "weekdays_1": "Wed", "from_1": "19:00", "until_1": "23:30",
    "weekdays_2": "Fri, Sat", "from_2": "19:00", "until_2": "02:00", "nights_per_month": "6", "odds": "some",
    "wishes": READY["north"].text,
}  # fmt: skip
SAMPLE = MappingProxyType({name: _SAMPLE.get(name, "") for name in LABELS})
"""A form filled in for an invented observer on an invented moor."""
