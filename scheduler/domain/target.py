"""What the observer wants to see."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from .checks import holds, named, whole, within

SUN_DISTANCE_DEG = 12.0
"""No planet is planned nearer the Sun, whatever the settings (common practice, no source). [deg]"""


class Kind(StrEnum):
    """What decides when a target can be seen."""

    DEEP_SKY = "deep-sky object"
    DOUBLE_STAR = "double star"
    PLANET = "planet"


@dataclass(frozen=True, slots=True)
class Target:
    """One entry of the wish-list.

    Attributes
    ----------
    name : The name the plan uses, unique in its wish-list.
    kind : What decides when it can be seen.
    ra_deg, dec_deg : ICRS place of a fixed target; None for a moving one. [deg]
    body : Lower-case name of a moving target, as in "jupiter"; None for a fixed one.
    constellation : IAU name in full of a fixed target's constellation; None where it moves or is unknown.
    magnitude : Integrated visual magnitude; None where unknown. [mag]
    size_arcmin : Larger apparent diameter; None where unknown. [arcmin]
    also_known_as : A common name, for the page and the sheet.
    minutes : Length of one visit. [min]
    priority : The observer's weight, 1 (would be nice) to 5 (the reason for the year).
    visits : How many visits are wanted.
    spacing_days : Fewest days between two visits. [d]
    earliest, latest : First and last evening on which a visit is wanted.
    lowest_altitude_deg : Lowest altitude at which it is worth looking. [deg]
    """

    name: str
    kind: Kind
    ra_deg: float | None = None
    dec_deg: float | None = None
    body: str | None = None
    constellation: str | None = None
    magnitude: float | None = None
    size_arcmin: float | None = None
    also_known_as: str | None = None
    minutes: int = 20
    priority: int = 3
    visits: int = 1
    spacing_days: int = 7
    earliest: date | None = None
    latest: date | None = None
    lowest_altitude_deg: float = 20.0

    def __post_init__(self) -> None:
        named("target name", self.name)
        whole("minutes", self.minutes, 2, 600)
        whole("priority", self.priority, 1, 5)
        whole("visits", self.visits, 1, 40)
        whole("spacing_days", self.spacing_days, 1, 366)
        within("lowest_altitude_deg", self.lowest_altitude_deg, 0.0, 85.0)
        self._has_one_place()
        if self.earliest and self.latest:
            holds("latest", self.latest, self.earliest <= self.latest, f"a date not before {self.earliest}")
        if self.magnitude is not None:
            within("magnitude", self.magnitude, -30.0, 30.0)
        if self.size_arcmin is not None:
            within("size_arcmin", self.size_arcmin, 0.0, 3600.0)

    def _has_one_place(self) -> None:
        if self.body is not None:
            holds("body", self.body, self.kind is Kind.PLANET, "a fixed place: only planets move")
            holds("ra_deg", self.ra_deg, self.ra_deg is None and self.dec_deg is None, "no place of its own")
            return
        holds("body", self.body, self.kind is not Kind.PLANET, "the planet's name")
        within("ra_deg", float("nan") if self.ra_deg is None else self.ra_deg, 0.0, 360.0)
        within("dec_deg", float("nan") if self.dec_deg is None else self.dec_deg, -90.0, 90.0)
