"""Where minor bodies stand and how bright they are, from their elements: two bodies, any conic.

Good for a season around the date the elements were computed for: what the planets do to a main-belt body in a
year shows as an arcminute or so, to a comet near Jupiter as far more. Fetch fresh elements every season.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..domain import Orbit
from .ephemeris import SPEED_OF_LIGHT_KM_S, Floats, ephemeris, times_of
from .planets import angle_deg, east_of
from .season import SeasonSky

AU_KM = 149597870.7
"""IAU 2012 Resolution B2."""

_GAUSS = 0.01720209895
"""Square root of the Sun's attraction. [au^1.5/day]"""
_OBLIQUITY_DEG = 84381.448 / 3600.0
"""Of the ecliptic of J2000 in which elements are published (IAU 1976, as the Minor Planet Center uses)."""
_LIGHT_AU_DAY = SPEED_OF_LIGHT_KM_S * 86400.0 / AU_KM


@dataclass(frozen=True, eq=False)
class OrbitLooks:
    """How minor bodies look at each night's midnight, from the Earth's centre; arrays (bodies, nights).

    Attributes
    ----------
    magnitude : Visual magnitude of a minor planet, total magnitude of a comet. [mag]
    elongation_deg : Angle from the Sun, positive in the evening sky (east). [deg, -180..180]
    phase_angle_deg : Angle Sun-body-Earth. [deg]
    sun_distance_au, earth_distance_au : When the light left. [au]
    """

    magnitude: Floats
    elongation_deg: Floats
    phase_angle_deg: Floats
    sun_distance_au: Floats
    earth_distance_au: Floats


def orbit_looks(sky: SeasonSky, orbits: Sequence[Orbit]) -> OrbitLooks:
    """Return how minor bodies look on every night of a season."""
    return orbit_looks_at(orbits, sky.midnight_unix_s)


def orbit_looks_at(orbits: Sequence[Orbit], unix_s: Floats) -> OrbitLooks:
    """Return how minor bodies look at times (n,), arrays (bodies, n)."""
    earth = ephemeris()["earth"].at(times_of(unix_s))
    sun_au = np.asarray(earth.observe(ephemeris()["sun"]).xyz.au)[:, None]
    seen_au, from_sun_au = np.moveaxis(orbits_seen_au(orbits, unix_s), 2, 0)
    r, delta = (np.sqrt((v**2).sum(axis=0)) for v in (from_sun_au, seen_au))
    phase_angle_deg = angle_deg(from_sun_au, seen_au)
    comet, absolute, slope = (
        np.array([[getattr(orbit, name)] for orbit in orbits], np.float64).reshape(-1, 1)
        for name in ("comet", "absolute_mag", "slope")
    )
    magnitude = np.where(
        comet > 0,
        comet_magnitude(absolute, slope, r, delta),
        minor_planet_magnitude(absolute, np.where(comet > 0, 0.15, slope), r, delta, phase_angle_deg),
    )
    elongation_deg = angle_deg(seen_au, sun_au) * np.sign(east_of(seen_au, sun_au))
    return OrbitLooks(magnitude, elongation_deg, phase_angle_deg, r, delta)


def orbits_seen_au(orbits: Sequence[Orbit], unix_s: Floats) -> Floats:
    """Return astrometric vectors at times (n,): (3, bodies, 2, n), first from the Earth, then from the Sun.

    ICRS, at the moment the light left, by two steps; that the Sun has moved since is left out (0.02"). [au]
    """
    times = times_of(unix_s)
    sun_au, earth_au = (np.asarray(ephemeris()[body].at(times).xyz.au) for body in ("sun", "earth"))
    tdb = np.asarray(times.tdb)
    late_d = np.zeros((len(orbits), len(tdb)))
    for _ in range(2):
        from_sun = heliocentric_au(orbits, tdb - late_d)
        seen = from_sun + (sun_au - earth_au)[:, None]
        late_d = np.sqrt((seen**2).sum(axis=0)) / _LIGHT_AU_DAY
    return np.stack([seen, from_sun], axis=2)


