"""Nights: how dark, when, and under which Moon; everywhere on Earth and on every calendar."""

from __future__ import annotations

import itertools
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.domain import Darkness, Site
from scheduler.errors import InvalidValue, OutsideEphemeris
from scheduler.sky import moon_at, sidereal_deg, sky_of, sun_at
from scheduler.sky.season import STAGES, SeasonSky

from .rigorous import SITES, year_from


def site_at(latitude_deg: float, longitude_deg: float, zone: str) -> Site:
    return Site("Here", latitude_deg, longitude_deg, 0.0, zone, 21.0, 0.2)


def nights_reaching(sky: SeasonSky) -> list[int]:
    """How many nights get at least as dark as each stage."""
    return [int(n) for n in np.cumsum(np.bincount(sky.stage, minlength=len(STAGES)))]


def test_a_year_at_55_north_loses_its_dark_nights_in_summer() -> None:
    # 276/301/343 of 365: counted earlier with another program, from the team's design page.
    sky = sky_of(site_at(55.0, -3.0, "Europe/London"), year_from(date(2026, 9, 1)))
    assert nights_reaching(sky)[:3] == [276, 301, 343]
    assert nights_reaching(sky)[3] == 365


def test_the_window_of_each_stage_ends_where_the_sun_passes_its_altitude() -> None:
    for site in SITES:
        sky = sky_of(site, year_from(date(2025, 9, 1))[::3])
        limit_deg = np.array([s.sun_altitude_deg for s in STAGES])[sky.stage]
        for moment, edge in (
            (sky.dark_start_unix_s, sky.noon_unix_s),
            (sky.dark_end_unix_s, sky.next_noon_unix_s),
        ):
            inside = np.isfinite(moment) & (np.abs(moment - edge) > 1.0)
            assert np.abs(sun_at(sky, moment).altitude_deg - limit_deg)[inside].max() < 0.001 / 60
        deepest_deg = sun_at(sky, 0.5 * (sky.dark_start_unix_s + sky.dark_end_unix_s)).altitude_deg
        assert (deepest_deg < limit_deg)[np.isfinite(deepest_deg)].all()


def test_no_darker_stage_is_missed() -> None:
    # Plain sampling every minute, judged by the stages' own altitudes.
    sky = sky_of(site_at(55.0, -3.0, "Europe/London"), year_from(date(2027, 4, 20), 130))
    share = np.linspace(0.0, 1.0, 1441)
    lowest_deg = sun_at(sky, sky.noon_unix_s[:, None] * (1 - share) + sky.next_noon_unix_s[:, None] * share)
    for index, deepest in enumerate(lowest_deg.altitude_deg.min(axis=1)):
        expected = next(k for k, s in enumerate(STAGES) if deepest < s.sun_altitude_deg or s is STAGES[-1])
        assert sky.stage[index] == expected


def test_midnight_sun_is_no_night_and_says_so() -> None:
    (night,) = sky_of(site_at(69.6, 18.9, "Europe/Oslo"), [date(2026, 6, 21)]).nights
    assert night.darkness is Darkness.DAYLIGHT
    assert night.dark is None
    assert night.twilit is None
    assert night.moonless_min == 0.0


def test_polar_night_is_one_night_a_date_and_may_last_the_whole_day() -> None:
    sky = sky_of(site_at(-85.0, 0.0, "UTC"), year_from(date(2026, 6, 10), 20))
    minutes = (sky.dark_end_unix_s - sky.dark_start_unix_s) / 60.0
    assert (sky.stage == 0).all()
    assert np.allclose(minutes, 1440.0)
    assert np.array_equal(sky.dark_end_unix_s[:-1], sky.dark_start_unix_s[1:])
    assert [n.evening for n in sky.nights] == year_from(date(2026, 6, 10), 20)


def test_clocks_that_change_make_nights_of_23_and_25_hours() -> None:
    sky = sky_of(
        site_at(52.0, 13.0, "Europe/Berlin"), [date(2026, 3, 28), date(2026, 6, 1), date(2026, 10, 24)]
    )
    assert ((sky.next_noon_unix_s - sky.noon_unix_s) / 3600.0).tolist() == [23.0, 24.0, 25.0]


@pytest.mark.parametrize(
    ("zone", "longitude_deg"),
    [("Pacific/Kiritimati", -157.4), ("Pacific/Apia", -171.8), ("Pacific/Honolulu", -157.8),
     ("Pacific/Chatham", -176.5), ("Asia/Shanghai", 76.0), ("Asia/Kolkata", 77.0)],
)  # fmt: skip
def test_a_night_is_named_by_the_local_date_of_its_evening(zone: str, longitude_deg: float) -> None:
    evening = date(2026, 9, 20)
    sky = sky_of(site_at(-10.0, longitude_deg, zone), [evening])
    sunset = datetime.fromtimestamp(float(sky.sunset_unix_s[0]), ZoneInfo(zone))
    assert sunset.date() == evening
    assert 17 <= sunset.hour <= 21
    assert sky.sunset_unix_s[0] < sky.dark_start_unix_s[0] < sky.dark_end_unix_s[0] < sky.sunrise_unix_s[0]


def test_a_date_the_calendar_skipped_has_no_night() -> None:
    # Samoa went straight from 29 to 31 December 2011.
    sky = sky_of(site_at(-13.8, -171.8, "Pacific/Apia"), [date(2011, 12, d) for d in (29, 30, 31)])
    assert [n.darkness for n in sky.nights] == [Darkness.NIGHT, Darkness.DAYLIGHT, Darkness.NIGHT]
    assert sky.dark_end_unix_s[0] < sky.dark_start_unix_s[2]


