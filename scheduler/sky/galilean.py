"""Jupiter's four great moons, and when their shadows cross its disc."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from ..domain import Span
from .ephemeris import DAY_S, Floats, check_covered, ephemeris, moment_of, planet, times_of
from .planets import EQUATORIAL_RADIUS_KM
from .stretches import Margin, stretches_of

MOONS = ("Io", "Europa", "Ganymede", "Callisto")

_EPOCH_JD = 2443000.5
_ARGUMENTS_DEG = np.array([
    [106.07719, 203.48895579], [175.73161, 101.374724735], [120.55883, 50.317609207],
    [84.44459, 21.571071177], [97.0881, 0.16138586], [154.8663, 0.04726307], [188.184, 0.00712734],
    [335.2868, 0.00184], [312.3346, -0.13279386], [100.4411, -0.03263064], [119.1942, -0.00717703],
    [322.6186, -0.00175934], [316.5182, -0.00000208], [30.23756, 0.0830925701],
    [31.97853, 0.0334597339], [199.6766, 0.1737919],
])  # fmt: skip
"""Value at the epoch [deg] and daily motion [deg/d], in the order of the table's columns."""
_LONG_PERIOD_DEG = ((0.33033, 163.679, 0.0010512), (0.03439, 34.486, -0.0161731))
"""What Jupiter's own anomaly gains: amplitude, phase [deg], motion. [deg/d]"""
_PSI, _ANOMALY = 12, 13
_MEAN_RADII = np.array([5.90569, 9.39657, 14.98832, 26.36273])
_PRECESSION_DEG = 1.3966626 * 0.5 + 0.0003088 * 0.25
"""From the equinox of 1950, from which the theory counts, to that of 2000."""
_POLAR_SHARE = 66854.0 / EQUATORIAL_RADIUS_KM["jupiter"]
"""B. A. Archinal et al., Celestial Mechanics and Dynamical Astronomy 130 (2018) 22: the polar radius."""
_STEP_S = 1200.0
_OBLIQUITY_DEG = 84381.448 / 3600.0


@dataclass(frozen=True, slots=True)
class ShadowTransit:
    """A moon's shadow on Jupiter's disc, by its centre, as seen from the Earth."""

    moon: str
    span: Span


def shadow_transits_of(first: date, last: date) -> tuple[ShadowTransit, ...]:
    """Return when shadows of the great moons cross Jupiter's disc, in order of beginning.

    Every crossing that overlaps the dates (UTC, both included) is returned whole. Whether Jupiter is up, or
    near the Sun, is not asked here.

    Notes
    -----
    A shadow is on the disc while its moon stands before Jupiter's oblate disc as the Sun sees it; the Earth
    sees it a light-time later. Times are good to some two minutes; passes of Ganymede and
    Callisto at the very limb that last less than twenty minutes may be missed.

    References
    ----------
    J. H. Lieske's theory E5 as in Meeus, Astronomical Algorithms, 2nd ed., ch. 44; Jupiter, Sun and Earth
    from DE421. Jupiter's node and inclination of J2000 are from memory; they reproduce the printed example.
    """
    check_covered(first, last)
    start, end = (datetime.combine(day, time(), UTC).timestamp() for day in (first, last))
    moments = np.arange(start - DAY_S, end + 2.0 * DAY_S, _STEP_S)[None]
    sampled = _depths(moments)
    found = []
    for moon, name in enumerate(MOONS):
        most = int((np.diff(np.sign(sampled[moon, 0])) > 0.0).sum()) + 1
        spans = stretches_of(moments, sampled[moon], _margin(moon), keep=most)[0]
        found += [ShadowTransit(name, Span(moment_of(a), moment_of(b))) for a, b in spans if a < b]
    overlapping = (t for t in found if t.span.start.date() <= last and t.span.end.date() >= first)
    return tuple(sorted(overlapping, key=lambda transit: transit.span.start))


def _margin(moon: int) -> Margin:
    return lambda _, unix_s: np.asarray(_depths(unix_s)[moon])


def _depths(unix_s: Floats) -> Floats:
    """Return how deep the moons stand in Jupiter's disc as the Sun sees it: 1 at the centre, 0 at the limb.

    Shape (moons, *shape of the times); -1 on the far side. Times are those at which the Earth sees it.
    """
    flat = unix_s.ravel()
    seen = ephemeris()["earth"].at(times_of(flat)).observe(planet("jupiter"))
    left = times_of(flat - np.asarray(seen.light_time) * DAY_S)
    to_sun = np.asarray((ephemeris()["sun"].at(left) - planet("jupiter").at(left)).xyz.km)
    to_sun = to_sun / np.sqrt((to_sun**2).sum(axis=0))
    moons, pole = moons_radii(np.asarray(left.tdb))
    tilt_sine = (pole * to_sun).sum(axis=0)
    up = (pole - tilt_sine * to_sun) / np.sqrt(1.0 - tilt_sine**2)
    side = np.cross(up, to_sun, axis=0)
    height = np.sqrt(_POLAR_SHARE**2 * (1.0 - tilt_sine**2) + tilt_sine**2)
    across, along, towards = ((moons * axis[:, None]).sum(axis=0) for axis in (side, up, to_sun))
    depth = np.where(towards > 0.0, 1.0 - np.hypot(across, along / height), -1.0)
    return np.asarray(depth.reshape(len(MOONS), *unix_s.shape))