def heliocentric_au(orbits: Sequence[Orbit], tdb_jd: Floats) -> Floats:
    """Return where bodies are, seen from the Sun, ICRS axes: (3, bodies, times). [au]

    Parameters
    ----------
    orbits : sequence of Orbit
        Elliptic, parabolic and hyperbolic alike.
    tdb_jd : array (times,) or (bodies, times)
        When. [TDB Julian date]

    References
    ----------
    R. H. Battin, An Introduction to the Mathematics and Methods of Astrodynamics (1999), section 4.5:
    Kepler's problem in universal variables, which needs no case for each conic.
    """
    columns = (
        "perihelion_jd",
        "perihelion_au",
        "eccentricity",
        "inclination_deg",
        "node_deg",
        "argument_deg",
    )
    elements = np.array([[getattr(orbit, c) for c in columns] for orbit in orbits], np.float64)
    perihelion_jd, q, e, inclination, node, argument = elements.reshape(-1, 6).T[..., None]
    along, across = in_plane_au(q, e, tdb_jd - perihelion_jd)
    turn, tilt, node = (np.radians(a[:, 0]) for a in (argument, inclination, node))
    cos_turn, sin_turn, cos_node, sin_node = np.cos(turn), np.sin(turn), np.cos(node), np.sin(node)
    towards = np.stack([
        cos_node * cos_turn - sin_node * sin_turn * np.cos(tilt),
        sin_node * cos_turn + cos_node * sin_turn * np.cos(tilt), sin_turn * np.sin(tilt),
    ])  # fmt: skip
    ahead = np.stack([
        -cos_node * sin_turn - sin_node * cos_turn * np.cos(tilt),
        -sin_node * sin_turn + cos_node * cos_turn * np.cos(tilt), cos_turn * np.sin(tilt),
    ])  # fmt: skip
    x, y, z = towards[..., None] * along + ahead[..., None] * across
    cos, sin = np.cos(np.radians(_OBLIQUITY_DEG)), np.sin(np.radians(_OBLIQUITY_DEG))
    return np.stack([x, y * cos - z * sin, y * sin + z * cos])


def in_plane_au(q_au: ArrayLike, e: ArrayLike, since_d: ArrayLike) -> tuple[Floats, Floats]:
    """Return the place in the plane of an orbit: towards the perihelion, and a right angle ahead. [au]

    Parameters
    ----------
    q_au, e, since_d : floats or arrays, shapes that broadcast
        Perihelion distance [au], eccentricity, time since perihelion [d].

    Notes
    -----
    The universal anomaly x solves k t = q x + e x^3 S(x^2 (1-e)/q). Its right side grows and bends upward
    until half a turn, so Newton's steps from above run straight down to the root; the start is never more
    than a fifth too high for an ellipse.

    Examples
    --------
    A parabola's body stands a right angle from its perihelion after (4/3) sqrt(2 q^3) / k days (Barker):

    >>> x, y = in_plane_au(1.0, 1.0, 4 / 3 * 2**0.5 / 0.01720209895)
    >>> abs(float(x)) < 1e-12, round(float(y), 9)
    (True, 2.0)
    """
    q, e, since = np.broadcast_arrays(*(np.asarray(a, np.float64) for a in (q_au, e, since_d)))
    bend = (1.0 - e) / q
    closed = bend > 1e-9
    period = 2.0 * np.pi / (_GAUSS * np.where(closed, bend, 1.0) ** 1.5)
    since = since - period * np.round(np.where(closed, since, 0.0) / period)
    aim = _GAUSS * np.abs(since)
    anomaly = _not_below_the_root(q, e, bend, closed, aim)
    for _ in range(50):
        c, s = stumpff(bend * anomaly**2)
        step = (q * anomaly + e * anomaly**3 * s - aim) / (q + e * anomaly**2 * c)
        anomaly = anomaly - step
        if not (np.abs(step) > 1e-13 * (1.0 + anomaly)).any():
            break
    c, s = stumpff(bend * anomaly**2)
    across = np.sqrt(q * (1.0 + e)) * anomaly * (1.0 - bend * anomaly**2 * s)
    return np.asarray(q - anomaly**2 * c), np.asarray(np.sign(since) * across)


