"""Kepler's problem against skyfield's own, magnitudes against worked figures."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from skyfield.constants import GM_SUN_Pitjeva_2005_km3_s2
from skyfield.data.spice import inertial_frames
from skyfield.keplerlib import _KeplerOrbit

from scheduler.domain import Orbit
from scheduler.sky import sky_of
from scheduler.sky.ephemeris import Floats, timescale
from scheduler.sky.orbits import (
    comet_magnitude,
    heliocentric_au,
    in_plane_au,
    minor_planet_magnitude,
    orbit_looks,
    orbits_seen_au,
)

from .rigorous import SITES, year_from

PERIHELION_JD = 2460800.5


def orbit(e: float, q: float, tilt: float = 20.0, comet: bool = False) -> Orbit:
    return Orbit(PERIHELION_JD, q, e, tilt, 80.0, 73.0, 8.0, 4.0 if comet else 0.15, comet)


def skyfields_au(body: Orbit, tdb_jd: Floats) -> Floats:
    scale = timescale()
    theirs = _KeplerOrbit._from_periapsis(
        body.perihelion_au * (1.0 + body.eccentricity), body.eccentricity, body.inclination_deg,
        body.node_deg, body.argument_deg, scale.tdb_jd(PERIHELION_JD), GM_SUN_Pitjeva_2005_km3_s2, 10,
    )  # fmt: skip
    theirs._rotation = inertial_frames["ECLIPJ2000"].T
    return np.asarray(theirs.at(scale.tdb_jd(tdb_jd)).xyz.au)


@pytest.mark.parametrize("e", [0.0, 0.08, 0.5, 0.85, 0.967, 0.999, 1.0, 1.001, 1.2, 3.3])
@pytest.mark.parametrize("q", [0.2, 1.0, 5.0])
def test_every_conic_is_followed_as_skyfield_does(e: float, q: float) -> None:
    body = orbit(e, q)
    when = PERIHELION_JD + np.linspace(-700.0, 700.0, 57)
    off_au = np.abs(heliocentric_au([body], when)[:, 0] - skyfields_au(body, when))
    assert off_au.max() < 2e-7  # 0.04" at 1 au; the two attractions of the Sun differ in the ninth digit


def test_near_a_parabola_nothing_jumps() -> None:
    # What skyfield's solver cannot be asked: eccentricities within 1e-9 of 1.
    since_d = np.linspace(-900.0, 900.0, 61)
    parabola = np.stack(in_plane_au(0.3, 1.0, since_d))
    for e in (1 - 1e-7, 1 - 1e-9, 1 - 1e-13, 1 + 1e-13, 1 + 1e-9, 1 + 1e-7):
        assert np.abs(np.stack(in_plane_au(0.3, e, since_d)) - parabola).max() < 1e-4
        assert np.abs(np.stack(in_plane_au(0.3, e, since_d)) - parabola).max() < 300.0 * abs(e - 1.0) + 1e-9


def days_since_perihelion(q: float, e: float, x: Floats, y: Floats) -> Floats:
    """The other way round, by each conic's own equation (Meeus, 2nd ed., ch. 30, 34; hyperbola: Battin)."""
    if e == 1.0:
        half_tangent = y / (2.0 * q)
        return np.asarray(np.sqrt(2.0 * q**3) * (half_tangent + half_tangent**3 / 3.0) / 0.01720209895)
    axis = q / abs(1.0 - e)
    sine = y / (axis * np.sqrt(abs(1.0 - e * e)))
    if e > 1.0:
        anomaly = np.arcsinh(sine)
        return np.asarray((e * sine - anomaly) * axis**1.5 / 0.01720209895)
    anomaly = np.arctan2(sine, x / axis + e)
    return np.asarray((anomaly - e * np.sin(anomaly)) * axis**1.5 / 0.01720209895)


@pytest.mark.parametrize(
    ("q", "e"),
    [
        (0.001, 0.9999),
        (0.001, 5.0),
        (0.005, 1.0),
        (100.0, 0.0),
        (100.0, 5.0),
        (2.5, 0.1),
        (0.3, 1.2),
        (1, 0.5),
    ],
)
def test_everything_an_orbit_may_hold_is_solved(q: float, e: float) -> None:
    since_d = np.concatenate([-np.logspace(4.6, -3, 300), [0.0], np.logspace(-3, 4.6, 300)])
    x, y = in_plane_au(q, e, since_d)
    assert np.hypot(x, y) == pytest.approx(q * (1.0 + e) - e * x, rel=1e-9)
    period_d = 2.0 * np.pi * (q / (1.0 - e)) ** 1.5 / 0.01720209895 if e < 1.0 else 1e9
    late_d = days_since_perihelion(q, e, x, y) - since_d
    assert np.abs(late_d - period_d * np.round(late_d / period_d)).max() < 1e-5