def moons_radii(tdb_jd: Floats) -> tuple[Floats, Floats]:
    """Return the moons from Jupiter's centre, (3, moons, times), and its north pole, (3, times); ICRS axes.

    Parameters
    ----------
    tdb_jd : array (times,)
        When, at Jupiter. [TDB Julian date]

    Returns
    -------
    arrays
        In Jupiter's equatorial radii; the pole of length 1.

    References
    ----------
    Meeus, Astronomical Algorithms, 2nd ed., ch. 44 (E5) and Table 31.B, here carried out in the ecliptic of
    2000.
    """
    days = np.asarray(tdb_jd, np.float64) - _EPOCH_JD
    arguments = _ARGUMENTS_DEG[:, :1] + _ARGUMENTS_DEG[:, 1:] * days
    for amplitude, phase, motion in _LONG_PERIOD_DEG:
        arguments[_ANOMALY] += amplitude * np.sin(np.radians(phase + motion * days))
    psi = np.radians(arguments[_PSI] + _PRECESSION_DEG)
    places = []
    for moon in range(len(MOONS)):
        gained = _sum(moon, "longitude", arguments, None, None)
        own = arguments[moon] + gained
        latitude = np.arctan(_sum(moon, "latitude", arguments, own, gained))
        radius = _MEAN_RADII[moon] * (1.0 + _sum(moon, "radius", arguments, None, None))
        east = np.radians(own + _PRECESSION_DEG) - psi
        flat = radius * np.cos(latitude)
        places.append(np.stack([flat * np.cos(east), flat * np.sin(east), radius * np.sin(latitude)]))
    pole = np.stack([np.zeros_like(days), np.zeros_like(days), np.ones_like(days)])
    turned = _from_equator(np.stack([*places, pole], axis=1), psi, tdb_jd)
    return turned[:, :-1], turned[:, -1]


def _from_equator(vectors: Floats, psi: Floats, tdb_jd: Floats) -> Floats:
    """Turn from Jupiter's equator by its orbit's plane and the ecliptic of 2000 to ICRS axes."""
    since_1900, since_2000 = ((np.asarray(tdb_jd) - jd) / 36525.0 for jd in (2415020.0, 2451545.0))
    tilt = np.radians(3.120262 + 0.0006 * since_1900)
    inclination = np.radians(1.303267 - 0.0019877 * since_2000)
    node = np.radians(100.464407 + 0.1767232 * since_2000)
    turned = _about_z(_about_x(vectors, tilt), psi - node)
    turned = _about_z(_about_x(turned, inclination), node)
    return _about_x(turned, np.radians(_OBLIQUITY_DEG))


def _about_x(v: Floats, angle: Floats | float) -> Floats:
    cos, sin = np.cos(angle), np.sin(angle)
    return np.stack([v[0], v[1] * cos - v[2] * sin, v[1] * sin + v[2] * cos])


def _about_z(v: Floats, angle: Floats) -> Floats:
    cos, sin = np.cos(angle), np.sin(angle)
    return np.stack([v[0] * cos - v[1] * sin, v[0] * sin + v[1] * cos, v[2]])


def _sum(moon: int, series: str, arguments: Floats, own: Floats | None, gained: Floats | None) -> Floats:
    """Return a series' sum at all times: degrees of longitude, tangent of latitude, share of the radius."""
    amplitudes, multiples, constants = _terms()[moon, series]
    angles = multiples[:, :-2] @ arguments + constants[:, None]
    if own is not None and gained is not None:
        angles += multiples[:, -2:] @ np.stack([own, gained])
    wave = np.cos if series == "radius" else np.sin
    return np.asarray(amplitudes @ wave(np.radians(angles)))


@cache
def _terms() -> dict[tuple[int, str], tuple[Floats, NDArray[np.float64], Floats]]:
    """Return amplitudes, multiples of the arguments and constants [deg] by moon and series."""
    text = (files("scheduler.sky") / "data" / "galilean.csv").read_text("utf-8")
    rows = list(csv.reader(line for line in text.splitlines() if not line.startswith("#")))[1:]
    groups: dict[tuple[int, str], list[list[float]]] = {}
    for moon, series, *figures in rows:
        groups.setdefault((int(moon) - 1, series), []).append([float(f or 0.0) for f in figures])
    tables = {key: np.array(lines) for key, lines in groups.items()}
    return {key: (table[:, 0], table[:, 1:-1], table[:, -1]) for key, table in tables.items()}
