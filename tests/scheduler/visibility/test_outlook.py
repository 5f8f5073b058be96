"""How targets stand: the quick table against the exact lights, and the parts against one another."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.testing import assert_allclose

from scheduler.sky import apparent_altitude_deg
from scheduler.sky.place import places_of
from scheduler.sky.season import sky_of
from scheduler.visibility.brightness import airmass
from scheduler.visibility.outlook import AirTable, LightTable, lights_at, outlook_of
from tests.small_season import ANDROMEDA, FLATS, JUPITER, LARKMOOR, ORION, POINT


def test_the_light_table_keeps_to_the_exact_lights() -> None:
    random = np.random.default_rng(0)
    for site in (LARKMOOR, FLATS, POINT):
        sky = sky_of(site, [date(2027, 3, 20) + timedelta(days=day) for day in range(20)])
        night = random.integers(0, 20, 4000)
        moments = (
            sky.noon_unix_s[night] + random.random(4000) * (sky.next_noon_unix_s - sky.noon_unix_s)[night]
        )
        exact, read = lights_at(sky, moments), LightTable(sky).at(night, moments)
        for name in ("moon_altitude_deg", "sun_altitude_deg", "moon_dec_deg", "moon_phase_angle_deg"):
            low = np.abs(getattr(exact, name)) < 60.0
            assert_allclose(getattr(read, name)[low], getattr(exact, name)[low], atol=0.004, err_msg=name)
            assert_allclose(getattr(read, name), getattr(exact, name), atol=0.5, err_msg=name)
        turn = (read.moon_ra_deg - exact.moon_ra_deg + 180.0) % 360.0 - 180.0
        assert np.abs(turn).max() < 0.003
        assert_allclose(read.moon_lit_fraction, exact.moon_lit_fraction, atol=1e-5)


def test_an_outlook_is_the_same_from_the_table_and_afresh() -> None:
    sky = sky_of(LARKMOOR, [date(2027, 1, 15) + timedelta(days=day) for day in range(8)])
    places = places_of(sky, (ORION, ANDROMEDA, JUPITER))
    target, night = np.meshgrid(np.arange(3), np.arange(8), indexing="ij")
    moments = sky.midnight_unix_s[night] - 7200.0
    afresh = outlook_of(sky, places, target, night, moments)
    read = outlook_of(sky, places, target, night, moments, LightTable(sky).at(night, moments))
    assert_allclose(read.sky_brightness, afresh.sky_brightness, atol=0.002)
    assert_allclose(read.moon_separation_deg, afresh.moon_separation_deg, atol=0.003)


def test_the_air_table_keeps_to_refraction_and_airmass() -> None:
    true_deg = np.linspace(-0.5, 90.0, 40_001)
    for site in (LARKMOOR, FLATS, POINT):
        altitude_deg, airmasses = AirTable(site).at(true_deg)
        assert_allclose(altitude_deg, apparent_altitude_deg(site, true_deg), atol=1e-4)
        exact = airmass(apparent_altitude_deg(site, true_deg))
        assert_allclose(airmasses, exact, atol=0.02)
        assert_allclose(airmasses[true_deg > 1.0], exact[true_deg > 1.0], atol=1e-3)


def test_a_full_moon_brightens_the_sky_and_leaves_the_air() -> None:
    # New Moon 7 January, full Moon 22 January 2027 (from memory)
    sky = sky_of(LARKMOOR, [date(2027, 1, 7), date(2027, 1, 22)])
    places = places_of(sky, (ORION,))
    night = np.array([0, 1])
    seen = outlook_of(sky, places, np.zeros(2, np.int64), night, sky.midnight_unix_s - 7200.0)
    assert seen.moon_lit_fraction[0] < 0.02 < 0.98 < seen.moon_lit_fraction[1]
    assert 1.0 < seen.sky_brightness[0] - seen.sky_brightness[1] < 5.0
    assert_allclose(seen.airmass[0], seen.airmass[1], rtol=0.2)
