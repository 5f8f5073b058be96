"""Where the observer stands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from .checks import holds, named, whole, within


@dataclass(frozen=True)
class Horizon:
    """The lowest clear altitude all round, straight between its points and closed through north.

    Two points of one azimuth make a vertical wall.

    Attributes
    ----------
    azimuth_deg : Azimuths of the points, north through east, never falling. [deg, 0..360]
    altitude_deg : Lowest clear altitude at each point. [deg, 0..89]
    """

    azimuth_deg: tuple[float, ...]
    altitude_deg: tuple[float, ...]

    def __post_init__(self) -> None:
        pairs = len(self.azimuth_deg)
        holds("horizon", pairs, pairs == len(self.altitude_deg) and 1 <= pairs <= 400,
              "as many altitudes as azimuths, 1 to 400 of each")  # fmt: skip
        for azimuth_deg in self.azimuth_deg:
            within("horizon azimuth", azimuth_deg, 0.0, 360.0)
        for altitude_deg in self.altitude_deg:
            within("horizon altitude", altitude_deg, 0.0, 89.0)
        holds("horizon azimuth", self.azimuth_deg, tuple(sorted(self.azimuth_deg)) == self.azimuth_deg,
              "azimuths in rising order")  # fmt: skip


@dataclass(frozen=True)
class Site:
    """A place to observe from.

    Attributes
    ----------
    name : What the observer calls it.
    latitude_deg : Geodetic latitude, north positive. [deg, -90..90]
    longitude_deg : Longitude, east positive. [deg, -180..180]
    elevation_m : Height above sea level. [m]
    zone : Time zone by its IANA name, as in "Europe/London".
    sky_brightness : Zenith sky on a moonless night. [mag/arcsec2]
    extinction_mag : Loss at the zenith in visual light. [mag/airmass]
    horizon : Obstructions around the site; None where nothing stands in the way.
    seeing_arcsec : Blur of a star overhead on a usual night, full width at half maximum. [arcsec]
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    zone: str
    sky_brightness: float
    extinction_mag: float
    horizon: Horizon | None = None
    seeing_arcsec: float = 2.5

    def __post_init__(self) -> None:
        named("site name", self.name)
        within("latitude_deg", self.latitude_deg, -90.0, 90.0)
        within("longitude_deg", self.longitude_deg, -180.0, 180.0)
        within("elevation_m", self.elevation_m, -430.0, 6500.0)
        within("sky_brightness", self.sky_brightness, 15.0, 22.2)
        within("extinction_mag", self.extinction_mag, 0.05, 1.0)
        within("seeing_arcsec", self.seeing_arcsec, 0.3, 10.0)
        holds("zone", self.zone, _is_zone(self.zone), 'an IANA zone name such as "Europe/London"')

    @cached_property
    def local(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.zone)


PACKING_MIN = 15
"""From the last look to the start of the way home (common practice, no source). [min]"""


@dataclass(frozen=True)
class Trip:
    """A site away from home, and what it takes to go there.

    Attributes
    ----------
    site : In the time zone of home, whose clock tells all times.
    travel_min : One way, door to door. [min]
    trip_cost : What a night there must bring beyond a night out, in priority times merit. [0..50]
    """

    site: Site
    travel_min: int
    trip_cost: float

    def __post_init__(self) -> None:
        whole("travel_min", self.travel_min, 1, 300)
        within("trip_cost", self.trip_cost, 0.0, 50.0)


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True
