"""A night: what the sky does on it, and when the observer is free."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from .checks import holds, whole, within
from .site import PACKING_MIN, Trip


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of time from `start` to `end`, both aware UTC, never empty."""

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        for moment in (self.start, self.end):
            holds("span", moment, moment.utcoffset() == timedelta(0), "an aware UTC time")
        holds("span", self.end, self.start < self.end, f"an end after {self.start.isoformat()}")

    @property
    def minutes(self) -> float:
        """Length. [min]"""
        return (self.end - self.start) / timedelta(minutes=1)

    @property
    def middle(self) -> datetime:
        """The moment half-way."""
        return self.start + (self.end - self.start) / 2

    def meet(self, other: Span) -> Span | None:
        """Return the part both spans share, or None."""
        start, end = max(self.start, other.start), min(self.end, other.end)
        return Span(start, end) if start < end else None


class Darkness(StrEnum):
    """How dark a night gets: the state of the sky inside its dark window."""

    NIGHT = "night"
    DEEP_TWILIGHT = "deep astronomical twilight"
    ASTRONOMICAL = "astronomical twilight"
    NAUTICAL = "nautical twilight"
    DAYLIGHT = "no darkness"

    @property
    def sun_altitude_deg(self) -> float:
        """The Sun stays below this altitude inside the dark window. [deg]"""
        return {"night": -18.0, "deep astronomical twilight": -15.0, "astronomical twilight": -12.0,
                "nautical twilight": -6.0, "no darkness": 0.0}[self.value]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Night:
    """What the sky does from one local noon to the next, at one site.

    Attributes
    ----------
    evening : Local calendar date of the evening; the night's name.
    darkness : The darkest stage reached.
    dark : The dark window, in which the Sun is below the stage's altitude; None under the midnight sun.
    twilit : From the end of civil dusk to the start of civil dawn (Sun below -6 deg); None where it stays up.
    moon_lit_fraction : Lit part of the Moon's disc in the middle of the night. [0..1]
    moon_phase_angle_deg : Sun-Moon-Earth angle then; 0 at full Moon. [deg]
    moon_waxing : Whether the lit part is growing.
    moon_up : When the Moon's upper limb is above the ideal horizon, noon to noon; up to two spans.
    moonless_min : Minutes of the dark window with the Moon down. [min]
    """

    evening: date
    darkness: Darkness
    dark: Span | None
    twilit: Span | None
    moon_lit_fraction: float
    moon_phase_angle_deg: float
    moon_waxing: bool
    moon_up: tuple[Span, ...]
    moonless_min: float

    def __post_init__(self) -> None:
        holds("dark", self.dark, (self.dark is None) == (self.darkness is Darkness.DAYLIGHT),
              "a dark window exactly when the night gets dark")  # fmt: skip
        within("moon_lit_fraction", self.moon_lit_fraction, 0.0, 1.0)
        within("moonless_min", self.moonless_min, 0.0, 1440.0 + 120.0)


@dataclass(frozen=True, slots=True)
class FreeNight:
    """A night on which the observer can be out, at home or away.

    Attributes
    ----------
    night : What the sky does there.
    free : From arrival to the last look; on a trip, packing and both drives lie outside it.
    clear_odds : Probability that the night is usable. [0..1]
    guests : How many guests come along; they see bright showpieces only.
    trip : Where it is spent and what it takes to go there; None at home.
    observers : Names of those who come along; none named are all.
    club : Whether it is a night all share, gone out on whatever the wish-list lacks.
    """

    night: Night
    free: Span
    clear_odds: float
    guests: int = 0
    trip: Trip | None = None
    observers: tuple[str, ...] = ()
    club: bool = False

    def __post_init__(self) -> None:
        whole("guests", self.guests, 0, 500)
        within("clear_odds", self.clear_odds, 0.0, 1.0)

    @property
    def evening(self) -> date:
        """The night's name: the local date of its evening."""
        return self.night.evening

    @property
    def away(self) -> str | None:
        """Name of the site away from home; None at home."""
        return self.trip.site.name if self.trip else None

    @property
    def dark(self) -> Span | None:
        """The dark window met with the free time."""
        return self.night.dark.meet(self.free) if self.night.dark else None

    @property
    def moonless_min(self) -> float:
        """Free dark minutes with the Moon down. [min]"""
        if self.dark is None:
            return 0.0
        moonlit = [self.dark.meet(up) for up in self.night.moon_up]
        return max(0.0, self.dark.minutes - sum(span.minutes for span in moonlit if span))

    def has(self, observer: str | None) -> bool:
        """Tell whether an observer comes along; nobody in particular always does."""
        return observer is None or not self.observers or observer in self.observers

    @property
    def door_to_door(self) -> Span:
        """Of a trip, from leaving home to being back at the latest; at home the free time itself."""
        if self.trip is None:
            return self.free
        drive, packing = timedelta(minutes=self.trip.travel_min), timedelta(minutes=PACKING_MIN)
        return Span(self.free.start - drive, self.free.end + packing + drive)

    @property
    def ever_clear(self) -> bool:
        """Whether the night is clear once in a thousand years at least; if not, nothing is planned on it."""
        return self.clear_odds >= 0.001
