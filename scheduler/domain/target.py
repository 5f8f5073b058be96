"""What the observer wants to see."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from .checks import holds, named, whole, within
from .nature import Extended, LightCurve, MoonFeature, Nature, Occasion, Orbit, Pair, Shower

SUN_DISTANCE_DEG = 12.0
"""Nothing that moves among the stars is planned nearer the Sun, whatever the settings (common practice,
no source). [deg]"""

LONGEST_VISIT_MIN = 600

MOON, JUPITER = "moon", "jupiter"
"""Bodies of moon features and lunar eclipses, and of shadow transits."""


class Kind(StrEnum):
    """What decides when a target can be seen; a shadow crossing Jupiter's disc is an eclipse there."""

    DEEP_SKY = "deep-sky object"
    DOUBLE_STAR = "double star"
    VARIABLE_STAR = "variable star"
    PLANET = "planet"
    MOON_FEATURE = "moon feature"
    MINOR_BODY = "minor body"
    METEOR_SHOWER = "meteor shower"
    ECLIPSE = "eclipse"
    EVENT = "event"

    @property
    def faint(self) -> bool:
        """Whether it waits for the dark window and for adapted eyes."""
        return self in (Kind.DEEP_SKY, Kind.MINOR_BODY, Kind.METEOR_SHOWER)

    @property
    def with_article(self) -> str:
        """As in "a planet", "an eclipse"."""
        return f"{'an' if self in (Kind.ECLIPSE, Kind.EVENT) else 'a'} {self.value}"


NATURES: dict[Kind, tuple[type[Nature], ...]] = {
    Kind.DEEP_SKY: (Extended,), Kind.DOUBLE_STAR: (Pair,), Kind.VARIABLE_STAR: (LightCurve,),
    Kind.PLANET: (), Kind.MOON_FEATURE: (MoonFeature,), Kind.MINOR_BODY: (Orbit,),
    Kind.METEOR_SHOWER: (Shower,), Kind.ECLIPSE: (), Kind.EVENT: (Occasion,),
}  # fmt: skip
"""The nature each kind may have."""

NEEDS_NATURE = (Kind.MOON_FEATURE, Kind.MINOR_BODY, Kind.METEOR_SHOWER, Kind.EVENT)
"""Kinds that cannot be planned without it; the others have cautious defaults."""

NAKED_EYE, BINOCULARS, TELESCOPE = "naked eye", "binoculars", "telescope"
"""What a target may ask to be seen with, beside an instrument's own name."""


def full_name(name: str, also_known_as: str | None) -> str:
    """Return both names of a target, or the one that holds the other.

    >>> full_name("M 31", "Andromeda Galaxy"), full_name("Vesta", "4 Vesta"), full_name("M 24", None)
    ('M 31, Andromeda Galaxy', '4 Vesta', 'M 24')
    """
    if not also_known_as or also_known_as in name:
        return name
    return also_known_as if name in also_known_as else f"{name}, {also_known_as}"


@dataclass(frozen=True, slots=True)
class Target:
    """One entry of the wish-list.

    Attributes
    ----------
    name : The name the plan uses, unique in its wish-list.
    kind : What decides when it can be seen.
    ra_deg, dec_deg : ICRS place of a fixed target; None for a moving one. [deg]
    body : Lower-case name of what moves, as in "jupiter" or "moon"; None for what is fixed or has an orbit.
    constellation : IAU name in full of a fixed target's constellation; None where it moves or is unknown.
    magnitude : Integrated visual magnitude; None where unknown. [mag]
    size_arcmin : Larger apparent diameter; None where unknown. [arcmin]
    also_known_as : A common name, for the page and the sheet.
    nature : What it is beyond its place; None where unknown or not needed.
    minutes : Length of one visit. [min]
    priority : The observer's weight, 1 (would be nice) to 5 (the reason for the year).
    visits : How many visits are wanted.
    spacing_days : Fewest days between two visits. [d]
    longest_spacing_days : Most days between a visit and the next; None for no limit. [d]
    earliest, latest : First and last evening on which a visit is wanted.
    lowest_altitude_deg : Lowest altitude at which it is worth looking. [deg]
    instrument : What it is to be seen with: "naked eye", "binoculars", "telescope" or an instrument's name;
        None for whatever shows it best.
    observer : Who wants to see it: only evenings on which they come along count; None for whoever is there.
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
    nature: Nature | None = None
    minutes: int = 20
    priority: int = 3
    visits: int = 1
    spacing_days: int = 7
    longest_spacing_days: int | None = None
    earliest: date | None = None
    latest: date | None = None
    lowest_altitude_deg: float = 20.0
    instrument: str | None = None
    observer: str | None = None

    def __post_init__(self) -> None:
        named("target name", self.name)
        whole("minutes", self.minutes, 2, LONGEST_VISIT_MIN)
        whole("priority", self.priority, 1, 5)
        whole("visits", self.visits, 1, 40)
        whole("spacing_days", self.spacing_days, 1, 366)
        within("lowest_altitude_deg", self.lowest_altitude_deg, 0.0, 85.0)
        self._has_its_nature()
        self._has_one_place()
        if self.longest_spacing_days is not None:
            whole("longest_spacing_days", self.longest_spacing_days, self.spacing_days, 400)
        if self.instrument is not None:
            named("instrument", self.instrument)
        if self.observer is not None:
            named("observer", self.observer)
        if self.earliest and self.latest:
            holds("latest", self.latest, self.earliest <= self.latest, f"a date not before {self.earliest}")
        if self.magnitude is not None:
            within("magnitude", self.magnitude, -30.0, 30.0)
        if self.size_arcmin is not None:
            within("size_arcmin", self.size_arcmin, 0.0, 3600.0)

    @property
    def moves(self) -> bool:
        """Whether it moves among the stars."""
        return self.body is not None or isinstance(self.nature, Orbit)

    @property
    def on_a_planet(self) -> bool:
        """Whether it is looked at as a planet is: one itself, or the shadow of a moon on Jupiter."""
        return self.kind is Kind.PLANET or (self.kind is Kind.ECLIPSE and self.body == JUPITER)

    def _has_its_nature(self) -> None:
        allowed = NATURES[self.kind]
        if self.nature is None:
            holds("nature", "nothing", self.kind not in NEEDS_NATURE, f"what {self.kind.with_article} needs")
            return
        holds("nature", type(self.nature).__name__, isinstance(self.nature, allowed),
              f"the nature of {self.kind.with_article}")  # fmt: skip

    def _has_one_place(self) -> None:
        may_move = self.kind in (Kind.PLANET, Kind.MOON_FEATURE, Kind.ECLIPSE, Kind.EVENT)
        if self.body is not None:
            holds("body", self.body, may_move, "a fixed place: only planets and the Moon move")
            bodies = {Kind.MOON_FEATURE: (MOON,), Kind.ECLIPSE: (MOON, JUPITER)}.get(self.kind)
            fits = self.body in bodies if bodies else self.body != MOON or self.kind is Kind.EVENT
            holds("body", self.body, fits, f"the body of {self.kind.with_article}")
        holds("body", self.body, self.body is not None or not may_move or self.kind is Kind.EVENT,
              "the planet's name, or the Moon")  # fmt: skip
        if self.moves:
            holds("ra_deg", self.ra_deg, self.ra_deg is None and self.dec_deg is None, "no place of its own")
            return
        within("ra_deg", float("nan") if self.ra_deg is None else self.ra_deg, 0.0, 360.0)
        within("dec_deg", float("nan") if self.dec_deg is None else self.dec_deg, -90.0, 90.0)
