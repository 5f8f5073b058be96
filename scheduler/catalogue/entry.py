"""What a catalogue knows about one object."""

from __future__ import annotations

from dataclasses import dataclass

from ..domain import Kind, Nature


@dataclass(frozen=True, slots=True)
class Entry:
    """One object under the name it was asked for.

    Attributes
    ----------
    name : The designation asked for, in tidy spelling: "M 31" for "m31" or "Messier 31".
    identity : The same text for every name of the object: "NGC 224".
    kind : What decides when it can be seen.
    what : What it is, as in "globular cluster".
    ra_deg, dec_deg : ICRS place; None for a planet. [deg]
    body : Lower-case name of a planet; None for a fixed object.
    constellation : IAU name in full; None for a planet.
    magnitude : Integrated visual magnitude; None where unknown. [mag]
    size_arcmin : Larger diameter, for a double star the separation; None where unknown. [arcmin]
    also_known_as : Another name worth printing; None where there is none.
    nature : What it is beyond its place: sizes and type, a pair's figures, elements; None where unknown.
    """

    name: str
    identity: str
    kind: Kind
    what: str
    ra_deg: float | None = None
    dec_deg: float | None = None
    body: str | None = None
    constellation: str | None = None
    magnitude: float | None = None
    size_arcmin: float | None = None
    also_known_as: str | None = None
    nature: Nature | None = None
