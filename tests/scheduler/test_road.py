"""The drives of a trip in night sheet, year and tables, with the caution about driving tired."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from rich.console import Console, RenderableType

from scheduler.domain import Observer, Plan, Span, Trip
from scheduler.export import nights_csv, schedule_csv
from scheduler.practice import briefing_of
from scheduler.road import caution_of, drives_of, on_the_road
from scheduler.terminal import year_of
from scheduler.terminal_night import night_shown
from tests.small_plan import FIRST, SECOND, SITE, plan, utc

from .planted_people import CLUB_AWAY
from .planted_trips import MOSS, TRIP, trip_plan

FAR = Trip(MOSS, 75, 0.6)
OUTING = Span(utc(FIRST, 19), utc(FIRST, 23, 30))


def shown(renderable: RenderableType) -> str:
    console = Console(width=110, record=True, file=io.StringIO(), markup=False, highlight=False)
    console.print(renderable)
    return " ".join(console.export_text().split())


def test_the_drives_lie_around_the_outing() -> None:
    there, home = drives_of(FAR, OUTING)
    assert there == Span(utc(FIRST, 17, 45), utc(FIRST, 19))
    assert home == Span(utc(FIRST, 23, 30), utc(FIRST, 24, 45))
    assert [at for at, _ in on_the_road(FAR, OUTING)] == [there.start, home.start]


@pytest.mark.parametrize(
    ("hour", "minute", "presses"), [(22, 59, False), (23, 0, True), (29, 59, True), (30, 0, False)]
)
def test_the_caution_says_when_the_drive_starts_and_how_long_it_takes(
    hour: int, minute: int, presses: bool
) -> None:
    words = caution_of(FAR, Span(utc(FIRST, 18), utc(FIRST, hour, minute)), SITE)
    assert f"starts about {hour % 24:02d}:{minute:02d}" in words
    assert "takes 75 min" in words
    assert "Driving tired: local law and your own limits go first." in words
    assert ("when sleep presses most" in words) is presses


def test_at_home_the_plain_caution_stays() -> None:
    assert caution_of(None, OUTING, SITE) == (
        "Driving home tired is the greatest danger of the night: rest first, or stay."
    )


def test_the_night_sheet_of_a_trip_tells_the_drives() -> None:
    away = trip_plan()
    briefing = briefing_of(away, SECOND)
    assert briefing.site == "Moss"
    assert [drive.minutes for drive in briefing.drives] == [10.0, 10.0]
    words = shown(night_shown(away, SECOND))
    assert (
        "Moss, Friday 15 January 2027: out from 19:30 to 20:35; leave home at 19:20, back about 20:45"
        in words
    )
    assert "19:20 Leave for Moss: 10 min by road." in words
    assert "20:35 Drive home, 10 min, if you are wide awake; else sleep first, or stay." in words
    assert "Driving tired: local law and your own limits go first." in words


def test_the_night_sheet_at_home_has_no_drives() -> None:
    assert briefing_of(trip_plan(), FIRST).drives == ()
    words = shown(night_shown(trip_plan(), FIRST))
    assert words.startswith("Larkmoor, Friday 8 January 2027: out from 18:00")
    assert "Leave for" not in words


def test_the_year_tells_trips_and_the_caution_that_goes_with_them() -> None:
    words = shown(year_of(trip_plan(), 110))
    assert "free nights, 1 of them a trip, proven" in words
    assert "at Moss, drive home 20:35, 10 min:" in words
    assert (
        "drive home at night, up to 10 min long. Driving tired: local law and your own limits go first"
        in words
    )
    assert "drive home" not in shown(year_of(plan(), 110))


def test_the_year_tells_who_comes_and_club_nights() -> None:
    alone = tuple(replace(night, observers=("Wren",)) for night in plan().nights)
    shared = replace(plan(), nights=alone, observers=(Observer("Wren"), Observer("Linnet")))
    assert "only Wren: M 1" in shown(year_of(shared, 110))
    assert "club night, at Moss, drive home 20:35, 10 min: M 1" in shown(year_of(CLUB_AWAY, 110))
    idle = replace(CLUB_AWAY, visits=CLUB_AWAY.visits[:2])
    assert "club night, at Moss, drive home 23:50, 10 min: nothing is planned" in shown(year_of(idle, 110))


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_the_tables_name_the_site_and_the_drive() -> None:
    made: Plan = trip_plan()
    home, away = rows(nights_csv(made))
    assert (home["site"], home["travel_min"], home["leave_home_local"], home["home_again_local"]) == (
        "Larkmoor", "0", "", "",
    )  # fmt: skip
    assert (away["site"], away["travel_min"]) == ("Moss", str(TRIP.travel_min))
    assert (away["leave_home_local"], away["home_again_local"]) == ("2027-01-15 18:00", "2027-01-16 00:00")
    assert (away["observers"], away["club"]) == ("observer", "no")
    sites = {(row["evening"], row["site"]) for row in rows(schedule_csv(made))}
    assert sites == {("2027-01-08", "Larkmoor"), ("2027-01-15", "Moss")}
