"""The season of each planet, judged by skyfield's own altitudes and by what almanacs know."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from skyfield.api import wgs84

from scheduler.domain import Horizon, Site
from scheduler.errors import UnknownName
from scheduler.sky import sky_of
from scheduler.sky.apparitions import Apparition, PlanetSeason, planet_season_of
from scheduler.sky.ephemeris import PLANETS, Floats, ephemeris, planet, times_of
from scheduler.sky.events import EventKind
from scheduler.sky.planet_nights import planet_nights_of
from scheduler.sky.season import SeasonSky

from .rigorous import SITES, year_from

NORTH, SOUTH, EQUATOR, ARCTIC, ANTARCTIC = SITES
FIRST = date(2026, 9, 1)


@pytest.fixture(scope="module")
def skies() -> dict[str, SeasonSky]:
    return {site.name: sky_of(site, year_from(FIRST)) for site in SITES}


def skyfields_altitude_deg(site: Site, body: str, unix_s: Floats) -> Floats:
    """With air, and from the site itself: nothing here is ours."""
    place = wgs84.latlon(site.latitude_deg, site.longitude_deg, site.elevation_m)
    seen = (ephemeris()["earth"] + place).at(times_of(unix_s)).observe(planet(body)).apparent()
    return np.asarray(seen.altaz(temperature_C=10.0, pressure_mbar=1010.0)[0].degrees)


@pytest.mark.parametrize("site", [NORTH, SOUTH, EQUATOR], ids=lambda s: s.name)
@pytest.mark.parametrize("body", PLANETS)
def test_first_and_last_evenings_are_where_skyfield_has_them(
    skies: dict[str, SeasonSky], site: Site, body: str
) -> None:
    sky = skies[site.name]
    dusk_deg, dawn_deg = (
        skyfields_altitude_deg(site, body, unix_s)
        for unix_s in (sky.twilit_start_unix_s, sky.twilit_end_unix_s)
    )
    nights = planet_nights_of(sky, body, 12.0)
    far = np.abs(nights.elongation_deg) >= 12.0
    for ours, theirs_deg in ((nights.at_dusk, dusk_deg), (nights.at_dawn, dawn_deg)):
        clear = np.abs(theirs_deg - 12.0) > 0.05
        assert np.array_equal(ours[clear], ((theirs_deg > 12.0) & far)[clear])
    season = planet_season_of(sky, body, lowest_altitude_deg=12.0)
    for one in season.apparitions:
        if one.first_evening and one.first_evening > FIRST:
            row = (one.first_evening - FIRST).days
            assert dusk_deg[row] > 11.95
            assert dusk_deg[row - 1] < 12.05 or not far[row - 1]
        if one.first_morning and one.first_morning > FIRST + timedelta(days=1):
            row = (one.first_morning - FIRST).days - 1
            assert dawn_deg[row] > 11.95
            assert dawn_deg[row - 1] < 12.05 or not far[row - 1]


def test_jupiters_year_reads_as_observers_know_it(skies: dict[str, SeasonSky]) -> None:
    # Conjunction late in July 2026, opposition 2027-02-11 (Astronomical Almanac, from memory).
    season = planet_season_of(skies["North"], "jupiter")
    (one,) = season.apparitions
    assert one.peak is not None
    assert (one.peak.kind, one.peak.instant.date()) == (EventKind.OPPOSITION, date(2027, 2, 11))
    assert one.first_morning is not None
    assert one.first_evening is not None
    assert one.first_morning < one.peak.instant.date() < one.first_evening < one.best.last
    assert one.best.first < one.best.night < one.best.last
    assert not one.best.mornings
    assert (one.under_way, one.goes_on) == (False, False)
    assert [gap.why for gap in season.lost] == ["too low or lost in daylight"] * 2
    assert season.lost[1].first == one.last + timedelta(days=1)
    assert season.words[1].startswith("in the morning sky from 9 Sep 2026; opposition on 11 Feb 2027; in the")


def test_inner_planets_have_an_apparition_on_either_side(skies: dict[str, SeasonSky]) -> None:
    for body, least in (("mercury", 4), ("venus", 2)):
        apparitions = planet_season_of(skies["South"], body, lowest_altitude_deg=5.0).apparitions
        assert len(apparitions) >= least
        for one in apparitions:
            assert (one.first_morning is None) != (one.first_evening is None)
            assert one.best.mornings == (one.first_morning is not None)
            ends = (one.first_morning, one.last_morning, one.first_evening, one.last_evening)
            start, end = (day for day in ends if day)
            assert start <= one.best.first <= one.best.night <= one.best.last <= end
            if one.peak:
                east = one.peak.kind is EventKind.EASTERN_ELONGATION
                assert east == (one.first_evening is not None)
        sides = [one.best.mornings for one in apparitions]
        assert all(a != b for a, b in itertools.pairwise(sides))


@pytest.mark.parametrize("body", PLANETS)
def test_nights_are_shown_or_lost_and_never_near_the_sun(skies: dict[str, SeasonSky], body: str) -> None:
    for site in SITES:
        nights = planet_nights_of(skies[site.name], body, 5.0)
        assert not nights.shows[np.abs(nights.elongation_deg) < 12.0].any()
        assert not (nights.shows & nights.bright).any()
        season = planet_season_of(skies[site.name], body, lowest_altitude_deg=5.0)
        for gap in season.lost:
            rows = slice((gap.first - FIRST).days, (gap.last - FIRST).days + 1)
            assert not nights.shows[rows].any()
        inside = np.zeros(365, bool)
        for one in season.apparitions:
            inside[(one.first - FIRST).days : (one.last - FIRST).days + 1] = True
        assert not (nights.shows & ~inside).any()
        assert all(season.words)


@pytest.mark.parametrize("latitude_deg", [90.0, 80.0, -90.0])
def test_poles_have_planets_too(latitude_deg: float) -> None:
    sky = sky_of(Site("Pole", latitude_deg, 0.0, 0.0, "UTC", 22.0, 0.1), year_from(FIRST))
    seasons = {body: planet_season_of(sky, body) for body in PLANETS}
    north = latitude_deg > 0
    # At a pole a planet's height is its declination: Uranus +20, Jupiter below it, Saturn near the equator.
    assert bool(seasons["jupiter"].apparitions) == (latitude_deg == 80.0)
    assert not seasons["saturn"].apparitions or latitude_deg == 80.0
    assert bool(seasons["uranus"].apparitions) == north
    reasons = {gap.why for season in seasons.values() for gap in season.lost}
    assert reasons <= {"too low all day", "the nights are too bright", "too low or lost in daylight"}
    assert "too low all day" in reasons
    midsummer = sky_of(ARCTIC, year_from(date(2027, 6, 1), 30))
    for body in PLANETS:
        season = planet_season_of(midsummer, body)
        assert season.apparitions == ()
        assert len(season.words) == 1
        assert season.words[0].startswith("never 20° high: ")


def test_a_horizon_and_an_early_finish_take_what_they_take(skies: dict[str, SeasonSky]) -> None:
    sky = skies["North"]
    wall = replace(NORTH, horizon=Horizon((80.0, 100.0, 260.0, 280.0), (40.0, 2.0, 2.0, 40.0)))
    behind = sky_of(wall, year_from(FIRST))
    (free,), (walled,) = (planet_season_of(s, "jupiter").apparitions for s in (sky, behind))
    assert free.first <= walled.first < walled.last <= free.last
    early = planet_season_of(sky, "jupiter", finish_unix_s=sky.midnight_unix_s - 3 * 3600.0).apparitions[0]
    assert early.best.night > free.best.night  # it must first climb before the early finish
    assert (early.first, early.last, early.peak) == (free.first, free.last, free.peak)
    missing = planet_season_of(sky, "jupiter", finish_unix_s=np.full(365, np.nan))
    assert missing.apparitions[0] == free


def test_the_seasons_edges_are_told() -> None:
    sky = sky_of(NORTH, year_from(date(2027, 2, 1), 28))
    (one,) = planet_season_of(sky, "jupiter").apparitions
    assert (one.under_way, one.goes_on) == (True, True)
    assert one.words.startswith(
        "opposition on 11 Feb 2027; in the evening sky from 25 Feb 2027; best nights from"
    )
    assert one.words.endswith("; goes on beyond the season")
    (single,) = planet_season_of(sky_of(NORTH, [date(2027, 2, 14)]), "jupiter").apparitions
    assert isinstance(single, Apparition)
    assert single.first == single.last == date(2027, 2, 14)


def test_a_planet_that_is_none() -> None:
    with pytest.raises(UnknownName):
        planet_season_of(sky_of(NORTH, [date(2027, 2, 14)]), "vulcan")
    assert isinstance(planet_season_of(sky_of(NORTH, [date(2027, 2, 14)]), "mercury"), PlanetSeason)


def test_an_evening_star_that_never_sets_is_told_as_one_of_the_evening() -> None:
    sky = sky_of(NORTH, year_from(date(2027, 12, 1), 180))
    venus = next(one for one in planet_season_of(sky, "venus").apparitions if not one.best.mornings)
    both_ends = replace(venus, first_morning=venus.last, last_morning=venus.last)
    assert "evening sky" in both_ends.words
    assert "morning" not in both_ends.words


def test_best_nights_before_a_planet_stands_in_the_evening_sky_are_not_called_evenings() -> None:
    sky = sky_of(NORTH, year_from(date(2027, 9, 1), 120))
    late_unix_s = sky.midnight_unix_s + 2 * 3600.0
    (rising,) = planet_season_of(sky, "jupiter", finish_unix_s=late_unix_s).apparitions
    assert rising.first_evening is None
    assert "best nights from" in rising.words
