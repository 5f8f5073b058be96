"""What is said about a visit agrees with the sky."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from scheduler.domain import (
    BINOCULARS,
    SUN_DISTANCE_DEG,
    TELESCOPE,
    Binoculars,
    EveningRule,
    Opportunities,
    Routine,
    Span,
)
from scheduler.sky import sky_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.opportunities import opportunities_of
from scheduler.visibility.outlook import lights_at
from scheduler.visibility.prospect import Prospect, prospect_for
from scheduler.visibility.sights import looks_at, sights_of
from scheduler.visibility.words import why_then
from tests.small_season import ANDROMEDA, ECLIPSE, FLATS, JUPITER, MERCURY, ORION, PERSEIDS, PLATO, scenario

WISHED = scenario(ORION, ANDROMEDA, JUPITER, start=date(2027, 1, 8), nights=24)


@pytest.fixture(scope="module")
def seen() -> tuple[Prospect, Opportunities]:
    sky = sky_of(WISHED.site, WISHED.season.evenings)
    prospect = prospect_for(sky, WISHED)
    free = free_nights_of(WISHED, sky.nights, [0.4] * len(sky))
    return prospect, opportunities_of(prospect, free, WISHED.routine)


def words(prospect: Prospect, rows: Opportunities, row: int, minutes: int) -> tuple[str, Span]:
    """Return what is said of a visit of `minutes` at the start of an opportunity."""
    night = prospect.sky.nights[int(rows.night[row])]
    start = rows.moment(int(rows.start_min[row]))
    time = Span(start, start + timedelta(minutes=minutes))
    (sight,) = sights_of(prospect, rows.target[[row]], rows.night[[row]], np.array([time.middle.timestamp()]))
    return why_then(prospect, rows, row, night, time, time.middle, sight), time


def test_the_moon_is_said_to_be_down_only_if_it_is_down_all_through(
    seen: tuple[Prospect, Opportunities],
) -> None:
    prospect, rows = seen
    said = set()
    for row in np.flatnonzero(rows.target == 0).tolist():
        text, time = words(prospect, rows, row, 120)
        up = [span.meet(time) for span in prospect.sky.nights[int(rows.night[row])].moon_up]
        minutes = sum(span.minutes for span in up if span)
        expected = "Moon down" if minutes == 0 else "up for" if minutes < 119 else "Moon up"
        assert expected in text, (text, minutes)
        said.add(expected)
    assert said == {"Moon down", "up for", "Moon up"}


def test_binoculars_help_to_find_only_what_is_looked_at_through_something_else() -> None:
    bright = replace(ORION, instrument=TELESCOPE)
    in_either = bright, replace(bright, name="M 42 again", instrument=BINOCULARS)
    wished = scenario(*in_either, start=date(2027, 1, 8), nights=1)
    glass = Binoculars("10x50", 10.0, 50.0, 6.5)
    wished = replace(wished, kit=replace(wished.kit, binoculars=glass))
    prospect = prospect_for(sky_of(wished.site, wished.season.evenings), wished)
    moment = np.repeat(prospect.sky.midnight_unix_s - 7200.0, 2)
    in_telescope, in_glass = looks_at(prospect, np.arange(2), np.zeros(2, np.int64), moment)
    assert (in_glass.view.instrument, in_glass.pointing.binoculars_first) == ("10x50", False)
    assert in_telescope.view.instrument != "10x50"
    assert in_telescope.pointing.binoculars_first


def test_later_nights_as_good_are_counted(seen: tuple[Prospect, Opportunities]) -> None:
    prospect, rows = seen
    last = int(np.flatnonzero(rows.target == 2)[-1])
    assert "no later free night is as good" in words(prospect, rows, last, 15)[0]
    first = int(np.flatnonzero(rows.target == 2)[0])
    assert "later free nights as good" in words(prospect, rows, first, 15)[0]


def test_a_poor_moment_is_called_so(seen: tuple[Prospect, Opportunities]) -> None:
    prospect, rows = seen
    best = rows.merit[rows.target == 1].max()
    poor = [row for row in np.flatnonzero(rows.target == 1).tolist() if rows.merit[row] < 0.6 * best]
    assert poor
    text = words(prospect, rows, poor[0], 20)[0]
    assert text.startswith("shows at ")
    assert "% of its best" in text


def test_places_and_constellations_are_those_of_the_targets(seen: tuple[Prospect, Opportunities]) -> None:
    prospect, _ = seen
    midnight = prospect.sky.midnight_unix_s[[0, 0, 0]]
    orion, andromeda, jupiter = sights_of(prospect, np.arange(3), np.zeros(3, np.int64), midnight)
    assert (orion.ra_deg, orion.dec_deg, orion.constellation) == (83.8, -5.4, "Orion")
    assert (andromeda.constellation, jupiter.constellation) == ("Andromeda", "Leo")
    # a month before Jupiter's opposition of 11 February 2027 (from memory)
    assert 140.0 < jupiter.sun_separation_deg < 150.0


def test_what_is_on_the_moon_is_not_away_from_her() -> None:
    wished = scenario(PLATO, ORION, ECLIPSE, start=date(2027, 2, 20), nights=1)
    prospect = prospect_for(sky_of(wished.site, wished.season.evenings), wished)
    moment = np.repeat(prospect.sky.midnight_unix_s, 3)
    plato, orion, eclipse = sights_of(prospect, np.arange(3), np.zeros(3, np.int64), moment)
    assert (plato.moon_separation_deg, eclipse.moon_separation_deg) == (0.0, 0.0)
    assert orion.moon_separation_deg > 30.0


def test_planets_keep_clear_of_the_sun_all_night_by_skyfield() -> None:
    from skyfield.api import load

    from scheduler.sky.ephemeris import ephemeris

    low = replace(MERCURY, lowest_altitude_deg=0.0, minutes=2)
    of = scenario(low, site=replace(FLATS, latitude_deg=-10.0), start=date(2028, 6, 20), nights=60)
    of = replace(
        of,
        availability=replace(
            of.availability, rules=(replace(of.availability.rules[0], start=None, finish=None),)
        ),
    )
    sky = sky_of(of.site, of.season.evenings)
    free = free_nights_of(of, sky.nights, [0.4] * len(sky))
    rows = opportunities_of(prospect_for(sky, of), free, replace(of.routine, setup_min=0))
    assert len(rows) > 15
    scale = load.timescale(builtin=True)
    earth, mercury, sun = (ephemeris()[name] for name in ("earth", "mercury", "sun"))
    for row in range(len(rows)):
        for minute in (rows.start_min[row], rows.end_min[row]):
            at = earth.at(scale.from_datetime(rows.moment(int(minute))))
            apart = at.observe(mercury).apparent().separation_from(at.observe(sun).apparent()).degrees
            assert apart >= SUN_DISTANCE_DEG


def test_a_planet_that_nears_the_sun_between_midnight_and_dawn_is_not_offered() -> None:
    # Mercury on 15 July 2028 stands 12.0 deg from the Sun at midnight and 11.8 deg at dawn.
    tropics = replace(FLATS, latitude_deg=-10.0, longitude_deg=0.0, zone="UTC")
    low = replace(MERCURY, lowest_altitude_deg=0.0, minutes=2)
    of = scenario(low, site=tropics, start=date(2028, 7, 14), nights=1, rule=EveningRule())
    sky = sky_of(of.site, of.season.evenings)
    free = free_nights_of(of, sky.nights, [0.4])
    assert len(free) == 1
    assert len(opportunities_of(prospect_for(sky, of), free, Routine(0, 0, 0))) == 0


def test_the_moon_and_bright_planets_need_no_star_to_start_from() -> None:
    neptune = replace(JUPITER, name="Neptune", body="neptune")
    of = scenario(PLATO, JUPITER, neptune, ORION, start=date(2027, 1, 15), nights=2)
    sky = sky_of(of.site, of.season.evenings)
    moments = np.full(4, sky.twilit_start_unix_s[1] + 3600.0)
    looks = looks_at(prospect_for(sky, of), np.arange(4), np.ones(4, np.int64), moments)
    assert [look.pointing.star is None for look in looks] == [True, True, False, False]
    assert looks_at(prospect_for(sky, of), np.arange(0), np.arange(0), np.zeros(0)) == ()


def test_a_shadow_on_jupiter_is_found_as_jupiter_is() -> None:
    shadow = replace(ECLIPSE, name="Shadow transit", body="jupiter")
    of = scenario(JUPITER, shadow, start=date(2027, 1, 15), nights=1)
    sky = sky_of(of.site, of.season.evenings)
    midnight = np.repeat(sky.midnight_unix_s, 2)
    looks = looks_at(prospect_for(sky, of), np.arange(2), np.zeros(2, np.int64), midnight)
    planet, on_it = (look.pointing.words for look in looks)
    assert "No star is needed" in planet
    assert on_it == planet


def test_meteors_are_looked_for_away_from_a_moon_that_is_up() -> None:
    of = scenario(PERSEIDS, start=date(2027, 8, 5), nights=9)
    sky = sky_of(of.site, of.season.evenings)
    nights = np.arange(9)
    looks = looks_at(prospect_for(sky, of), np.zeros(9, np.int64), nights, sky.midnight_unix_s)
    said = {look.sight.moon_altitude_deg > 0.0: look.pointing.words.partition(". ")[0] for look in looks}
    watch = "Lie back and look half-way up, some four fists from the radiant"
    assert said == {False: watch, True: f"{watch} and away from the Moon"}


def test_the_sights_moon_and_sun_are_those_of_the_sky() -> None:
    of = scenario(ORION, start=date(2027, 1, 15), nights=2)
    sky = sky_of(of.site, of.season.evenings)
    moments = sky.midnight_unix_s + 1800.0
    sights = sights_of(prospect_for(sky, of), np.zeros(2, np.int64), np.arange(2), moments)
    lights = lights_at(sky, moments)
    for row, sight in enumerate(sights):
        assert sight.moon_altitude_deg == lights.moon_altitude_deg[row]
        assert sight.sun_altitude_deg == lights.sun_altitude_deg[row]
        assert sight.moon_lit_fraction == lights.moon_lit_fraction[row]