def test_a_body_comes_back_after_its_period() -> None:
    period_d = 2 * np.pi / 0.01720209895 * 2.5**1.5
    there, again = (np.stack(in_plane_au(2.5 * 0.7, 0.3, t)) for t in (123.0, 123.0 + 5 * period_d))
    assert np.abs(there - again).max() < 1e-10


def test_light_time_is_taken_off() -> None:
    body = orbit(0.3, 2.0)
    moment = np.array([1767225600.0])
    seen_au, from_sun_au = np.moveaxis(orbits_seen_au([body], moment), 2, 0)[:, :, 0, 0]
    late_d = np.sqrt((seen_au**2).sum()) / 173.1446
    tdb = moment / 86400.0 + 2440587.5 + 69.184 / 86400.0
    assert np.abs(heliocentric_au([body], tdb - late_d)[:, 0, 0] - from_sun_au).max() < 1e-8
    assert np.abs(heliocentric_au([body], tdb)[:, 0, 0] - from_sun_au).max() > 1e-6


def test_minor_planets_at_opposition_have_no_phase() -> None:
    # H is by definition the magnitude at 1 au from both and phase angle 0 (Bowell et al. 1989).
    assert minor_planet_magnitude(3.34, 0.12, 2.0, 1.0, 0.0) == pytest.approx(3.34 + 5 * np.log10(2.0))
    phases = minor_planet_magnitude(3.34, 0.15, 2.0, 1.0, np.array([0.0, 5.0, 10.0, 20.0, 60.0, 120.0]))
    assert (np.diff(phases) > 0).all()
    assert comet_magnitude(5.0, 4.0, 0.1, 0.2) == pytest.approx(5.0 - 10.0 + 5 * np.log10(0.2))


def test_the_short_law_of_phases_follows_the_long_one() -> None:
    # Bowell et al. 1989 in full, coefficients from memory; Meeus's short form is said to serve as well.
    phase = np.radians(np.array([0.0, 2.0, 5.0, 10.0, 20.0, 30.0, 45.0, 60.0]))
    half, sine = np.tan(phase / 2.0), np.sin(phase)
    near = np.exp(-90.56 * half**2)
    slope, parts = 0.15, []
    for a, b, c in ((3.332, 0.631, 0.986), (1.862, 1.218, 0.238)):
        small = 1.0 - c * sine / (0.119 + 1.341 * sine - 0.754 * sine**2)
        parts.append(near * small + (1.0 - near) * np.exp(-a * half**b))
    long = -2.5 * np.log10((1.0 - slope) * parts[0] + slope * parts[1])
    short = minor_planet_magnitude(0.0, slope, 1.0, 1.0, np.degrees(phase))
    assert np.abs(short - long).max() < 0.03


def test_looks_follow_the_law_of_each_body() -> None:
    sky = sky_of(SITES[0], year_from(date(2025, 9, 1))[::30])
    planet, comet = orbit(0.1, 2.5), orbit(1.0, 0.5, 140.0, comet=True)
    looks = orbit_looks(sky, [planet, comet])
    r, delta = looks.sun_distance_au, looks.earth_distance_au
    assert looks.magnitude.shape == (2, len(sky))
    assert looks.magnitude[1] == pytest.approx(comet_magnitude(8.0, 4.0, r[1], delta[1]))
    assert looks.magnitude[0] == pytest.approx(
        minor_planet_magnitude(8.0, 0.15, r[0], delta[0], looks.phase_angle_deg[0])
    )
    # The triangle Sun-Earth-body closes, from either of its ends.
    at_body, at_earth = (np.cos(np.radians(a)) for a in (looks.phase_angle_deg, looks.elongation_deg))
    sun_au = np.sqrt(r**2 + delta**2 - 2.0 * r * delta * at_body)
    assert np.abs(sun_au - 1.0).max() < 0.018
    assert np.sqrt(sun_au**2 + delta**2 - 2.0 * sun_au * delta * at_earth) == pytest.approx(r, rel=2e-4)


def test_no_body_is_no_trouble() -> None:
    assert orbit_looks(sky_of(SITES[0], [date(2026, 1, 1)]), []).magnitude.shape == (0, 1)
