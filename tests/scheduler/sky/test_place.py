"""Apparent places against pyerfa (fixed targets) and skyfield's own chain (planets)."""

from __future__ import annotations

from datetime import date

import erfa
import numpy as np
import pytest

from scheduler.domain import Kind, Site, Target
from scheduler.errors import UnknownName
from scheduler.sky import altitude_azimuth, places_of, sidereal_deg, sky_of, sun_at
from scheduler.sky.ephemeris import PLANETS, ephemeris, planet, times_of

from .rigorous import SITES, erfa_altitude_azimuth_deg, our_ut1_less_utc_s, random_targets, year_from

ARCSEC = 1 / 3600


@pytest.mark.parametrize("site", SITES, ids=lambda s: s.name)
def test_altitude_is_within_half_an_arcsecond_of_erfa(site: Site) -> None:
    # Same UT1, no air, and away from the Sun, whose deflection of light we leave out.
    sky = sky_of(site, year_from(date(2025, 9, 1), 60))
    targets, ra_deg, dec_deg = random_targets(40, seed=3)
    places = places_of(sky, targets)
    target, night = (a.ravel() for a in np.indices((40, 60)))
    moment = sky.midnight_unix_s[night] + np.random.default_rng(4).uniform(-43000.0, 43000.0, len(night))
    found_deg, _ = altitude_azimuth(site, *places.at(target, night, moment), sidereal_deg(sky, night, moment))
    expected_deg, _ = erfa_altitude_azimuth_deg(
        site, ra_deg[target], dec_deg[target], moment, our_ut1_less_utc_s(moment), 0.0
    )
    sun = sun_at(sky, moment)
    apart_deg = np.degrees(
        erfa.seps(*np.radians([ra_deg[target], dec_deg[target], sun.ra_of_date_deg, sun.dec_of_date_deg]))
    )
    assert np.abs(found_deg - expected_deg)[apart_deg > 5.0].max() < 0.5 * ARCSEC


@pytest.mark.parametrize("body", PLANETS)
def test_planets_follow_their_rigorous_track_through_the_night(body: str) -> None:
    sky = sky_of(SITES[0], year_from(date(2025, 9, 1))[::5])
    places = places_of(sky, [Target(body, Kind.PLANET, body=body)])
    night = np.repeat(np.arange(len(sky)), 7)
    moment = sky.midnight_unix_s[night] + np.tile(np.linspace(-43000.0, 43000.0, 7), len(sky))
    times = times_of(moment)
    seen = ephemeris()["earth"].at(times).observe(planet(body)).apparent()
    ra, dec, _ = seen.radec(epoch="date")
    found_ra_deg, found_dec_deg = places.at(0, night, moment)
    off_deg = np.hypot(
        ((found_ra_deg - ra.hours * 15.0 + 180.0) % 360.0 - 180.0) * np.cos(dec.radians),
        found_dec_deg - dec.degrees,
    )
    sun_apart_deg = seen.separation_from(ephemeris()["earth"].at(times).observe(ephemeris()["sun"])).degrees
    assert off_deg[sun_apart_deg > 3.0].max() < (1.5 if body == "mercury" else 0.4) * ARCSEC


def test_a_mixed_wish_list_keeps_its_order() -> None:
    sky = sky_of(SITES[0], [date(2026, 1, 10)])
    star = Target("star", Kind.DEEP_SKY, 10.0, 40.0)
    twin = Target("twin", Kind.DEEP_SKY, 10.0, 40.0)
    jupiter = Target("Jupiter", Kind.PLANET, body="jupiter")
    both, alone = (
        places_of(sky, [star, jupiter, twin]),
        places_of(sky, [jupiter]),
    )
    assert both.moving.tolist() == [1]
    assert both.ra_of_date_deg[0] == both.ra_of_date_deg[2]
    assert both.ra_of_date_deg[1] == alone.ra_of_date_deg[0]
    # On the day of its opposition Jupiter stands some 12 h from the Sun.
    assert (
        abs((both.ra_of_date_deg[1, 0] - sun_at(sky, sky.midnight_unix_s).ra_of_date_deg[0]) % 360 - 180)
        < 1.0
    )


def test_only_planets_are_known_by_name() -> None:
    sky = sky_of(SITES[0], [date(2026, 1, 10)])
    with pytest.raises(UnknownName, match="did you mean mercury") as caught:
        places_of(sky, [Target("Vulcan", Kind.PLANET, body="vulcan")])
    assert "saturn" in caught.value.near
