"""Windows: every end against pyerfa, and nothing between them missed.

Limits: altitude at a crossing within 12" with air and measured UT1, within 0.5" without air at the same UT1;
times within 4 s where the altitude changes faster than 2" a second; profiles within 2 s, walls included.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pytest
from numpy.typing import NDArray
from skyfield.api import wgs84

from scheduler.domain import Horizon, Kind, Site, Target
from scheduler.sky import altitude_azimuth, places_of, sidereal_deg, sky_of, sun_at
from scheduler.sky.ephemeris import Floats, ephemeris, planet, times_of
from scheduler.sky.horizon import lowest_clear_deg
from scheduler.sky.place import Places, separation_deg
from scheduler.sky.refraction import standard_pressure_hpa
from scheduler.sky.season import SeasonSky
from scheduler.visibility.windows import Windows, best_unix_s, culmination_unix_s, windows_of
from tests.scheduler.sky.rigorous import (
    SITES,
    erfa_altitude_azimuth_deg,
    fixed_targets,
    measured_ut1_less_utc_s,
    our_ut1_less_utc_s,
    random_targets,
    year_from,
)

ARCSEC = 1 / 3600
YEAR = year_from(date(2025, 9, 1))


@dataclass(frozen=True)
class Crossings:
    """Window ends that are crossings, not cuts of the span: which target, when, and the limit crossed."""

    ra_deg: Floats
    dec_deg: Floats
    unix_s: Floats
    limit_deg: Floats


def crossings_at(site: Site, pressure_hpa: float | None, seed: int, most: int = 700) -> Crossings:
    sky = sky_of(site, YEAR)
    targets, ra_deg, dec_deg = random_targets(60, seed)
    limit_deg = np.random.default_rng(seed).choice([10.0, 17.0, 30.0], 60)
    spans = sky.noon_unix_s, sky.next_noon_unix_s
    windows = windows_of(sky, places_of(sky, targets), limit_deg, *spans, pressure_hpa=pressure_hpa)
    target, moment = [], []
    for ends, cut in ((windows.start_unix_s, spans[0]), (windows.end_unix_s, spans[1])):
        inside = np.isfinite(ends) & (np.abs(ends - cut[:, None]) > 0.01)
        target.append(np.nonzero(inside)[0])
        moment.append(ends[inside])
    which, when = np.concatenate(target), np.concatenate(moment)
    sun = sun_at(sky, when)
    # Close to the Sun, in daylight, its deflection of light is left out.
    dark = separation_deg(ra_deg[which], dec_deg[which], sun.ra_of_date_deg, sun.dec_of_date_deg) > 5.0
    chosen = np.random.default_rng(seed).permutation(np.flatnonzero(dark))[:most]
    which = which[chosen]
    return Crossings(ra_deg[which], dec_deg[which], when[chosen], limit_deg[which])


@pytest.mark.parametrize("site", SITES, ids=lambda s: s.name)
def test_without_air_every_crossing_is_within_half_an_arcsecond(site: Site) -> None:
    c = crossings_at(site, 0.0, seed=11)
    altitude_deg, _ = erfa_altitude_azimuth_deg(
        site, c.ra_deg, c.dec_deg, c.unix_s, our_ut1_less_utc_s(c.unix_s), 0.0
    )
    assert len(c.unix_s) == 700
    assert np.abs(altitude_deg - c.limit_deg).max() < 0.5 * ARCSEC


@pytest.mark.parametrize("site", SITES, ids=lambda s: s.name)
def test_with_air_and_the_earths_measured_turning_every_crossing_is_within_12_arcseconds(site: Site) -> None:
    c = crossings_at(site, None, seed=12)
    ut1_s, pressure_hpa = measured_ut1_less_utc_s(c.unix_s), standard_pressure_hpa(site.elevation_m)
    altitude_deg, later_deg = (
        erfa_altitude_azimuth_deg(site, c.ra_deg, c.dec_deg, c.unix_s + s, ut1_s, pressure_hpa)[0]
        for s in (0.0, 1.0)
    )
    off_deg, rate_deg_s = np.abs(altitude_deg - c.limit_deg), np.abs(later_deg - altitude_deg)
    assert off_deg.max() < 12 * ARCSEC
    moving = rate_deg_s > 2 * ARCSEC
    assert moving.sum() > 100
    assert (off_deg / rate_deg_s)[moving].max() < 4.0


WALLED = Horizon((0.0, 40.0, 40.0, 90.0, 150.0, 150.0, 200.0, 280.0, 330.0),
                 (5.0, 5.0, 32.0, 32.0, 10.0, 25.0, 3.0, 12.0, 20.0))  # fmt: skip


@pytest.mark.parametrize("site", SITES, ids=lambda s: s.name)
def test_profile_crossings_are_within_two_seconds_walls_included(site: Site) -> None:
    walled = replace(site, horizon=WALLED)
    c = crossings_at(walled, 0.0, seed=13)
    ut1_s = our_ut1_less_utc_s(c.unix_s)
    margin_deg = []
    for late_s in (-2.0, 0.0, 2.0):
        altitude_deg, azimuth_deg = erfa_altitude_azimuth_deg(
            site, c.ra_deg, c.dec_deg, c.unix_s + late_s, ut1_s, 0.0
        )
        margin_deg.append(altitude_deg - np.maximum(lowest_clear_deg(walled, azimuth_deg), c.limit_deg))
    before, at, after = margin_deg
    flips = (before > 0.0) != (after > 0.0)
    grazes = np.abs(at) < 1 * ARCSEC
    assert (flips | grazes).all()
    assert flips.mean() > 0.9
    at_a_wall = np.abs(before - after) > 1.0
    if abs(site.latitude_deg) < 75.0:
        assert at_a_wall.sum() >= 10


def up_by_plain_sampling(
    sky: SeasonSky, places: Places, limit_deg: Floats, moments: Floats
) -> tuple[NDArray[np.bool_], Floats]:
    """Whether targets stand high enough at (nights, times), and their margin, without the closed form."""
    target, night = np.arange(len(places))[:, None, None], np.arange(len(sky))[:, None]
    altitude_deg, azimuth_deg = altitude_azimuth(
        sky.site, *places.at(target, night, moments), sidereal_deg(sky, night, moments)
    )
    margin_deg = altitude_deg - np.maximum(lowest_clear_deg(sky.site, azimuth_deg), limit_deg[:, None, None])
    return margin_deg > 0.0, margin_deg


def inside(windows: Windows, moments: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether moments (nights, times) lie in a window, and whether one of its ends is within 3 s."""
    start, end = windows.start_unix_s[..., None, :], windows.end_unix_s[..., None, :]
    asked = moments[None, :, :, None]
    at_edge = (np.abs(asked - start) < 3.0) | (np.abs(asked - end) < 3.0)
    within = (asked > start) & (asked < end)
    return np.asarray(within.any(axis=-1)), np.asarray(at_edge.any(axis=-1))


