"""Sun and Moon against skyfield's own chain, and against astropy with the same ephemeris."""

from __future__ import annotations

from datetime import date

import astropy.units as u
import numpy as np
import pytest
from astropy.coordinates import AltAz, EarthLocation, get_body
from astropy.time import Time
from astropy.utils import iers
from skyfield.almanac import moon_phase
from skyfield.api import wgs84

from scheduler.domain import Site
from scheduler.errors import InvalidValue
from scheduler.sky import moon_at, sky_of, sun_at
from scheduler.sky.ephemeris import ephemeris, times_of

from .rigorous import SITES, year_from

ARCSEC = 1 / 3600


@pytest.mark.parametrize("site", SITES, ids=lambda s: s.name)
@pytest.mark.parametrize("light", ["sun", "moon"])
def test_lights_stand_where_skyfield_puts_them(site: Site, light: str) -> None:
    sky = sky_of(site, year_from(date(2025, 9, 1)))
    moment = np.random.default_rng(5).uniform(sky.noon_unix_s[0], sky.next_noon_unix_s[-1], 2000)
    observer = ephemeris()["earth"] + wgs84.latlon(site.latitude_deg, site.longitude_deg, site.elevation_m)
    seen = observer.at(times_of(moment)).observe(ephemeris()[light]).apparent()
    altitude, azimuth, _ = seen.altaz()
    found = (sun_at if light == "sun" else moon_at)(sky, moment)
    # The Sun's deflection of its own light, up to 1.75", is left out of ours.
    limit_deg = (2.5 if light == "sun" else 1.0) * ARCSEC
    assert np.abs(found.altitude_deg - altitude.degrees).max() < limit_deg
    sideways_deg = ((found.azimuth_deg - azimuth.degrees + 180.0) % 360.0 - 180.0) * np.cos(altitude.radians)
    assert np.abs(sideways_deg).max() < limit_deg
    ra, dec, _ = seen.radec(epoch="date")
    assert np.abs(found.dec_of_date_deg - dec.degrees).max() < limit_deg
    off_deg = (found.ra_of_date_deg - ra.hours * 15.0 + 180.0) % 360.0 - 180.0
    assert np.abs(off_deg * np.cos(dec.radians)).max() < limit_deg


def test_lights_stand_where_astropy_puts_them() -> None:
    site = SITES[1]
    sky = sky_of(site, year_from(date(2025, 9, 1), 30))
    moment = np.linspace(sky.noon_unix_s[0], sky.next_noon_unix_s[-1], 60)
    place = EarthLocation.from_geodetic(
        site.longitude_deg * u.deg, site.latitude_deg * u.deg, site.elevation_m * u.m
    )
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        times = Time(moment, format="unix")
        found = [
            get_body(body, times, place, ephemeris=ephemeris().path).transform_to(
                AltAz(obstime=times, location=place)
            )
            for body in ("sun", "moon")
        ]
    altitudes = (sun_at(sky, moment).altitude_deg, moon_at(sky, moment).altitude_deg)
    for ours_deg, theirs in zip(altitudes, found, strict=True):
        # UT1 predicted three years ahead by one and measured by the other: up to 0.4 s, 6" of turning.
        assert np.abs(ours_deg - theirs.alt.deg).max() < 8 * ARCSEC


def test_phase_agrees_with_skyfield() -> None:
    sky = sky_of(SITES[0], year_from(date(2025, 9, 1), 60))
    times = times_of(sky.midnight_unix_s)
    seen = ephemeris()["earth"].at(times).observe(ephemeris()["moon"])
    assert np.abs(sky.lit_fraction - seen.fraction_illuminated(ephemeris()["sun"])).max() < 2e-4
    longitude = moon_phase(ephemeris(), times).degrees
    assert (sky.waxing == (longitude < 180.0)).all()


def test_any_shape_is_read_and_nan_stays_nan() -> None:
    sky = sky_of(SITES[0], year_from(date(2026, 3, 1), 4))
    grid = sky.noon_unix_s[:, None] + np.linspace(0.0, 86000.0, 5)
    grid[1, 2] = np.nan
    moon = moon_at(sky, grid)
    assert moon.altitude_deg.shape == (4, 5)
    assert np.isnan(moon.altitude_deg).sum() == np.isnan(moon.lit_fraction).sum() == 1
    assert float(moon_at(sky, grid[0, 0]).altitude_deg) == moon.altitude_deg[0, 0]
    assert ((moon.semidiameter_deg[0] > 0.24) & (moon.semidiameter_deg[0] < 0.29)).all()


def test_times_outside_the_season_are_refused() -> None:
    sky = sky_of(SITES[0], year_from(date(2026, 3, 1), 4))
    with pytest.raises(InvalidValue):
        sun_at(sky, sky.noon_unix_s[0] - 40 * 86400.0)
