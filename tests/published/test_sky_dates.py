"""The sky's dates against almanacs, NASA's eclipses, published peaks of showers; sources in the tables."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, tzinfo
from functools import cache

import pytest

from scheduler.domain import Site
from scheduler.skydates import SkyDate, sky_dates_of
from tests.small_season import scenario

from .sky_figures import FIGURES, rows_of

HOURS = {"+12:00": "Etc/GMT-12", "+01:00": "Etc/GMT-1", "+00:00": "Etc/UTC"}
PRINTED = rows_of("sky_dates.csv")
ECLIPSES = [row for row in rows_of("sky_eclipses.csv") if row["greatest_utc"][:4] in {"2027", "2028", "2029"}]
PLANETS = [
    row
    for row in rows_of("sky_events.csv")
    if row["kind"] == "opposition" or row["kind"].startswith("greatest")
]


@cache
def dates_over(latitude_deg: float, longitude_deg: float, zone: str, start: date, nights: int
               ) -> tuple[SkyDate, ...]:  # fmt: skip
    site = Site("Somewhere", latitude_deg, longitude_deg, 0.0, zone, 21.0, 0.2)
    return sky_dates_of(scenario(site=site, start=start, nights=nights))


def instant_of(one: SkyDate, clock: tzinfo | None) -> datetime:
    """Return when it happens, as its first line tells it on its day, by a clock."""
    found = re.search(r"(?:on (\d+ \w+) )?at (\d\d:\d\d)", one.lines[0])
    assert found is not None, one
    told = f"{found[1] or f'{one.day.day} {one.day:%b}'} {one.day.year} {found[2]}"
    return datetime.strptime(told, "%d %b %Y %H:%M").replace(tzinfo=clock)


@pytest.mark.parametrize("row", PRINTED, ids=lambda row: f"{row['title']} {row['printed']}")
def test_a_year_has_the_almanacs_dates(row: dict[str, str]) -> None:
    # 2027, from 40 degrees north, where all of them show; by the clock they are printed in.
    printed = datetime.fromisoformat(row["printed"])
    hours = row["printed"][-6:]
    year = dates_over(40.0, 15.0 * int(hours[1:3]), HOURS[hours], date(2026, 12, 31), 366)
    near = [one for one in year if one.title == row["title"] and abs((one.day - printed.date()).days) <= 3]
    (found,) = near
    assert abs(instant_of(found, printed.tzinfo) - printed) <= timedelta(minutes=int(row["within_min"]))
    if found.whole_day:
        assert found.day == printed.date()


def test_a_year_has_no_other_new_moons() -> None:
    year = dates_over(40.0, 15.0, HOURS["+01:00"], date(2026, 12, 31), 366)
    printed = [row["printed"][:10] for row in PRINTED if row["source"] == "Almanac CET"]
    assert [str(one.day) for one in year if one.title == "New Moon"] == printed


@pytest.mark.parametrize("row", PLANETS, ids=lambda row: f"{row['body']} {row['instant_utc'][:10]}")
def test_planets_have_the_almanacs_days(row: dict[str, str]) -> None:
    day = date.fromisoformat(row["instant_utc"][:10])
    dates = dates_over(5.0, 0.0, "Etc/UTC", day - timedelta(days=20), 40)
    sort = "opposition" if row["kind"] == "opposition" else row["kind"]
    title = f"{row['body'].capitalize()} at {sort}"
    assert [one.day for one in dates if one.title == title] == [day]


@pytest.mark.parametrize("row", ECLIPSES, ids=lambda row: row["greatest_utc"][:10])
@pytest.mark.parametrize("noon", [False, True], ids=["at midnight", "at noon"])
def test_eclipses_show_where_it_is_night_and_nowhere_else(row: dict[str, str], noon: bool) -> None:
    greatest = datetime.fromisoformat(row["greatest_utc"])
    hour = greatest.hour + greatest.minute / 60.0 + (12.0 if noon else 0.0)
    longitude_deg = (-15.0 * hour + 180.0) % 360.0 - 180.0
    start = greatest.date() - timedelta(days=2)
    dates = dates_over(0.0, round(longitude_deg, 1), "Etc/UTC", start, 5)
    found = [one for one in dates if one.sort == "lunar eclipse"]
    half = timedelta(minutes=float(row["partial_half_min"] or 40.0))
    # A penumbral one is told of from 0.6 on (common practice, no source); NASA's figures lie 0.027 higher.
    told = bool(row["partial_half_min"]) or float(row["penumbral_magnitude"]) > 0.627
    assert [one.title.lower() for one in found] == [row["kind"]] * (told and not noon)
    for one in found:
        grazes = timedelta(minutes=4 if float(row["umbral_magnitude"]) < 0.1 else 2)
        assert abs(one.start - (greatest - half)) <= grazes
        assert abs(one.end - (greatest + half)) <= grazes


@pytest.mark.parametrize(
    ("check", "title", "night"),
    [
        ("Perseids 2013 at 140.0", "Peak of the Perseids", date(2013, 8, 12)),
        ("Perseids 2026 at 140.0", "Peak of the Perseids", date(2026, 8, 12)),
        ("Geminids 2023 at 262.2", "Peak of the Geminids", date(2023, 12, 14)),
    ],
)
def test_showers_peak_when_published(check: str, title: str, night: date) -> None:
    figure = FIGURES[check]
    (found,) = (
        one for one in dates_over(50.0, 0.0, "Etc/UTC", night - timedelta(days=3), 7) if one.title == title
    )
    assert abs(instant_of(found, UTC).timestamp() - figure.unix_s) <= figure.tolerance + 30.0
    assert found.day == night