def _not_below_the_root(q: Floats, e: Floats, bend: Floats, closed: Floats, aim: Floats) -> Floats:
    """Return a start for Newton: the root of the cubic that S at its smallest would make of the equation."""
    least = np.where(bend > 0.0, 1.0 / np.pi**2, 1.0 / 6.0) * np.maximum(e, 1e-3)
    third, half = q / (3.0 * least), aim / (2.0 * least)
    root = np.cbrt(half + np.sqrt(half**2 + third**3))
    start = root - third / root
    start = np.where(start > 0.0, start, 0.0)
    steep = np.sqrt(np.abs(bend))
    turned = np.where(closed, np.pi, np.arcsinh(aim * steep**3 / (0.14 * np.maximum(e, 1e-3))) + 1.0)
    return np.where(steep > 1e-6, np.minimum(start, turned / np.maximum(steep, 1e-6)), start)


def stumpff(z: Floats) -> tuple[Floats, Floats]:
    """Return (1 - cos sqrt z)/z and (sqrt z - sin sqrt z)/z^1.5, continued through 0 to negative z.

    >>> [round(float(v), 9) for v in stumpff(np.array(0.0))]
    [0.5, 0.166666667]
    """
    root = np.sqrt(np.abs(z))
    safe = np.where(np.abs(z) > 1.0, root, 1.0)
    wide = np.where(z > 0.0, np.minimum(safe, 100.0), np.minimum(safe, 600.0))
    c = np.where(z > 0.0, 1.0 - np.cos(wide), np.cosh(wide) - 1.0) / wide**2
    s = np.where(z > 0.0, wide - np.sin(wide), np.sinh(wide) - wide) / wide**3
    near = np.where(np.abs(z) > 1.0, 0.0, z)
    series_c, series_s = np.ones_like(near), np.ones_like(near)
    for k in range(9, 0, -1):
        series_c = 1.0 - near * series_c / ((2 * k + 1) * (2 * k + 2))
        series_s = 1.0 - near * series_s / ((2 * k + 2) * (2 * k + 3))
    small = np.abs(z) <= 1.0
    return np.where(small, series_c / 2.0, c), np.where(small, series_s / 6.0, s)


def minor_planet_magnitude(
    absolute_mag: ArrayLike, slope: ArrayLike, sun_au: ArrayLike, earth_au: ArrayLike, phase_deg: ArrayLike
) -> Floats:
    """Return the visual magnitude of a minor planet. [mag]

    Parameters
    ----------
    absolute_mag, slope : H [mag] and G.
    sun_au, earth_au : Distances. [au]
    phase_deg : Angle Sun-body-Earth; the law was made for 0 to 120. [deg]

    References
    ----------
    E. Bowell et al., Application of photometric models to asteroids, in Asteroids II (1989), 524: the H, G
    system, in the short form of Meeus, Astronomical Algorithms, 2nd ed., ch. 33.

    Examples
    --------
    >>> float(minor_planet_magnitude(3.34, 0.12, 1.0, 1.0, 0.0))
    3.34
    """
    half = np.tan(np.radians(np.minimum(np.asarray(phase_deg, np.float64), 170.0)) / 2.0)
    slope = np.asarray(slope, np.float64)
    first, second = np.exp(-3.33 * half**0.63), np.exp(-1.87 * half**1.22)
    dimming = np.log10(np.maximum((1.0 - slope) * first + slope * second, 1e-12))
    distance = np.asarray(sun_au, np.float64) * np.asarray(earth_au, np.float64)
    return np.asarray(np.asarray(absolute_mag, np.float64) + 5.0 * np.log10(distance) - 2.5 * dimming)


def comet_magnitude(
    absolute_mag: ArrayLike, slope: ArrayLike, sun_au: ArrayLike, earth_au: ArrayLike
) -> Floats:
    """Return the total magnitude of a comet, `H + 5 lg delta + 2.5 n lg r`. [mag]

    Comets keep to it within a magnitude or two at best (common practice, no source).

    References
    ----------
    Meeus, Astronomical Algorithms, 2nd ed., ch. 33; n as in the Minor Planet Center's lists.

    Examples
    --------
    >>> float(comet_magnitude(5.5, 4.0, 10.0, 1.0))
    15.5
    """
    r, delta = np.asarray(sun_au, np.float64), np.asarray(earth_au, np.float64)
    law = np.asarray(absolute_mag, np.float64) + 5.0 * np.log10(delta)
    return np.asarray(law + 2.5 * np.asarray(slope, np.float64) * np.log10(r))
