"""A year's plan: what is seen on which night, what may be, and what cannot be."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from .change import Change
from .checks import holds, whole, within
from .kit import Kit, Observer
from .look import Pointing, View
from .night import Darkness, FreeNight, Night, Span
from .odds import Odds
from .outcome import Outcome, Sighting, sightings_in
from .scenario import Availability, Club, Guests, Routine, Season
from .showing import Showing
from .site import Site, Trip
from .target import Target

POINTS = (
    "north", "north-north-east", "north-east", "east-north-east",
    "east", "east-south-east", "south-east", "south-south-east",
    "south", "south-south-west", "south-west", "west-south-west",
    "west", "west-north-west", "north-west", "north-north-west",
)  # fmt: skip
"""The sixteen points of the compass, from north through east."""


def direction_of(azimuth_deg: float) -> str:
    """Return an azimuth in words, to the nearest of sixteen points.

    >>> direction_of(160.0), direction_of(355.0)
    ('south-south-east', 'north')
    """
    return POINTS[round(azimuth_deg / 22.5) % 16]


@dataclass(frozen=True, slots=True)
class Sight:
    """How a target stands in the sky at one moment.

    Attributes
    ----------
    ra_deg, dec_deg : ICRS place. [deg]
    constellation : IAU name in full, as in "Ursa Major".
    altitude_deg, azimuth_deg : Refracted altitude; azimuth north through east. [deg]
    moon_lit_fraction : Lit part of the Moon's disc. [0..1]
    moon_altitude_deg : Altitude of the Moon's centre; negative when down. [deg]
    moon_separation_deg : From the Moon; 0 of what is on it. [deg]
    sun_altitude_deg : Altitude of the Sun's centre. [deg]
    merit : How well the target shows. [0..1]
    """

    ra_deg: float
    dec_deg: float
    constellation: str
    altitude_deg: float
    azimuth_deg: float
    moon_lit_fraction: float
    moon_altitude_deg: float
    moon_separation_deg: float
    sun_altitude_deg: float
    sun_separation_deg: float
    merit: float

    def __post_init__(self) -> None:
        within("ra_deg", self.ra_deg, 0.0, 360.0)
        within("azimuth_deg", self.azimuth_deg, 0.0, 360.0)
        for figure in ("dec_deg", "altitude_deg", "moon_altitude_deg", "sun_altitude_deg"):
            within(figure, getattr(self, figure), -90.0, 90.0)
        for figure in ("moon_separation_deg", "sun_separation_deg"):
            within(figure, getattr(self, figure), 0.0, 180.0)
        within("moon_lit_fraction", self.moon_lit_fraction, 0.0, 1.0)
        within("merit", self.merit, 0.0, 1.0)

    @property
    def direction(self) -> str:
        """The azimuth in words, to the nearest of sixteen points: "south-south-east"."""
        return direction_of(self.azimuth_deg)

    @property
    def darkness(self) -> Darkness:
        """How dark the sky is at this moment, by the altitude of the Sun."""
        return next((d for d in Darkness if self.sun_altitude_deg <= d.sun_altitude_deg), Darkness.DAYLIGHT)


@dataclass(frozen=True, slots=True)
class Visit:
    """A target placed on a night.

    Attributes
    ----------
    order : Its place in the night's programme, from 1.
    time : From when to when.
    sight : How it stands half-way through.
    why : Why then.
    view, pointing : What to look through, and where to point, half-way through.
    """

    target: str
    evening: date
    order: int
    time: Span
    sight: Sight
    why: str
    view: View
    pointing: Pointing

    def __post_init__(self) -> None:
        whole("order", self.order, 1, 999)


@dataclass(frozen=True, slots=True)
class Standby:
    """A target worth doing on a night if time is left or a visit fails; best first by `order`."""

    target: str
    evening: date
    order: int
    window: Span
    best: datetime
    sight: Sight
    why: str
    view: View
    pointing: Pointing


class Reason(StrEnum):
    """Why a target has no visit: the rule that binds."""

    NEVER_HIGH = "never high enough from here"
    NOT_IN_SEASON = "not high in darkness during the season"
    NOT_WHEN_FREE = "not up in darkness while you are free"
    TOO_SHORT = "never up long enough for a visit"
    OUTSIDE_DATES = "not up between the dates asked for"
    NEAR_SUN = "too near the Sun all season"
    NOT_SHOWN = "too low or in too bright a sky"
    EVENING_SHORT = "your evenings are too short for it"
    NIGHTS_LIMIT = "no more nights out allowed"
    NEVER_CLEAR = "never clear when it is up"
    TOO_FEW_NIGHTS = "too few suitable free nights"
    NOT_ALONE = "alone not worth a night out"
    NO_INSTRUMENT = "beyond your instruments"
    WRONG_TIME = "its moment never comes while you are free"
    NIGHTS_FULL = "every suitable night is full"
    SPACING = "visits too close together"


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A target with fewer visits than wanted: how many are `missing`, the binding reason, and words."""

    target: str
    missing: int
    reason: Reason
    words: str


