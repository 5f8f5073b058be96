"""What a target is beyond its place: the figures that decide when and how it shows, one noun a kind."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import TypeAlias

from .checks import holds, named, within


@dataclass(frozen=True, slots=True)
class Extended:
    """A deep-sky object as the eye meets it.

    Attributes
    ----------
    what : What it is, as in "globular cluster".
    minor_arcmin : Smaller apparent diameter; None counts as round. [arcmin]
    hubble : A galaxy's type, as in "SBb"; None where unknown.
    stars : How many stars a cluster's light comes from; None where unknown.
    """

    what: str
    minor_arcmin: float | None = None
    hubble: str | None = None
    stars: int | None = None

    def __post_init__(self) -> None:
        named("what", self.what)
        if self.minor_arcmin is not None:
            within("minor_arcmin", self.minor_arcmin, 0.0, 3600.0)
        if self.stars is not None:
            within("stars", self.stars, 1, 10_000_000)


@dataclass(frozen=True, slots=True)
class Pair:
    """A double star: both magnitudes, how far apart and in which direction. [mag, arcsec, deg]"""

    bright_mag: float
    faint_mag: float
    separation_arcsec: float
    position_angle_deg: float | None = None

    def __post_init__(self) -> None:
        within("bright_mag", self.bright_mag, -2.0, 20.0)
        within("faint_mag", self.faint_mag, self.bright_mag - 0.5, 20.0)
        within("separation_arcsec", self.separation_arcsec, 0.1, 3600.0)
        if self.position_angle_deg is not None:
            within("position_angle_deg", self.position_angle_deg, 0.0, 360.0)


class Phase(StrEnum):
    """The moment of a variable star's cycle its elements count from."""

    MINIMUM = "minimum"
    MAXIMUM = "maximum"


@dataclass(frozen=True, slots=True)
class LightCurve:
    """A variable star: its range and, where it keeps time, the elements of its minima or maxima.

    Attributes
    ----------
    brightest_mag, faintest_mag : Range in visual light. [mag]
    epoch_hjd : Heliocentric Julian date of one minimum or maximum; None where it keeps no time. [d, UTC]
    period_d : From one to the next; None where it keeps no time. [d]
    phase : What the epoch is of.
    wide_h : How long around it the change is worth watching, half before and half after. [h]
    mean_maximum_mag : How bright it gets in the mean of its maxima; None where unknown, or alike. [mag]
    """

    brightest_mag: float
    faintest_mag: float
    epoch_hjd: float | None = None
    period_d: float | None = None
    phase: Phase = Phase.MINIMUM
    wide_h: float = 4.0
    mean_maximum_mag: float | None = None

    def __post_init__(self) -> None:
        within("brightest_mag", self.brightest_mag, -2.0, 20.0)
        within("faintest_mag", self.faintest_mag, self.brightest_mag, 25.0)
        within("wide_h", self.wide_h, 0.1, 24.0 * 400)
        if self.mean_maximum_mag is not None:
            within("mean_maximum_mag", self.mean_maximum_mag, self.brightest_mag, self.faintest_mag)
        holds("period_d", self.period_d, (self.epoch_hjd is None) == (self.period_d is None),
              "an epoch and a period, or neither")  # fmt: skip
        if self.period_d is not None and self.epoch_hjd is not None:
            within("period_d", self.period_d, 0.02, 20000.0)
            within("epoch_hjd", self.epoch_hjd, 2_400_000.0, 2_500_000.0)


@dataclass(frozen=True, slots=True)
class MoonFeature:
    """A crater, mountain or sea: selenographic place (east positive) and size. [deg, deg, km]"""

    longitude_deg: float
    latitude_deg: float
    size_km: float

    def __post_init__(self) -> None:
        within("longitude_deg", self.longitude_deg, -180.0, 180.0)
        within("latitude_deg", self.latitude_deg, -90.0, 90.0)
        within("size_km", self.size_km, 0.5, 4000.0)


@dataclass(frozen=True, slots=True)
class Orbit:
    """Osculating elements of a minor body, J2000 ecliptic, and the law of its brightness.

    Attributes
    ----------
    perihelion_jd : Time of perihelion. [TT Julian date]
    perihelion_au : Distance then. [au]
    eccentricity : 0 to just above 1.
    inclination_deg, node_deg, argument_deg : Of the orbit, the ascending node, the perihelion. [deg]
    absolute_mag : H of a minor planet, total magnitude at 1 au from Sun and Earth of a comet. [mag]
    slope : G of a minor planet, or n of a comet in `H + 5 lg delta + 2.5 n lg r`.
    comet : Which of the two laws holds.
    size_arcmin : Coma as last reported; None for a point. [arcmin]
    """

    perihelion_jd: float
    perihelion_au: float
    eccentricity: float
    inclination_deg: float
    node_deg: float
    argument_deg: float
    absolute_mag: float
    slope: float = 0.15
    comet: bool = False
    size_arcmin: float | None = None

    def __post_init__(self) -> None:
        within("perihelion_jd", self.perihelion_jd, 2_300_000.0, 2_600_000.0)
        within("perihelion_au", self.perihelion_au, 0.001, 100.0)
        within("eccentricity", self.eccentricity, 0.0, 5.0)
        within("inclination_deg", self.inclination_deg, 0.0, 180.0)
        within("node_deg", self.node_deg, 0.0, 360.0)
        within("argument_deg", self.argument_deg, 0.0, 360.0)
        within("absolute_mag", self.absolute_mag, -5.0, 35.0)
        within("slope", self.slope, -1.0, 30.0)
        if self.size_arcmin is not None:
            within("size_arcmin", self.size_arcmin, 0.0, 600.0)


@dataclass(frozen=True, slots=True)
class Shower:
    """A meteor shower; the target's place is its radiant at the peak.

    Attributes
    ----------
    peak_longitude_deg : Solar longitude of the peak, J2000. [deg]
    zenithal_rate : Meteors an hour at the peak, radiant overhead, stars to 6.5 mag seen. [1/h]
    population_index : How many times more meteors one magnitude deeper, 1.5 to 4.
    rise_per_deg, fall_per_deg : Decades of activity gained and lost a degree of solar longitude. [1/deg]
    """

    peak_longitude_deg: float
    zenithal_rate: float
    population_index: float = 2.5
    rise_per_deg: float = 0.2
    fall_per_deg: float = 0.2

    def __post_init__(self) -> None:
        within("peak_longitude_deg", self.peak_longitude_deg, 0.0, 360.0)
        within("zenithal_rate", self.zenithal_rate, 1.0, 20000.0)
        within("population_index", self.population_index, 1.5, 4.0)
        within("rise_per_deg", self.rise_per_deg, 0.001, 20.0)
        within("fall_per_deg", self.fall_per_deg, 0.001, 20.0)


@dataclass(frozen=True, slots=True)
class Occasion:
    """An event with a window of its own, which is never moved; both ends aware UTC."""

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        for moment in (self.start, self.end):
            holds("occasion", moment, moment.utcoffset() == timedelta(0), "an aware UTC time")
        lasts = self.end - self.start
        holds("end", self.end, timedelta(0) < lasts <= timedelta(hours=18), "an end at most 18 hours later")


Nature: TypeAlias = Extended | Pair | LightCurve | MoonFeature | Orbit | Shower | Occasion
