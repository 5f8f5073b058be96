"""The Moon's diary: phases and crossings against other clocks, marks on nights made by hand."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pandas as pd
import pytest
from skyfield import almanac
from skyfield.api import wgs84

from scheduler.diary import MOON_COLUMNS, Mark, diary_of, mark_of, moon_csv
from scheduler.domain import Night, Site, Span
from scheduler.sky import sky_of
from scheduler.sky.ephemeris import ephemeris, timescale
from scheduler.sky.events import moon_phases_of
from tests.small_plan import FIRST, night, utc
from tests.small_season import FLATS, LARKMOOR, POINT

FAR_CLOCK = Site("Far Clock", -36.9, 174.8, 20.0, "UTC", 21.0, 0.2)
PRINCIPAL = {"new Moon", "first quarter", "full Moon", "last quarter"}


def season(start: date, nights: int) -> list[date]:
    return [start + timedelta(days=day) for day in range(nights)]


def test_a_principal_phase_falls_on_the_night_nearest_its_instant() -> None:
    evenings = season(date(2025, 1, 1), 1095)
    sky = sky_of(LARKMOOR, evenings)
    diary = {one.evening: one.phase for one in diary_of(sky.nights, LARKMOOR)}
    middles = dict(zip(evenings, sky.midnight_unix_s.tolist(), strict=True))
    # the events themselves are held to USNO's instants in tests/published
    events = moon_phases_of(evenings[2], evenings[-3])
    assert len(events) > 140
    for event in events:
        instant = event.instant.timestamp()
        nearest, next_to_it = sorted(evenings, key=lambda evening: abs(middles[evening] - instant))[:2]
        lead_min = (abs(middles[next_to_it] - instant) - abs(middles[nearest] - instant)) / 120.0
        allowed = {diary[nearest], diary[next_to_it]} if lead_min < 35.0 else {diary[nearest]}
        assert event.kind.value in allowed, (event, lead_min)
    found = sum(phase in PRINCIPAL for phase in diary.values())
    assert abs(found - len(moon_phases_of(evenings[0], evenings[-1]))) <= 1


def test_phases_go_round_in_order() -> None:
    diary = diary_of(sky_of(FLATS, season(date(2027, 1, 7), 30)).nights, FLATS)
    seen = list(dict.fromkeys(one.phase for one in diary[:-1]))
    assert seen == [
        "new Moon", "waxing crescent", "first quarter", "waxing gibbous", "full Moon", "waning gibbous",
        "last quarter", "waning crescent",
    ]  # fmt: skip


def test_a_night_alone_knows_its_phase() -> None:
    for evening, phase in ((date(2027, 1, 7), "new Moon"), (date(2027, 1, 12), "waxing crescent")):
        (one,) = diary_of(sky_of(LARKMOOR, [evening]).nights, LARKMOOR)
        assert one.phase == phase


@pytest.mark.parametrize("site", [LARKMOOR, FLATS, POINT, FAR_CLOCK])
def test_rise_and_set_are_those_of_skyfields_own_search(site: Site) -> None:
    evenings = season(date(2027, 2, 1), 60)
    sky = sky_of(site, evenings)
    diary = diary_of(sky.nights, site)
    observer = ephemeris()["earth"] + wgs84.latlon(site.latitude_deg, site.longitude_deg, site.elevation_m)
    moon, scale = ephemeris()["moon"], timescale()
    ends = [
        scale.from_datetime(datetime.fromtimestamp(s, UTC))
        for s in (sky.noon_unix_s[0], sky.next_noon_unix_s[-1])
    ]
    for search, ours in (
        (almanac.find_risings, [one.rise for one in diary if one.rise]),
        (almanac.find_settings, [one.set for one in diary if one.set]),
    ):
        times, crossed = search(observer, moon, *ends)
        theirs = [t.utc_datetime() for t, truly in zip(times, crossed, strict=True) if truly]
        assert len(ours) == len(theirs) > 20
        # both stand on one ephemeris, so the searches themselves agree much better
        assert max(abs((a - b).total_seconds()) for a, b in zip(ours, theirs, strict=True)) < 1.0


def moonlit(*spans: Span) -> Night:
    """The night of FIRST, dark from 18:00 to 30:00 UTC, with the Moon up in these spans."""
    dark = Span(utc(FIRST, 18), utc(FIRST, 30))
    lit_min = sum(shared.minutes for span in spans if (shared := span.meet(dark)))
    return replace(night(FIRST).night, moon_up=spans, moonless_min=dark.minutes - lit_min)


@pytest.mark.parametrize(
    ("hours", "mark"),
    [
        ([], Mark.MOONLESS),
        ([(12, 18)], Mark.MOONLESS),
        ([(12, 18.5)], Mark.MOONLESS),
        ([(12, 20)], Mark.SETS_EARLY),
        ([(12, 28)], Mark.SETS_EARLY),
        ([(12, 28.1)], Mark.IN_PART),
        ([(19.9, 36)], Mark.IN_PART),
        ([(20, 36)], Mark.RISES_LATE),
        ([(29, 36)], Mark.RISES_LATE),
        ([(12, 36)], Mark.MOONLIT),
        ([(18.5, 36)], Mark.MOONLIT),
        ([(21, 25)], Mark.SETS_EARLY),
        ([(22, 27)], Mark.RISES_LATE),
        ([(12, 21), (28, 36)], Mark.IN_PART),
    ],
)  # fmt: skip
def test_the_mark_says_what_the_moon_leaves(hours: list[tuple[float, float]], mark: Mark) -> None:
    spans = [Span(*(utc(FIRST, 0) + timedelta(hours=h) for h in pair)) for pair in hours]
    assert mark_of(moonlit(*spans)) is mark


def test_half_of_a_short_night_is_early_enough() -> None:
    short = Span(utc(FIRST, 22), utc(FIRST, 25))
    up = Span(utc(FIRST, 12), utc(FIRST, 23, 30))
    assert (
        mark_of(replace(night(FIRST).night, dark=short, moon_up=(up,), moonless_min=90.0)) is Mark.SETS_EARLY
    )


def test_the_midnight_sun_leaves_no_dark_window_to_mark() -> None:
    (one,) = diary_of(sky_of(POINT, [date(2027, 6, 20)]).nights, POINT)
    assert (one.mark, one.dark) == (Mark.NO_DARKNESS, None)
    (row,) = csv.DictReader(io.StringIO(moon_csv(sky_of(POINT, [date(2027, 6, 20)]).nights, POINT)))
    assert (row["dark_start_local"], row["dark_min"], row["mark"]) == ("", "0", "no darkness")
    assert row["darkness"] == ""


@pytest.mark.parametrize(
    ("evening", "darkness"),
    [(date(2027, 1, 8), "night"), (date(2027, 5, 10), "deep astronomical twilight"),
     (date(2027, 6, 20), "nautical twilight")],
)  # fmt: skip
def test_the_diary_says_what_is_called_dark(evening: date, darkness: str) -> None:
    (row,) = csv.DictReader(io.StringIO(moon_csv(sky_of(LARKMOOR, [evening]).nights, LARKMOOR)))
    assert (row["darkness"], row["dark_min"] != "0") == (darkness, True)


def test_the_csv_has_a_row_a_night_in_local_time() -> None:
    nights = sky_of(LARKMOOR, season(date(2027, 1, 1), 365)).nights
    text = moon_csv(nights[::-1], LARKMOOR)
    lines = text.split("\r\n")
    assert lines[0] == ",".join(MOON_COLUMNS)
    assert lines[-1] == ""
    assert "\n" not in text.replace("\r\n", "")
    table = pd.read_csv(io.StringIO(text))
    assert table["evening"].tolist() == [n.evening.isoformat() for n in nights]
    assert (table["moonless_min"] <= table["dark_min"]).all()
    summer = table[table["evening"] == "2027-09-14"].iloc[0]
    (up,) = (span for span in nights[256].moon_up if span.start.astimezone(LARKMOOR.local).hour != 12)
    assert summer["rise_local"] == (up.start + timedelta(hours=1)).strftime("%Y-%m-%d %H:%M")


def test_a_moon_that_was_up_at_noon_has_no_rise_that_evening() -> None:
    (one,) = diary_of(sky_of(LARKMOOR, [date(2027, 1, 18)]).nights, LARKMOOR)
    assert one.rise is None
    assert one.set is not None