@pytest.mark.parametrize("horizon", [None, WALLED], ids=["flat", "walled"])
@pytest.mark.parametrize("site", SITES, ids=lambda s: s.name)
def test_a_target_is_high_enough_inside_its_windows_and_nowhere_else(
    site: Site, horizon: Horizon | None
) -> None:
    sky = sky_of(replace(site, horizon=horizon), YEAR[::40])
    targets, _, _ = random_targets(40, seed=14)
    moving = [Target(b, Kind.PLANET, body=b) for b in ("venus", "mars", "saturn")]
    places = places_of(sky, [*targets, *moving])
    limit_deg = np.linspace(0.0, 50.0, len(places))
    spans = sky.noon_unix_s + 1800.0, sky.next_noon_unix_s - 3600.0
    windows = windows_of(sky, places, limit_deg, *spans, pressure_hpa=0.0)
    share = np.linspace(0.0, 1.0, 400)
    moments = spans[0][:, None] * (1 - share) + spans[1][:, None] * share
    up, margin_deg = up_by_plain_sampling(sky, places, limit_deg, moments)
    found, at_edge = inside(windows, moments)
    third = np.diff(up.astype(np.int8), axis=-1, prepend=0).clip(0).sum(axis=-1) > 2
    # The planets' parallax is in the windows, not in the sampling: at most 33" for Venus at its nearest.
    judged = ~at_edge & (np.abs(margin_deg) > 40 * ARCSEC) & ~third[..., None]
    assert (found == up)[judged].all()
    assert judged.mean() > 0.75


def test_a_night_can_hold_two_windows_of_one_target() -> None:
    # In a long northern night a target low in the north sets in the evening and rises again before dawn.
    sky = sky_of(SITES[0], YEAR)
    places = places_of(sky, fixed_targets([270.0], [30.0]))
    windows = windows_of(sky, places, [10.0], sky.dark_start_unix_s, sky.dark_end_unix_s)
    two = np.isfinite(windows.start_unix_s[0]).all(axis=1)
    assert two.sum() > 20
    assert (windows.end_unix_s[0, two, 0] < windows.start_unix_s[0, two, 1]).all()


def test_some_of_the_sky_never_rises_and_some_never_sets() -> None:
    # Common practice, no source: from latitude phi, declinations beyond phi - 90 never rise.
    sky = sky_of(SITES[0], YEAR[::30])
    places = places_of(sky, fixed_targets([10.0, 10.0, 10.0], [-36.0, 80.0, 60.0]))
    windows = windows_of(sky, places, [0.0, 20.0, 70.0], sky.noon_unix_s, sky.next_noon_unix_s)
    assert windows.minutes[0].sum() == 0.0
    assert np.isnan(windows.start_unix_s[0]).all()
    assert np.array_equal(windows.start_unix_s[1, :, 0], sky.noon_unix_s)
    assert np.array_equal(windows.end_unix_s[1, :, 0], sky.next_noon_unix_s)
    assert 0.0 < windows.minutes[2].sum(axis=1).max() < 1440.0