@dataclass(frozen=True)
class Plan:
    """A year's plan and how good it is proven to be.

    Attributes
    ----------
    scenario : Name of the scenario it answers.
    version : Counts the plans of one scenario from 1.
    seed : The solver's seed; the same input and seed give the same plan.
    objective : Worth of the plan: expected merit times priority, second chances included, less the cost of
        the nights out.
    bound : No plan under the same rules is worth more than this.
    nights : The free nights, one an evening: where the evening has a programme away, there; else at home.
    diary : Every night of the season at home, free or not: its Moon and its darkness.
    trips : The sites away that there were to choose from.
    club : The nights all observers share.
    showing : On how many free nights of each week each target shows, in the order of the wish-list; none in
        plans made before this was told.
    odds : What weather years lived through by the plan's policy brought; None where none were.
    log : What the log told of past nights, as far as the plan depends on it: one outcome an evening.
    announced : Evenings whose programme had been told to others when the plan was made anew, and so stands.
    changes : What is different from the plan before, each with its reason; a first plan has none.
    notes : What else whoever reads the plan should be told.
    """

    scenario: str
    version: int
    seed: int
    site: Site
    season: Season
    availability: Availability
    routine: Routine
    targets: tuple[Target, ...]
    nights: tuple[FreeNight, ...]
    visits: tuple[Visit, ...]
    standbys: tuple[Standby, ...]
    unplaced: tuple[Unplaced, ...]
    objective: float
    bound: float
    kit: Kit
    observers: tuple[Observer, ...]
    guests: Guests
    diary: tuple[Night, ...]
    odds: Odds | None = None
    log: tuple[Outcome, ...] = ()
    announced: tuple[date, ...] = ()
    changes: tuple[Change, ...] = ()
    notes: tuple[str, ...] = ()
    trips: tuple[Trip, ...] = ()
    club: Club = field(default_factory=Club)
    showing: tuple[Showing, ...] = ()

    def __post_init__(self) -> None:
        whole("version", self.version, 1, 10**9)
        holds("bound", self.bound, self.objective <= self.bound + 1e-6 * max(1.0, abs(self.bound)),
              f"a bound not below the objective {self.objective}")  # fmt: skip

    def site_of(self, evening: date) -> Site:
        """Return where an evening is spent, if it is; home where it is not free."""
        trip = next((night.trip for night in self.nights if night.evening == evening), None)
        return trip.site if trip else self.site

    def coming_on(self, night: FreeNight) -> tuple[str, ...]:
        """Return the names of those who come along on a free night."""
        return night.observers or tuple(observer.name for observer in self.observers)

    @property
    def seen(self) -> tuple[Sighting, ...]:
        """What was seen by the time the plan was made, by date."""
        return sightings_in(self.log)

    @property
    def gap(self) -> float:
        """The proven distance to the best plan, as a fraction of the bound. [0..1]"""
        return max(0.0, self.bound - self.objective) / self.bound if self.bound > 0 else 0.0
