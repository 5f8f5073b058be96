"""The sky's own dates: which are told, what of them, and that nothing else of a scenario shows in them."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from scheduler import answer_to_json, sky_dates_of
from scheduler.diary import diary_of, moon_words
from scheduler.domain import Availability, EveningRule, Outcome, OutcomeLog, Shower, Site, Target, Went
from scheduler.domain.target import Kind
from scheduler.errors import InvalidValue, OutsideEphemeris
from scheduler.sky import sky_of
from scheduler.sky.eclipses import LunarEclipse, eclipse_phases_of
from scheduler.skydates import SkyDate, SkySort
from scheduler.skydates.date import rounded
from tests.small_season import FLATS, JUPITER, LARKMOOR, ORION, PERSEIDS, POINT, scenario

APIA = Site("Apia", -13.83, -171.77, 10.0, "Pacific/Apia", 21.0, 0.2)
ST_JOHNS = Site("St John's", 47.56, -52.71, 20.0, "America/St_Johns", 20.5, 0.2)


@cache
def over(site: Site, start: date = date(2027, 1, 1), nights: int = 365) -> tuple[SkyDate, ...]:
    return sky_dates_of(scenario(site=site, start=start, nights=nights))


def titled(dates: tuple[SkyDate, ...], title: str) -> SkyDate:
    (found,) = (one for one in dates if one.title == title)
    return found


def test_a_year_is_told_in_order_each_date_once() -> None:
    year = over(LARKMOOR)
    assert {one.sort for one in year} == set(SkySort)
    assert [one.start for one in year] == sorted(one.start for one in year)
    assert len({(one.title, one.day) for one in year}) == len(year)
    assert all(one.lines and all(one.lines) for one in year)
    assert all(one.start.second == one.start.microsecond == one.end.second == 0 for one in year)
    assert all(one.categories[0] == "Sky" and len(one.categories) == 2 for one in year)


def test_full_moons_and_eclipses_of_the_sun_are_no_dates() -> None:
    # 2027-08-02, 2026-08-12: total eclipses of the Sun; on both days the Moon is new (USNO, sky_events.csv).
    told = " ".join(one.title for one in (*over(LARKMOOR), *over(LARKMOOR, date(2026, 8, 1), 30)))
    assert "New Moon" in told
    assert "Full Moon" not in told
    assert "solar" not in told.lower()
    assert "Sun" not in told


def test_only_site_season_and_wishes_count() -> None:
    plain = scenario(ORION, start=date(2027, 1, 1), nights=60)
    log = OutcomeLog((Outcome(date(2027, 1, 20), Went.CLEAR, usable_min=100),))
    other = replace(plain, outcomes=log, availability=Availability((EveningRule((3,), time(20), time(21)),)))
    assert sky_dates_of(plain) == sky_dates_of(other)
    assert sky_dates_of(plain) != sky_dates_of(replace(plain, site=FLATS))


@pytest.mark.parametrize("site", [LARKMOOR, APIA], ids=lambda site: site.name)
def test_the_seasons_ends_do_not_show(site: Site) -> None:
    whole = over(site)
    for cut in (date(2027, 2, 8), date(2027, 2, 19), date(2027, 8, 13)):  # among dates, on both sides
        days = (cut - date(2027, 1, 1)).days
        assert (*over(site, nights=days), *over(site, cut, 365 - days)) == whole


@pytest.mark.parametrize("site", [APIA, ST_JOHNS, LARKMOOR], ids=lambda site: site.name)
def test_whole_days_are_those_of_the_sites_calendar(site: Site) -> None:
    zone = ZoneInfo(site.zone)
    for one in over(site, date(2028, 1, 1), 366):
        if one.whole_day:
            assert one.start.astimezone(zone) == datetime.combine(one.day, time(), zone)
            assert one.end.astimezone(zone) == datetime.combine(one.day + timedelta(days=1), time(), zone)
        else:
            noon = datetime.combine(one.day, time(12), zone)
            assert (
                noon <= one.start < one.end <= datetime.combine(one.day + timedelta(days=1), time(12), zone)
            )


def test_one_instant_is_another_day_elsewhere() -> None:
    # New Moon on 2027-04-06 at 23:51 UTC (Espenak, sky_dates.csv): 7 April at 12:51 in Apia, 13 hours
    # ahead all year since 2021, and 6 April at 21:21 in St John's in summer time (tz database).
    apia, st_johns = (
        next(one for one in over(site) if one.sort is SkySort.NEW_MOON and one.day.month == 4)
        for site in (APIA, ST_JOHNS)
    )
    assert (apia.day, apia.lines[0]) == (date(2027, 4, 7), "New Moon at 12:51.")
    assert (st_johns.day, st_johns.lines[0]) == (date(2027, 4, 6), "New Moon at 21:21.")


def test_the_day_the_clocks_change_has_its_hours() -> None:
    # St John's goes to summer time on 12 March 2028 (tz database), on the day of Jupiter's opposition.
    jupiter = titled(over(ST_JOHNS, date(2028, 1, 1), 366), "Jupiter at opposition")
    assert (jupiter.day, jupiter.end - jupiter.start) == (date(2028, 3, 12), timedelta(hours=23))


def test_a_new_moon_tells_the_moonless_nights_around_it() -> None:
    june = next(one for one in over(POINT, date(2027, 6, 1), 20))
    assert june.lines[1] == "The nights do not get dark at this time of the year."
    january = next(one for one in over(LARKMOOR) if one.sort is SkySort.NEW_MOON)
    nights = sky_of(LARKMOOR, [date(2027, 1, 1) + timedelta(days=day) for day in range(14)]).nights
    dark = [n.evening for n in nights if n.dark and n.moonless_min >= 0.95 * n.dark.minutes]
    assert january.lines[1] == (
        f"Moonless all through the dark hours: the nights of {dark[0].day} Jan to {dark[-1].day} Jan."
    )
    assert [later - earlier for earlier, later in pairwise(dark)] == [timedelta(days=1)] * (len(dark) - 1)


def test_an_eclipse_shows_while_the_moon_is_up() -> None:
    # 2028-12-31: total from 16:16 to 17:28 UT, partial from 15:07 to 18:37 (NASA: greatest 16:52, half 36 and
    # 105 minutes). At Larkmoor the Moon rises during the partial phase, and the Sun sets a little later.
    eclipse = next(one for one in over(LARKMOOR, date(2028, 12, 25), 10) if one.sort == "lunar eclipse")
    sky = sky_of(LARKMOOR, [date(2028, 12, 31)])
    sunset = datetime.fromtimestamp(float(sky.sunset_unix_s[0]), UTC)
    assert eclipse.title == "Total lunar eclipse"
    assert eclipse.start == rounded(max(sky.nights[0].moon_up[0].start, sunset))
    assert abs(eclipse.end - datetime(2028, 12, 31, 18, 37, tzinfo=UTC)) <= timedelta(minutes=2)
    assert "Here it shows from 15:" in eclipse.lines[1]
    assert any("safe to look at" in line for line in eclipse.lines)


def test_a_half_shadow_that_all_but_covers_the_moon_is_not_told_as_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def deeper(first: date, last: date) -> tuple[LunarEclipse, ...]:
        return tuple(replace(one, penumbral_magnitude=0.997) for one in eclipse_phases_of(first, last))

    monkeypatch.setattr("scheduler.skydates.moon.eclipse_phases_of", deeper)
    february = sky_dates_of(scenario(start=date(2027, 2, 15), nights=10))  # a penumbral one on the 20th
    (eclipse,) = (one for one in february if one.sort is SkySort.LUNAR_ECLIPSE)
    assert "with over 99 % of the Moon's width in the half-shadow" in " ".join(eclipse.lines)


def test_an_eclipse_that_hardly_shows_is_not_told() -> None:
    # Partial from 03:44 to 04:42 UT on 2028-01-12 (NASA); the Moon sets meanwhile in the far east.
    shown = {
        longitude: [one for one in over(replace(LARKMOOR, latitude_deg=10.0, longitude_deg=longitude,
                                                zone="Etc/UTC"), date(2028, 1, 9), 5)
                    if one.sort is SkySort.LUNAR_ECLIPSE]
        for longitude in (30.0, 34.0, 36.5, 40.0, 60.0)
    }  # fmt: skip
    assert list(map(len, shown.values())) == sorted(map(len, shown.values()))[::-1]
    assert (len(shown[30.0]), len(shown[60.0])) == (1, 0)
    assert all(one.end - one.start >= timedelta(minutes=10) for found in shown.values() for one in found)


def altitude_deg(ra_deg: float, dec_deg: float, site: Site, moment: datetime) -> float:
    """Meeus, Astronomical Algorithms, 2nd ed., eqs 12.4 and 13.6; equinox of 2000, no refraction."""
    days = moment.timestamp() / 86400.0 + 2440587.5 - 2451545.0
    hour_angle = math.radians(280.46061837 + 360.98564736629 * days + site.longitude_deg - ra_deg)
    latitude, dec = math.radians(site.latitude_deg), math.radians(dec_deg)
    return math.degrees(math.asin(
        math.sin(latitude) * math.sin(dec) + math.cos(latitude) * math.cos(dec) * math.cos(hour_angle)
    ))  # fmt: skip


@pytest.mark.parametrize(
    ("title", "ra_deg", "dec_deg"),
    [("Lyrids", 271.0, 34.0), ("Orionids", 95.0, 16.0), ("Geminids", 112.0, 33.0), ("Leonids", 152.0, 22.0)],
)
def test_a_shower_lasts_while_its_radiant_is_up_in_the_dark(
    title: str, ra_deg: float, dec_deg: float
) -> None:
    one = titled(over(LARKMOOR), f"Peak of the {title}")
    (night,) = sky_of(LARKMOOR, [one.day]).nights
    assert night.dark is not None
    for moment, inwards in ((one.start, 1), (one.end, -1)):
        at_edge_of_dark = rounded(night.dark.start), rounded(night.dark.end)
        low = altitude_deg(ra_deg, dec_deg, LARKMOOR, moment)
        assert moment in at_edge_of_dark or low == pytest.approx(15.0, abs=0.4)
        assert altitude_deg(ra_deg, dec_deg, LARKMOOR, moment + inwards * timedelta(minutes=20)) > 15.0


def test_showers_that_stay_low_are_not_told() -> None:
    # From 55 degrees north the Eta Aquariids come up into twilight; from the south they are the best of all
    # and the Ursids (radiant 76 degrees north) never rise (common practice, no source).
    north, south = ({one.title for one in over(site)} for site in (LARKMOOR, FLATS))
    assert "Peak of the Eta Aquariids" in south - north
    assert "Peak of the Ursids" in north - south


def test_a_shower_is_told_for_the_night_with_most_meteors() -> None:
    # The Perseids peak on 13 August 2027 at about 08 UT, in Europe's morning: the night before is nearest.
    assert titled(over(LARKMOOR), "Peak of the Perseids").day == date(2027, 8, 12)
    west = replace(LARKMOOR, longitude_deg=-170.0, zone="Pacific/Honolulu")
    assert titled(over(west), "Peak of the Perseids").day == date(2027, 8, 12)
    east = replace(LARKMOOR, longitude_deg=120.0, zone="Asia/Shanghai")
    assert titled(over(east), "Peak of the Perseids").day == date(2027, 8, 13)
    # The Quadrantids peak on 4 January at 03:34 UT, past noon in Japan: their radiant was high that morning,
    # and is low in the evening (common practice, no source).
    japan = replace(LARKMOOR, latitude_deg=40.0, longitude_deg=141.0, zone="Asia/Tokyo")
    assert titled(over(japan, nights=10), "Peak of the Quadrantids").day == date(2027, 1, 3)


def test_small_showers_are_told_where_the_wish_list_has_them() -> None:
    small = Target(
        "Kappa Cygnids", Kind.METEOR_SHOWER, 286.0, 59.0, nature=Shower(144.5, 3.0, 3.0, 0.069, 0.069)
    )
    august = scenario(small, PERSEIDS, start=date(2027, 8, 1), nights=31)
    titles = [one.title for one in sky_dates_of(august) if one.sort is SkySort.SHOWER]
    assert titles == ["Peak of the Perseids", "Peak of the Kappa Cygnids"]
    assert "Peak of the Kappa Cygnids" not in {one.title for one in over(LARKMOOR)}


def test_the_wish_lists_own_lowest_altitude_counts() -> None:
    high = replace(PERSEIDS, lowest_altitude_deg=50.0)
    asked = sky_dates_of(scenario(high, start=date(2027, 8, 1), nights=31))
    assert titled(asked, "Peak of the Perseids").start > titled(over(LARKMOOR), "Peak of the Perseids").start
    lofty = replace(JUPITER, lowest_altitude_deg=80.0)
    never = sky_dates_of(scenario(lofty, start=date(2027, 2, 1), nights=28))
    assert not [one for one in never if "Jupiter" in one.title]


def test_elongations_and_returns_of_inner_planets_warn_of_the_sun() -> None:
    for one in over(LARKMOOR):
        inner = one.title.startswith(("Mercury", "Venus"))
        assert inner == any("Never point a telescope" in line for line in one.lines)


def test_a_morning_planet_is_told_for_that_morning() -> None:
    venus = titled(over(LARKMOOR), "Venus at greatest western elongation")
    nights = sky_of(LARKMOOR, [venus.day + timedelta(days=day) for day in (-2, -1, 0)]).nights
    assert venus.day == date(2027, 1, 3)
    assert "it shows before sunrise" in venus.lines[0]
    assert venus.lines[-2] == f"{moon_words(diary_of(nights, LARKMOOR)[1], nights[1].twilit, LARKMOOR)}."


def test_jupiter_stands_highest_near_midnight_at_opposition() -> None:
    # At opposition a planet culminates at local apparent midnight (common practice, no source); 2.4 degrees
    # west and with the equation of time of February (-14 minutes) that is 00:24.
    line = titled(over(LARKMOOR), "Jupiter at opposition").lines[2]
    found = datetime.strptime(line.partition("highest at ")[2][:5], "%H:%M").replace(tzinfo=UTC)
    assert abs(found - datetime(1900, 1, 1, 0, 24, tzinfo=UTC)) <= timedelta(minutes=5)


def test_dates_are_told_as_json() -> None:
    told = answer_to_json(over(LARKMOOR)[:1])
    assert '"sort": "' in told
    assert '"whole_day": ' in told
    assert '"start": "2027-01-03T' in told


def test_outside_the_ephemeris_there_are_none() -> None:
    with pytest.raises(OutsideEphemeris):
        over(LARKMOOR, date(2053, 12, 1), 10)
    assert over(LARKMOOR, date(2053, 9, 1), 25)  # near the end less is known beside the season


def test_a_date_ends_after_it_begins() -> None:
    one = over(LARKMOOR)[0]
    with pytest.raises(InvalidValue):
        replace(one, end=one.start)