def test_a_clock_far_from_the_sun_still_keeps_each_night_whole() -> None:
    sky = sky_of(site_at(-30.0, 150.0, "UTC"), year_from(date(2026, 5, 1), 10))
    hours = (sky.dark_end_unix_s - sky.dark_start_unix_s) / 3600.0
    assert (hours > 10.0).all()
    assert (np.diff(sky.dark_start_unix_s) > 86000.0).all()


def test_moon_up_spans_end_with_the_limb_on_the_horizon() -> None:
    for site in SITES:
        sky = sky_of(site, year_from(date(2025, 9, 1))[::4])
        for side, edge in ((0, sky.noon_unix_s), (1, sky.next_noon_unix_s)):
            moment = sky.moon_up_unix_s[:, :, side]
            inside = np.isfinite(moment) & (np.abs(moment - edge[:, None]) > 1.0)
            moon = moon_at(sky, moment)
            limb_deg = (moon.altitude_deg + moon.semidiameter_deg)[inside]
            assert np.abs(limb_deg + 34 / 60).max() < 0.001 / 60


def test_moonless_minutes_are_those_a_minute_by_minute_count_finds() -> None:
    sky = sky_of(site_at(55.0, -3.0, "Europe/London"), year_from(date(2026, 9, 1))[::2])
    # Of these nights some have the Moon up twice, which one rising and one setting could not tell.
    assert np.isfinite(sky.moon_up_unix_s[:, 1, 0]).sum() > 20
    count = np.zeros(len(sky))
    for night in range(len(sky)):
        minutes = np.arange(sky.dark_start_unix_s[night], sky.dark_end_unix_s[night], 60.0)
        moon = moon_at(sky, minutes)
        count[night] = (moon.altitude_deg + moon.semidiameter_deg + 34 / 60 < 0.0).sum()
    assert np.abs(count - sky.moonless_min).max() <= 2.0


def test_sidereal_time_counted_from_midnight_agrees_with_the_running_count() -> None:
    sky = sky_of(SITES[0], year_from(date(2025, 9, 1)))
    for moment in (sky.noon_unix_s, sky.next_noon_unix_s):
        running_deg = sky.heavens.greenwich_sidereal_deg(moment) + sky.site.longitude_deg
        off_deg = (sidereal_deg(sky, np.arange(len(sky)), moment) - running_deg + 180.0) % 360.0 - 180.0
        assert np.abs(off_deg).max() < 0.2 / 3600


def test_a_star_culminates_about_four_minutes_earlier_each_day() -> None:
    # Common practice, no source.
    sky = sky_of(SITES[0], year_from(date(2026, 1, 1), 2))
    gain_deg = float(np.diff(sky.sidereal_at_midnight_deg)[0] % 360.0)
    assert gain_deg * 4.0 == pytest.approx(3.94, abs=0.02)


def test_dates_outside_the_ephemeris_are_refused_with_its_range() -> None:
    with pytest.raises(OutsideEphemeris) as caught:
        sky_of(SITES[0], [date(2026, 1, 1), date(2060, 1, 1)])
    assert caught.value.asked == date(2060, 1, 1)
    for edge in (caught.value.first, caught.value.last):
        assert len(sky_of(SITES[0], [edge]).nights) == 1
        outside = edge + timedelta(days=1 if edge is caught.value.last else -1)
        with pytest.raises(OutsideEphemeris):
            sky_of(SITES[0], [outside])


def test_a_season_needs_an_evening_and_an_end() -> None:
    for evenings in ([], [date(2001, 1, 1), date(2026, 1, 1)]):
        with pytest.raises(InvalidValue, match="evenings"):
            sky_of(SITES[0], evenings)


def test_evenings_may_come_in_any_order_and_with_gaps() -> None:
    days = [date(2026, 11, 3), date(2026, 2, 1), date(2026, 7, 7)]
    together = sky_of(SITES[0], days)
    for index, day in enumerate(days):
        alone = sky_of(SITES[0], [day])
        assert together.dark_start_unix_s[index] == pytest.approx(alone.dark_start_unix_s[0], abs=0.02)


@settings(max_examples=25)
@given(
    latitude_deg=st.floats(-90.0, 90.0),
    longitude_deg=st.floats(-180.0, 180.0),
    start=st.dates(date(1972, 1, 1), date(2050, 1, 1)),
    zone=st.sampled_from(
        ["UTC", "Europe/Oslo", "Pacific/Kiritimati", "America/St_Johns", "Pacific/Pago_Pago"]
    ),
)
def test_every_place_and_date_gives_sound_nights(
    latitude_deg: float, longitude_deg: float, start: date, zone: str
) -> None:
    sky = sky_of(site_at(latitude_deg, longitude_deg, zone), year_from(start, 3))
    for night, noon, next_noon in zip(sky.nights, sky.noon_unix_s, sky.next_noon_unix_s, strict=True):
        spans = [s for s in (night.dark, night.twilit, *night.moon_up) if s]
        assert all(noon - 1 <= s.start.timestamp() < s.end.timestamp() <= next_noon + 1 for s in spans)
        assert all(a.end < b.start for a, b in itertools.pairwise(night.moon_up))
        assert night.moonless_min <= (night.dark.minutes if night.dark else 0.0) + 1e-6
        if night.dark and night.twilit:
            assert night.twilit.start <= night.dark.start < night.dark.end <= night.twilit.end
