"""The Moon's face: which side it shows, and how high the Sun stands over its craters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .ephemeris import DAY_S, SPEED_OF_LIGHT_KM_S, Floats, ephemeris, times_of
from .heavens import aberrated
from .season import SeasonSky
from .track import Track

_STEP_S = 21600.0
_J2000_JD = 2451545.0

_LIBRATION = np.array([
    [125.045, -1935.5364525, -3.8787, 1.5419, 3.5610],
    [250.089, -3871.072905, -0.1204, 0.0239, 0.1208],
    [260.008, 475263.3328725, 0.0700, -0.0278, -0.0642],
    [176.625, 487269.629985, -0.0172, 0.0068, 0.0158],
    [357.529, 35999.0509575, 0.0, 0.0, 0.0252],
    [311.589, 964468.49931, 0.0072, -0.0029, -0.0066],
    [134.963, 477198.869325, 0.0, 0.0009, -0.0047],
    [276.617, 12006.300765, 0.0, 0.0, -0.0046],
    [34.226, 63863.5132425, 0.0, 0.0, 0.0028],
    [15.134, -5806.6093575, -0.0052, 0.0008, 0.0052],
    [119.743, 131.84064, 0.0, 0.0, 0.0040],
    [239.961, 6003.1503825, 0.0, 0.0, 0.0019],
    [25.053, 473327.79642, 0.0043, -0.0009, -0.0044],
])  # fmt: skip
"""E1 to E13 [deg], their rates [deg/century]; what they do to the pole's ra, dec and the meridian. [deg]"""


@dataclass(frozen=True, eq=False)
class MoonFace:
    """The Sun's and the Earth's direction from the Moon at any moment of a span.

    Attributes
    ----------
    directions : Unit vectors to the Sun and to the Earth: x to the middle of the mean near side, y to the
        east limb (Mare Crisium's), z to the north pole; every six hours.

    Notes
    -----
    East is positive, the sense of the maps (Mare Crisium lies east). Seen from the Earth's centre and the
    Moon's: an observer at the limb of the Earth sees the Moon turned by up to a degree, and a feature's own
    Sun differs by less than 0.001. Orientation to 0.01 degrees, interpolation 0.00002. The axes are those of
    the maps; Meeus's ch. 53 counts latitude from the axis of inertia, which lies 0.022 degrees from theirs.
    """

    directions: Track

    def sun_altitude_deg(
        self, longitude_deg: ArrayLike, latitude_deg: ArrayLike, unix_s: ArrayLike
    ) -> Floats:
        """Return the altitude of the Sun's centre over a level horizon at places on the Moon. [deg]

        Parameters
        ----------
        longitude_deg, latitude_deg : float or array
            Selenographic place, east and north positive. [deg]
        unix_s : float or array
            When; the shapes of all three broadcast, as in (features, 1) with (times,). [s]
        """
        return _altitude_deg(longitude_deg, latitude_deg, self._at(unix_s)[:3])

    def earth_altitude_deg(
        self, longitude_deg: ArrayLike, latitude_deg: ArrayLike, unix_s: ArrayLike
    ) -> Floats:
        """Return the altitude of the Earth's centre over places on the Moon. [deg]

        Below 0 the feature has turned away; near 0 it lies at the limb, foreshortened. Parameters as in
        `sun_altitude_deg`.
        """
        return _altitude_deg(longitude_deg, latitude_deg, self._at(unix_s)[3:])

    def subsolar_deg(self, unix_s: ArrayLike) -> tuple[Floats, Floats]:
        """Return the longitude (-180..180) and latitude of the place with the Sun overhead. [deg]"""
        return _place_deg(self._at(unix_s)[:3])

    def libration_deg(self, unix_s: ArrayLike) -> tuple[Floats, Floats]:
        """Return the longitude (-8..8) and latitude (-7..7) of the place with the Earth overhead. [deg]

        This is the libration, optical and physical together.
        """
        return _place_deg(self._at(unix_s)[3:])

    def colongitude_deg(self, unix_s: ArrayLike) -> Floats:
        """Return the Sun's selenographic colongitude, 0..360: west longitude of the sunrise line. [deg]

        It is 270 at new Moon, 0 at first quarter, 90 at full Moon, 180 at last quarter, within some degrees.
        """
        return np.asarray((90.0 - self.subsolar_deg(unix_s)[0]) % 360.0)

    def _at(self, unix_s: ArrayLike) -> Floats:
        sun_and_earth = self.directions.at(np.asarray(unix_s, np.float64))
        for direction in (sun_and_earth[:3], sun_and_earth[3:]):
            direction /= np.sqrt((direction**2).sum(axis=0))
        return sun_and_earth


