"""Sun, Moon and the Earth's turning over a span of days, ready to be read at any moment.

Everything slow (nutation, ephemeris, light-time) is done once on coarse samples; reading is interpolation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .ephemeris import DAY_S, SPEED_OF_LIGHT_KM_S, Floats, ephemeris, times_of
from .track import Track

TURN_DEG_PER_S = 360.0 * 1.00273781191135 / DAY_S
"""How fast sidereal time runs (IERS Conventions 2010, eq. 5.15). [deg/s]"""

_VECTOR_STEP_S = 7200.0
_MARGIN_S = 2.0 * DAY_S


@dataclass(frozen=True, eq=False)
class Heavens:
    """Apparent geocentric Sun and Moon and the Earth's orientation between two moments.

    Attributes
    ----------
    start_unix_s, end_unix_s : What the tracks cover, with a margin already taken off. [s]
    vectors : Sun x y z, Moon x y z; light-time and aberration included, true equator and equinox of
        date, every two hours. [km]
    rotation : The nine elements of the matrix from ICRS to the true equator of date, row by row, daily.
    equinox : Apparent sidereal time at Greenwich less its uniform part, daily. [deg]
    """

    start_unix_s: float
    end_unix_s: float
    vectors: Track
    rotation: Track
    equinox: Track

    def sun_km(self, unix_s: Floats) -> Floats:
        """Return the apparent geocentric Sun of date, (3, *times). [km]"""
        return Track(self.vectors.start_unix_s, self.vectors.step_s, self.vectors.samples[:3]).at(unix_s)

    def moon_km(self, unix_s: Floats) -> Floats:
        """Return the apparent geocentric Moon of date, (3, *times). [km]"""
        return Track(self.vectors.start_unix_s, self.vectors.step_s, self.vectors.samples[3:]).at(unix_s)

    def rotation_at(self, unix_s: Floats) -> Floats:
        """Return matrices from ICRS to the true equator of date, (3, 3, *times)."""
        return self.rotation.at(unix_s).reshape(3, 3, *np.shape(unix_s))

    def greenwich_sidereal_deg(self, unix_s: Floats) -> Floats:
        """Return apparent sidereal time at Greenwich, counted on without a break. [deg]"""
        uniform = (unix_s - self.equinox.start_unix_s) * TURN_DEG_PER_S
        return np.asarray(uniform + self.equinox.at(unix_s)[0])


def heavens_between(start_unix_s: float, end_unix_s: float) -> Heavens:
    """Return Sun, Moon and orientation from `start_unix_s` to `end_unix_s`.

    Notes
    -----
    Interpolation adds less than 0.01" to the Moon and 0.001" to the frame. Light deflection is left out:
    1.8" at the Sun's limb, 0.01" beyond 45 degrees from it.
    """
    first = start_unix_s - _MARGIN_S
    days = np.asarray(
        first + DAY_S * np.arange(int((end_unix_s - first + _MARGIN_S) / DAY_S) + 2), np.float64
    )
    daily = times_of(days)
    rotation = Track(first, DAY_S, np.asarray(daily.M, np.float64).reshape(9, -1))
    turned = np.unwrap(np.asarray(daily.gast) * 15.0 - (days - first) * TURN_DEG_PER_S, period=360.0)
    moments = np.asarray(
        first + _VECTOR_STEP_S * np.arange(int((days[-1] - first) / _VECTOR_STEP_S) + 1), np.float64
    )
    vectors = _sun_and_moon_km(moments, rotation.at(moments).reshape(3, 3, -1))
    return Heavens(
        start_unix_s, end_unix_s, Track(first, _VECTOR_STEP_S, vectors), rotation,
        Track(first, DAY_S, turned[None]),
    )  # fmt: skip


def _sun_and_moon_km(unix_s: Floats, rotation: Floats) -> Floats:
    """Return apparent Sun and Moon of date stacked, (6, times). [km]"""
    kernel = ephemeris()
    earth = kernel["earth"].at(times_of(unix_s))
    velocity_c = np.asarray(earth.velocity.km_per_s) / SPEED_OF_LIGHT_KM_S
    places = [np.asarray(earth.observe(kernel[body]).xyz.km) for body in ("sun", "moon")]
    seen = [of_date(aberrated(place, velocity_c), rotation) for place in places]
    return np.concatenate(seen)


def aberrated(vector: Floats, velocity_c: Floats) -> Floats:
    """Return `vector` as a moving observer sees it: leaning towards the motion.

    Parameters
    ----------
    vector : array (3, ...)
        To the body where the light left it, any length unit.
    velocity_c : array (3, ...)
        The observer's velocity as a fraction of the speed of light.

    Notes
    -----
    The classical sum, which differs from special relativity by v^2/4c^2, 0.0005" for the Earth. Its length
    is the distance at the time the light left, as the moving observer counts it: for the Moon 38 km more or
    less than that of `vector`, which parallax would show.

    References
    ----------
    Explanatory Supplement to the Astronomical Almanac, 3rd ed. (2013), section 7.2.3.
    """
    return np.asarray(vector + np.sqrt((vector**2).sum(axis=0)) * velocity_c)


def of_date(vector: Floats, rotation: Floats) -> Floats:
    """Turn ICRS vectors (3, times) into the true equator and equinox of date, (3, times)."""
    return np.asarray(np.einsum("ijt,jt->it", rotation, vector))
