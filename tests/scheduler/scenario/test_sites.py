"""Sites away, observers' evenings and club nights in scenario.toml, and what may be wrong with them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from scheduler.domain import Club

from .stand_ins import SETTINGS, faults_in, scenario_of

MOSS = '[[sites]]\nname = "Moss"\nlatitude_deg = 55.0\nlongitude_deg = -3.1\ntravel_min = 60\n'


def test_a_site_away_needs_four_lines_and_has_the_defaults_of_home(tmp_path: Path) -> None:
    (trip,) = scenario_of(tmp_path, SETTINGS + MOSS).trips
    assert (trip.site.name, trip.travel_min, trip.trip_cost) == ("Moss", 60, 0.5)
    assert (trip.site.zone, trip.site.sky_brightness, trip.site.horizon) == ("Europe/London", 21.0, None)


def test_a_trips_cost_may_be_said(tmp_path: Path) -> None:
    (trip,) = scenario_of(tmp_path, SETTINGS + MOSS + "trip_cost = 0\nelevation_m = 1000\n").trips
    assert trip.trip_cost == 0.0
    assert trip.site.extinction_mag == pytest.approx(0.21, abs=0.005)


@pytest.mark.parametrize(
    ("settings", "column", "expected"),
    [
        ("[[sites]]\nname = 'Moss'\n", "sites.1.latitude_deg", "a line such as latitude_deg"),
        ("[[sites]]\nname = 'Moss'\n", "sites.1.travel_min", "a line such as travel_min"),
        (MOSS.replace('name = "Moss"\n', ""), "sites.1.name", "a line such as name"),
        (MOSS + MOSS, "sites.2.name", "every site once"),
        (MOSS + 'zone = "Europe/Paris"\n', "sites.1.zone", "one of the keys of [sites]"),
        (MOSS.replace("60", "0"), "sites.1.travel_min", "a whole number from 1 to 300"),
        (MOSS + "trip_cost = -1\n", "sites.1.trip_cost", "a number from 0 to 50"),
        (MOSS + "horizon = [[90, 5], [0, 5]]\n", "sites.1.horizon", "rising order"),
        ("[availability]\ntrips_per_month = -1\n", "availability.trips_per_month", "from 0 to 31"),
        (
            "[club]\nevenings = [2027-04-10]\nsite = 'Mos'\n" + MOSS,
            "club.site",
            "the name of a site away, Moss",
        ),
        ("[club]\nsite = 'Moss'\n", "club.site", "of which there are none"),
        (
            "[club]\nevenings = [2027-04-10]\n[availability]\naway = [2027-04-10]\n",
            "club.evenings",
            "are free",
        ),
        ("[[observers]]\nname = 'Wren'\nweekdays = 'Freitag'\n", "observers.1.weekdays", "weekdays"),
        ("[[observers]]\nname = 'Wren'\naway = 3\n", "observers.1.away", "dates and ranges"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(
    tmp_path: Path, settings: str, column: str, expected: str
) -> None:
    found = {fault.column: fault for fault in faults_in(tmp_path, SETTINGS + settings)}
    assert column in found
    assert expected in found[column].expected


def test_observers_have_evenings_and_the_club_its_nights(tmp_path: Path) -> None:
    more = MOSS + (
        "[[observers]]\nname = 'Wren'\nweekdays = 'Fri, Sat'\naway = ['2027-05-01..2027-05-03']\n"
        "[club]\nevenings = [2027-04-10]\nsite = 'Moss'\n"
    )
    made = scenario_of(tmp_path, SETTINGS + more)
    (wren,) = made.observers
    assert (wren.weekdays, len(wren.away)) == ((4, 5), 3)
    assert made.club == Club(frozenset({date(2027, 4, 10)}), "Moss")


def test_a_target_may_be_for_one_observer(tmp_path: Path) -> None:
    settings = SETTINGS + "[[observers]]\nname = 'Wren'\n[[observers]]\nname = 'Linnet'\n"
    (target,) = scenario_of(tmp_path, settings, "target,observer\nM 31,wren\n").targets
    assert target.observer == "Wren"
    (fault,) = faults_in(tmp_path, settings, "target,observer\nM 31,Wran\n")
    assert (fault.column, fault.near) == ("observer", ("Wren",))
