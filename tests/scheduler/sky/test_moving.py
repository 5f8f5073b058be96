"""The Moon and minor bodies as targets, mixed with all others."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np
import pytest

from scheduler.domain import (
    MOON,
    Extended,
    Kind,
    MoonFeature,
    Nature,
    Occasion,
    Orbit,
    Pair,
    Shower,
    Site,
    Target,
)
from scheduler.sky import altitude_azimuth, moon_at, places_of, separation_deg, sidereal_deg, sky_of
from scheduler.sky.orbits import AU_KM

from .rigorous import SITES, year_from

COPERNICUS = MoonFeature(-20.0, 9.7, 93.0)
ENCKE = Orbit(
    2448193.04502, 2.2091404 * (1 - 0.8502196), 0.8502196, 11.94524, 334.75006, 186.23352, 11.0, comet=True
)
CERES = Orbit(2461000.5, 2.55, 0.08, 10.6, 80.3, 73.6, 3.34, 0.12)
"""Roughly."""


def moon_feature(name: str = "Copernicus") -> Target:
    return Target(name, Kind.MOON_FEATURE, body=MOON, nature=COPERNICUS)


@pytest.mark.parametrize("site", SITES, ids=lambda s: s.name)
def test_the_moon_keeps_to_its_parabola_and_its_parallax(site: Site) -> None:
    # 2025: the Moon goes 28.7 degrees north and south, where it curves most. moon_at is held by almanacs.
    sky = sky_of(site, year_from(date(2025, 1, 1)))
    places = places_of(sky, [moon_feature()])
    night = np.repeat(np.arange(len(sky)), 25)
    moment = sky.midnight_unix_s[night] + np.tile(np.linspace(-43200.0, 43200.0, 25), len(sky))
    ra_deg, dec_deg = places.at(0, night, moment)
    x, y, z = sky.heavens.moon_km(moment)
    off_deg = separation_deg(
        ra_deg, dec_deg, np.degrees(np.arctan2(y, x)), np.degrees(np.arctan2(z, np.hypot(x, y)))
    )
    assert off_deg.max() < 23.0 / 3600.0
    altitude_deg, azimuth_deg = altitude_azimuth(site, ra_deg, dec_deg, sidereal_deg(sky, night, moment))
    seen_deg = altitude_deg - places.parallax_deg[0, night] * np.cos(np.radians(altitude_deg))
    rigorous = moon_at(sky, moment)
    up = rigorous.altitude_deg > 0.0
    assert np.abs(seen_deg - rigorous.altitude_deg)[up].max() < 0.02
    turned_deg = (azimuth_deg - rigorous.azimuth_deg + 180.0) % 360.0 - 180.0
    assert np.abs(turned_deg * np.cos(np.radians(rigorous.altitude_deg)))[up].max() < 0.01


def test_every_kind_has_its_place_in_any_mix() -> None:
    sky = sky_of(SITES[0], year_from(date(2026, 1, 1), 30))
    start = datetime(2026, 1, 10, 20, tzinfo=UTC)
    natures: list[tuple[Kind, Nature | None]] = [
        (Kind.DEEP_SKY, Extended("galaxy")), (Kind.DOUBLE_STAR, Pair(3.0, 5.0, 34.0)),
        (Kind.VARIABLE_STAR, None),
        (Kind.METEOR_SHOWER, Shower(262.2, 150.0)), (Kind.EVENT, Occasion(start, start.replace(hour=22))),
    ]  # fmt: skip
    fixed = [Target(k.value, k, 40.0, 50.0, nature=n) for k, n in natures]
    moving = [
        Target("Jupiter", Kind.PLANET, body="jupiter"), Target("Ceres", Kind.MINOR_BODY, nature=CERES),
        moon_feature(), Target("Encke", Kind.MINOR_BODY, nature=ENCKE), moon_feature("again"),
        Target("eclipse", Kind.ECLIPSE, body=MOON),
        Target("at Jupiter", Kind.EVENT, body="jupiter", nature=Occasion(start, start.replace(hour=22))),
    ]  # fmt: skip
    mixed = [t for pair in zip(moving, [*fixed, fixed[0], fixed[1]], strict=True) for t in pair]
    mixed = [
        Target(f"{i}", t.kind, t.ra_deg, t.dec_deg, t.body, nature=t.nature) for i, t in enumerate(mixed)
    ]
    places = places_of(sky, mixed)
    assert places.moving.tolist() == [i for i, t in enumerate(mixed) if t.moves] == list(range(0, 14, 2))
    alone = [places_of(sky, [target]) for target in mixed]
    for row, one in enumerate(alone):
        assert np.abs(places.ra_of_date_deg[row] - one.ra_of_date_deg[0]).max() < 1e-9
        moment = sky.midnight_unix_s + 9000.0
        nights = np.arange(len(sky))
        assert separation_deg(*places.at(row, nights, moment), *one.at(0, nights, moment)).max() < 1e-9
    assert np.ptp(places.dec_of_date_deg[4]) > 50.0 > 1.0 > np.ptp(places.dec_of_date_deg[0])


def test_a_minor_bodys_motion_is_that_between_its_nights() -> None:
    sky = sky_of(SITES[0], year_from(date(2026, 3, 1), 20))
    places = places_of(sky, [Target("Ceres", Kind.MINOR_BODY, nature=CERES)])
    night = np.arange(19)
    midway = 0.5 * (sky.midnight_unix_s[:-1] + sky.midnight_unix_s[1:])
    one, other = places.at(0, night, midway), places.at(0, night + 1, midway)
    assert separation_deg(*one, *other).max() * 3600.0 < 1.0
    assert (
        separation_deg(*places.at(0, 0, sky.midnight_unix_s[0]), *places.at(0, 1, sky.midnight_unix_s[1]))
        > 0.05
    )


def test_parallax_is_that_of_the_distance() -> None:
    sky = sky_of(SITES[0], [date(2026, 3, 1)])
    places = places_of(sky, [moon_feature(), Target("Venus", Kind.PLANET, body="venus")])
    distance_km = np.sqrt((sky.heavens.moon_km(sky.midnight_unix_s) ** 2).sum(axis=0))
    assert places.parallax_deg[0] == pytest.approx(np.degrees(np.arcsin(6378.137 / distance_km)), rel=1e-5)
    assert places.parallax_deg[1, 0] * 3600.0 == pytest.approx(8.794 / 1.63, abs=0.1)
    assert AU_KM * np.sin(np.radians(8.794143 / 3600)) == pytest.approx(6378.14, abs=0.01)