@pytest.mark.parametrize("latitude_deg", [-90.0, 90.0])
def test_at_a_pole_the_sky_turns_without_rising(latitude_deg: float) -> None:
    site = Site("Pole", latitude_deg, 0.0, 2800.0, "UTC", 22.0, 0.12)
    sky = sky_of(site, YEAR[::60])
    side = np.sign(latitude_deg)
    places = places_of(sky, fixed_targets([0.0, 0.0, 0.0], [30.0 * side, 10.0 * side, -30.0 * side]))
    windows = windows_of(sky, places, [20.0] * 3, sky.noon_unix_s, sky.next_noon_unix_s)
    assert windows.minutes[:, :, 0].tolist() == [[1440.0] * len(sky), [0.0] * len(sky), [0.0] * len(sky)]


def test_nights_without_a_span_have_no_window_and_spans_may_differ_by_target() -> None:
    sky = sky_of(SITES[3], YEAR[::20])
    assert np.isnan(sky.dark_start_unix_s).any()
    places = places_of(
        sky, [*fixed_targets([10.0, 200.0], [60.0, 80.0]), Target("Mars", Kind.PLANET, body="mars")]
    )
    start = np.broadcast_to(sky.dark_start_unix_s, (3, len(sky))).copy()
    end = np.broadcast_to(sky.dark_end_unix_s, (3, len(sky))).copy()
    end[1] = start[1] + 1800.0
    windows = windows_of(sky, places, [10.0] * 3, start, end)
    no_night = np.isnan(sky.dark_start_unix_s)
    assert np.isnan(windows.start_unix_s[:, no_night]).all()
    assert windows.minutes[1].sum(axis=1).max() == pytest.approx(30.0)


def test_best_is_the_culmination_or_the_nearest_end_of_the_window() -> None:
    sky = sky_of(SITES[0], YEAR[::15])
    targets, _, _ = random_targets(20, seed=15)
    places = places_of(sky, [*targets, Target("Venus", Kind.PLANET, body="venus")])
    windows = windows_of(sky, places, np.full(21, 15.0), sky.dark_start_unix_s, sky.dark_end_unix_s)
    best = best_unix_s(sky, places, windows)
    there = np.isfinite(windows.start_unix_s)
    assert np.array_equal(np.isfinite(best), there)
    target, night = (a[there] for a in np.indices(there.shape)[:2])

    def altitude_at(moment: Floats) -> Floats:
        return altitude_azimuth(
            sky.site, *places.at(target, night, moment), sidereal_deg(sky, night, moment)
        )[0]

    highest_deg = altitude_at(best[there])
    for share in np.linspace(0.0, 1.0, 25):
        sampled = windows.start_unix_s[there] * (1 - share) + windows.end_unix_s[there] * share
        assert (altitude_at(sampled) <= highest_deg + 1e-4).all()


def test_culmination_puts_a_target_on_the_meridian() -> None:
    sky = sky_of(SITES[1], YEAR[::30])
    places = places_of(sky, [*fixed_targets([123.0], [10.0]), Target("Jupiter", Kind.PLANET, body="jupiter")])
    passage = culmination_unix_s(sky, places)
    target, night = np.indices(passage.shape)
    ra_deg, _ = places.at(target, night, passage)
    off_deg = (sidereal_deg(sky, night, passage) - ra_deg + 180.0) % 360.0 - 180.0
    assert np.abs(off_deg).max() < 0.1 * ARCSEC
    assert np.abs(passage - sky.midnight_unix_s).max() < 12.1 * 3600.0
    later = culmination_unix_s(sky, places, sky.midnight_unix_s + 10 * 3600.0)
    assert np.abs(later - sky.midnight_unix_s - 10 * 3600.0).max() < 12.1 * 3600.0


def test_planets_windows_agree_with_a_rigorous_altitude() -> None:
    # skyfield's own chain from the site itself, parallax and all; the limit is a true altitude.
    site = SITES[0]
    sky = sky_of(site, YEAR[::9])
    for body in ("mercury", "venus", "mars", "jupiter"):
        places = places_of(sky, [Target(body, Kind.PLANET, body=body)])
        windows = windows_of(sky, places, [10.0], sky.noon_unix_s, sky.next_noon_unix_s, pressure_hpa=0.0)
        ends = np.concatenate([windows.start_unix_s.ravel(), windows.end_unix_s.ravel()])
        cut = np.isin(ends, np.concatenate([sky.noon_unix_s, sky.next_noon_unix_s])) | np.isnan(ends)
        observer = ephemeris()["earth"] + wgs84.latlon(
            site.latitude_deg, site.longitude_deg, site.elevation_m
        )
        seen = observer.at(times_of(ends[~cut])).observe(planet(body)).apparent()
        assert np.abs(seen.altaz()[0].degrees - 10.0).max() < 3 * ARCSEC