def moonface_of(sky: SeasonSky) -> MoonFace:
    """Return the Moon's face through a season."""
    return moonface_between(sky.heavens.start_unix_s, sky.heavens.end_unix_s)


def moonface_between(start_unix_s: float, end_unix_s: float) -> MoonFace:
    """Return the Moon's face from one moment to another, with a day's margin.

    Notes
    -----
    The Sun is where it is seen from the Moon, aberration included, as almanacs have it.
    """
    first = start_unix_s - DAY_S
    count = int((end_unix_s - first + DAY_S) / _STEP_S) + 2
    times = times_of(first + _STEP_S * np.arange(count))
    kernel = ephemeris()
    moon = kernel["moon"].at(times)
    velocity_c = np.asarray(moon.velocity.km_per_s) / SPEED_OF_LIGHT_KM_S
    to_sun = aberrated(np.asarray(moon.observe(kernel["sun"]).xyz.km), velocity_c)
    to_earth = np.asarray((kernel["earth"].at(times) - moon).xyz.km)
    orientation = moon_orientation(np.asarray(times.tdb))
    turned = [
        np.einsum("ijt,jt->it", orientation, v / np.sqrt((v**2).sum(axis=0))) for v in (to_sun, to_earth)
    ]
    return MoonFace(Track(first, _STEP_S, np.concatenate(turned)))


def moon_orientation(tdb_jd: Floats) -> Floats:
    """Return matrices from ICRS to the Moon's mean-Earth axes, (3, 3, times).

    Parameters
    ----------
    tdb_jd : array (times,)
        When; made for the decades around 2000. [TDB Julian date]

    Notes
    -----
    The series keeps within some 150 m (0.005 degrees) of the numerically integrated orientation, as its
    authors state.

    References
    ----------
    B. A. Archinal et al., Report of the IAU Working Group on Cartographic Coordinates and Rotational
    Elements: 2015, Celestial Mechanics and Dynamical Astronomy 130 (2018) 22, Table 2; the figures as in
    NAIF's planetary constants kernel pck00011.
    """
    days = np.asarray(tdb_jd, np.float64) - _J2000_JD
    centuries = days / 36525.0
    angle, rate, to_ra, to_dec, to_meridian = _LIBRATION.T
    argument = np.radians(angle[:, None] + rate[:, None] * centuries)
    ra = np.radians(269.9949 + 0.0031 * centuries + to_ra @ np.sin(argument))
    dec = np.radians(66.5392 + 0.0130 * centuries + to_dec @ np.cos(argument))
    turned = 38.3213 + 13.17635815 * days - 1.4e-12 * days**2
    meridian = np.radians(turned + to_meridian @ np.sin(argument))
    pole = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    node = np.stack([-np.sin(ra), np.cos(ra), np.zeros_like(ra)])
    ahead = np.cross(pole, node, axis=0)
    x = np.cos(meridian) * node + np.sin(meridian) * ahead
    y = np.cos(meridian) * ahead - np.sin(meridian) * node
    return np.stack([x, y, pole])


def _altitude_deg(longitude_deg: ArrayLike, latitude_deg: ArrayLike, direction: Floats) -> Floats:
    east, north = (np.radians(np.asarray(a, np.float64)) for a in (longitude_deg, latitude_deg))
    x, y, z = direction
    up = np.cos(north) * (np.cos(east) * x + np.sin(east) * y) + np.sin(north) * z
    return np.asarray(np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))))


def _place_deg(direction: Floats) -> tuple[Floats, Floats]:
    x, y, z = direction
    return np.asarray(np.degrees(np.arctan2(y, x))), np.asarray(np.degrees(np.arctan2(z, np.hypot(x, y))))
