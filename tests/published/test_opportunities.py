"""Opportunities of every kind, drawn at random, are met by skyfield and erfa at their moments.

The judges share DE421 with us and none of our code: skyfield's own apparent places, altitudes for the site
and Kepler orbits; erfa's analytic Earth for light times. Elements of minor bodies and variables are invented
or from memory: what is judged is what is made of them.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

import erfa
import numpy as np
import pytest
from skyfield.api import Star, load, wgs84
from skyfield.constants import GM_SUN_Pitjeva_2005_km3_s2
from skyfield.data.spice import inertial_frames
from skyfield.keplerlib import _KeplerOrbit

from scheduler.domain import (
    SUN_DISTANCE_DEG,
    EveningRule,
    FreeNight,
    Kind,
    Kit,
    LightCurve,
    MoonFeature,
    Opportunities,
    Orbit,
    Pair,
    Phase,
    Routine,
    Site,
    Target,
    Telescope,
)
from scheduler.sky import sky_of
from scheduler.sky.ephemeris import ephemeris
from scheduler.visibility.outlook import LightTable, outlook_of
from scheduler.visibility.prospect import Prospect, prospect_for
from tests.small_season import (
    ALGOL,
    FLATS,
    JUPITER,
    LARKMOOR,
    MERCURY,
    PERSEIDS,
    PLATO,
    POINT,
    season_of,
    star,
)
from tests.small_season import scenario as small

EQUATOR = Site("Quito heights", 0.0, -78.5, 2800.0, "America/Guayaquil", 21.5, 0.15)
SEASONS = {
    LARKMOOR: date(2027, 7, 15), FLATS: date(2027, 3, 1), POINT: date(2027, 11, 1), EQUATOR: date(2028, 5, 1),
}  # fmt: skip
NIGHTS, DRAWS = 75, 60
"""Nights of each season, and opportunities drawn at each site."""
JD_OF_1970, LIGHT_S_PER_AU = 2440587.5, 499.004784

TYCHO = replace(PLATO, name="Tycho", nature=MoonFeature(-11.2, -43.3, 85.0))
VESTA = Target(
    "Vesta", Kind.MINOR_BODY, nature=Orbit(2461000.5, 2.15, 0.09, 7.1, 103.8, 151.0, 3.25, 0.32), minutes=10
)
COMET = Target(
    "Comet", Kind.MINOR_BODY, minutes=10, lowest_altitude_deg=5.0,
    nature=Orbit(2461630.0, 1.2, 1.0, 70.0, 30.0, 120.0, 3.0, 4.0, True, 5.0),
)  # fmt: skip
SHEPHERD = Target(
    "Shepherd", Kind.VARIABLE_STAR, 231.0, 15.0, minutes=10,
    nature=LightCurve(5.0, 6.0, 2452500.1, 1.37, Phase.MAXIMUM, 5.0),
)  # fmt: skip
WISHED = (
    ALGOL, SHEPHERD, PLATO, TYCHO, VESTA, COMET, JUPITER, replace(MERCURY, lowest_altitude_deg=2.0), PERSEIDS,
    Target("Venus", Kind.PLANET, body="venus", minutes=10, lowest_altitude_deg=5.0),
    Target("Shadow", Kind.ECLIPSE, body="jupiter", minutes=20),
    Target("Pair", Kind.DOUBLE_STAR, 110.0, 22.0, nature=Pair(3.0, 4.0, 8.0), lowest_altitude_deg=10.0),
    star("North", 150.0, 60.0), star("South", 200.0, -47.0), star("Middle", 280.0, 0.0),
)  # fmt: skip
STEADY = Kit((Telescope("300 mm", 300.0, 1500.0, 60.0),), small().kit.eyepieces)


@cache
def drawn(site: Site) -> tuple[Prospect, tuple[FreeNight, ...], Opportunities, tuple[int, ...]]:
    """Return a season at a site and some of its opportunities, kinds drawn alike."""
    of = small(
        *WISHED, site=site, start=SEASONS[site], nights=NIGHTS, rule=EveningRule(), kit=STEADY,
        routine=Routine(0, 0, 4),
    )  # fmt: skip
    prospect, free, rows = season_of(of)
    dice = np.random.default_rng(20271)
    kinds = [[r for r in range(len(rows)) if rows.target[r] == t] for t in range(len(WISHED))]
    chosen = [int(dice.choice(kind)) for _ in range(DRAWS // 10) for kind in kinds if kind]
    return prospect, free, rows, tuple(dice.permutation(chosen)[:DRAWS].tolist())


def body_of(target: Target, scale: Any) -> Any:
    """Return a target as skyfield knows it."""
    if target.body is not None:
        named = {"jupiter": "jupiter barycenter"}.get(target.body, target.body)
        return ephemeris()[named]
    if not isinstance(target.nature, Orbit):
        return Star(ra_hours=target.ra_deg / 15.0, dec_degrees=target.dec_deg)  # type: ignore[operator]
    orbit = target.nature
    kepler = _KeplerOrbit._from_periapsis(
        orbit.perihelion_au * (1.0 + orbit.eccentricity), orbit.eccentricity, orbit.inclination_deg,
        orbit.node_deg, orbit.argument_deg, scale.tt_jd(orbit.perihelion_jd), GM_SUN_Pitjeva_2005_km3_s2, 10,
        target.name,
    )  # fmt: skip
    kepler._rotation = inertial_frames["ECLIPJ2000"].T
    return ephemeris()["sun"] + kepler


def judged(site: Site, target: Target, unix_s: float) -> tuple[float, float, float, float]:
    """Return by skyfield altitude, elongation, the Sun's altitude and the Moon's true one. [deg]"""
    scale = load.timescale(builtin=True)
    at = scale.from_datetime(datetime.fromtimestamp(unix_s, UTC))
    place = ephemeris()["earth"] + wgs84.latlon(site.latitude_deg, site.longitude_deg, site.elevation_m)
    pressure_mbar = 1013.25 * (1.0 - 2.25577e-5 * site.elevation_m) ** 5.25588  # ISO 2533
    here = place.at(at)
    seen, sun, moon = (
        here.observe(one).apparent()
        for one in (body_of(target, scale), ephemeris()["sun"], ephemeris()["moon"])
    )
    altitude = seen.altaz(temperature_C=10.0, pressure_mbar=pressure_mbar)[0].degrees
    low = altitude if altitude > -1.0 else seen.altaz()[0].degrees
    return low, seen.separation_from(sun).degrees, sun.altaz()[0].degrees, moon.altaz()[0].degrees


@pytest.mark.parametrize("site", SEASONS, ids=lambda site: site.name)
def test_looks_are_high_dark_and_away_from_the_sun_by_skyfield(site: Site) -> None:
    prospect, free, rows, chosen = drawn(site)
    evenings = {evening: night for night, evening in enumerate(prospect.sky.evenings)}
    table, dice = LightTable(prospect.sky), np.random.default_rng(7)
    zero_s = rows.epoch.timestamp()
    for row in chosen:
        target = WISHED[int(rows.target[row])]
        night = free[int(rows.night[row])]
        darkest_deg = night.night.darkness.sun_altitude_deg if target.kind.faint else -6.0
        for minute in (
            rows.start_min[row],
            rows.end_min[row],
            dice.uniform(rows.start_min[row], rows.end_min[row]),
        ):
            unix_s = zero_s + 60.0 * float(minute)
            altitude_deg, apart_deg, sun_deg, moon_deg = judged(site, target, unix_s)
            assert altitude_deg >= target.lowest_altitude_deg - 0.05, (target.name, night.evening)
            assert sun_deg <= darkest_deg + 0.01, (target.name, night.evening)
            assert not target.moves or apart_deg >= SUN_DISTANCE_DEG, (target.name, night.evening)
            where = rows.target[[row]], np.array([evenings[night.evening]])
            seen = outlook_of(prospect.sky, prospect.places, *where, np.array([unix_s]))
            assert seen.altitude_deg[0] == pytest.approx(altitude_deg, abs=0.05), (target.name, night.evening)
            lights = table.at(where[1], np.array([unix_s]))
            assert lights.sun_altitude_deg[0] == pytest.approx(sun_deg, abs=0.05)
            assert lights.moon_altitude_deg[0] == pytest.approx(moon_deg, abs=0.05 if moon_deg < 60 else 0.5)


def test_every_kind_that_moves_or_keeps_time_was_drawn() -> None:
    names = {
        WISHED[int(rows.target[row])].name for _, _, rows, chosen in map(drawn, SEASONS) for row in chosen
    }
    assert names == {target.name for target in WISHED}


def heliocentric_jd(target: Target, unix_s: float) -> float:
    """Return the heliocentric Julian date (UTC) of a moment at the Earth's centre, by erfa's Earth. [d]"""
    assert target.ra_deg is not None
    assert target.dec_deg is not None
    days = unix_s / 86400.0
    earth_au = erfa.epv00(JD_OF_1970, days + 69.2 / 86400.0)[0]["p"]
    towards = erfa.s2c(np.radians(target.ra_deg), np.radians(target.dec_deg))
    return JD_OF_1970 + days + float(towards @ earth_au) * LIGHT_S_PER_AU / 86400.0


@pytest.mark.parametrize("site", SEASONS, ids=lambda site: site.name)
def test_variables_are_offered_round_their_moments_by_erfa(site: Site) -> None:
    _, _, rows, chosen = drawn(site)
    for row in chosen:
        target = WISHED[int(rows.target[row])]
        if not isinstance(target.nature, LightCurve):
            continue
        curve = target.nature
        assert curve.epoch_hjd is not None
        assert curve.period_d is not None
        for minute in (rows.start_min[row], rows.end_min[row]):
            at = heliocentric_jd(target, rows.epoch.timestamp() + 60.0 * float(minute))
            cycles = (at - curve.epoch_hjd) / curve.period_d
            assert abs(cycles - round(cycles)) * curve.period_d * 24.0 <= 0.5 * curve.wide_h + 0.001


def test_the_moon_is_never_near_the_sun_from_noon_to_noon_on_nights_called_safe() -> None:
    site = LARKMOOR
    of = small(PLATO, site=site, start=date(2027, 1, 1), nights=240)
    prospect = prospect_for(sky_of(site, of.season.evenings), of)
    sky, safe = prospect.sky, prospect.safe[0]
    moments = np.linspace(sky.noon_unix_s, sky.next_noon_unix_s, 9, axis=1)[safe]
    scale = load.timescale(builtin=True)
    leap_s, tt_less_tai_s = 37.0, 32.184
    at = scale.tt_jd(JD_OF_1970 + (moments.ravel() + leap_s + tt_less_tai_s) / 86400.0)
    here = (ephemeris()["earth"] + wgs84.latlon(site.latitude_deg, site.longitude_deg)).at(at)
    moon, sun = (here.observe(ephemeris()[name]).apparent() for name in ("moon", "sun"))
    apart_deg = moon.separation_from(sun).degrees
    assert SUN_DISTANCE_DEG <= apart_deg.min() < SUN_DISTANCE_DEG + 2.0  # nor is much given away
    assert safe.mean() > 0.85
