"""What is typed reads back, from the scenario.toml written of it, to the same values."""

from __future__ import annotations

import tomllib
from datetime import date, time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.beginning.choices import ODDS, SKIES, TELESCOPES
from api.beginning.fields import DAYS, LABELS, MONTHS, typed_in
from api.beginning.lists import SAMPLE
from api.beginning.writing import scenario_toml_of, title_of
from api.door import scheduler_door
from api.storage import ScenarioFiles
from scheduler.domain import Scenario
from scheduler.errors import Fault, ScenarioFaults

TODAY = date(2029, 5, 6)
WISH_LIST = b"target\nM 31\n"


def read(**typed: str) -> Scenario:
    toml = scenario_toml_of(typed_in(typed.items()), TODAY).text
    return scheduler_door().read_scenario("typed", ScenarioFiles(toml.encode(), WISH_LIST))


def faults_of(**typed: str) -> dict[str | None, Fault]:
    """Return the faults of what was typed by the field they are told beside."""
    written = scenario_toml_of(typed_in(typed.items()), TODAY)
    try:
        scheduler_door().read_scenario("typed", ScenarioFiles(written.text.encode(), WISH_LIST))
    except ScenarioFaults as found:
        return {written.field_of(fault.column): fault for fault in found.faults}
    return {}


LEAST = {"latitude": "55.2", "longitude": "-2.4", "zone": "Europe/London", "binoculars_power": "10",
         "binoculars_aperture": "50"}  # fmt: skip

plain = st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=40)
names = plain.filter(lambda text: bool(text.strip()))


@given(
    title=names, site_name=names, latitude=st.floats(-90, 90), longitude=st.floats(-180, 180),
    elevation=st.integers(-400, 6000), sky=st.sampled_from(sorted(SKIES)),
    aperture=st.integers(50, 800), ratio=st.sampled_from([4.0, 5.0, 6.5, 15.0]),
    kind=st.sampled_from(sorted(TELESCOPES)), eyepieces=st.lists(st.tuples(
        st.sampled_from([4.7, 9.0, 17.0, 32.0]), st.sampled_from([None, 50, 68])), max_size=5),
    barlow=st.none() | st.sampled_from([1.5, 2.0, 3.0]), start=st.dates(date(2026, 1, 1), date(2040, 1, 1)),
    nights=st.integers(1, 400), weekdays=st.sets(st.sampled_from(DAYS)), odds=st.sampled_from(sorted(ODDS)),
    months=st.dictionaries(st.sampled_from(MONTHS), st.integers(0, 100), max_size=4),
    most=st.none() | st.integers(1, 31),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_everything_typed_reads_back(
    title: str, site_name: str, latitude: float, longitude: float, elevation: int, sky: str, aperture: int,
    ratio: float, kind: str, eyepieces: list[tuple[float, int | None]], barlow: float | None, start: date,
    nights: int, weekdays: set[str], odds: str, months: dict[str, int], most: int | None,
) -> None:  # fmt: skip
    rows = {f"eyepiece_{place}": f"{mm:g}" for place, (mm, _) in enumerate(eyepieces, 1)}
    rows |= {f"eyepiece_{place}_field": "" if wide is None else str(wide)
             for place, (_, wide) in enumerate(eyepieces, 1)}  # fmt: skip
    scenario = read(
        title=title, site_name=site_name, latitude=repr(latitude), longitude=repr(longitude),
        zone="Asia/Kathmandu", elevation=str(elevation), sky=sky, aperture=str(aperture),
        focal_length=f"{aperture * ratio:g}", telescope_type=kind, start=str(start), nights=str(nights),
        barlow="" if barlow is None else f"{barlow:g}",
        weekdays_1=", ".join(weekdays), from_1="20:15", until_1="01:30", odds=odds,
        nights_per_month="" if most is None else str(most),
        **rows, **{f"odds_{month.lower()}": str(percent) for month, percent in months.items()},
    )  # fmt: skip
    assert (scenario.title, scenario.site.name) == (" ".join(title.split()), " ".join(site_name.split()))
    assert (scenario.site.latitude_deg, scenario.site.longitude_deg) == (latitude, longitude)
    assert (scenario.site.elevation_m, scenario.site.sky_brightness) == (elevation, SKIES[sky].figure)
    assert (scenario.season.start, scenario.season.nights) == (start, nights)
    (telescope,) = scenario.kit.telescopes
    assert (telescope.aperture_mm, telescope.focal_length_mm) == (aperture, aperture * ratio)
    assert telescope.obstruction_mm == round(TELESCOPES[kind].figure * aperture)
    if eyepieces:
        assert [(one.focal_length_mm, one.apparent_field_deg) for one in scenario.kit.eyepieces] == [
            (mm, wide or 50) for mm, wide in eyepieces
        ]
    assert (scenario.kit.barlow.factor if scenario.kit.barlow else None) == barlow
    (rule,) = scenario.availability.rules
    wanted = tuple(place for place, day in enumerate(DAYS) if day in weekdays) or tuple(range(7))
    assert (rule.weekdays, rule.start, rule.finish) == (wanted, time(20, 15), time(1, 30))
    assert scenario.availability.nights_per_month == most
    assert scenario.clear_odds.monthly == tuple(
        months[month] / 100 if month in months else ODDS[odds].figure for month in MONTHS
    )


def test_the_least_is_a_place_and_something_to_look_through() -> None:
    scenario = read(**LEAST)
    assert scenario.season.start == TODAY, "a season without a start would begin anew every day"
    assert scenario.season.nights == 365
    assert scenario.site.name == "Home"
    assert scenario.title == title_of(typed_in([])) == "A year at Home"
    assert scenario.kit.telescopes == ()
    assert set(scenario.clear_odds.monthly) == {0.5}


def test_two_sorts_of_evenings_and_days_away() -> None:
    scenario = read(
        **LEAST, weekdays_1="Wed", from_1="19:00", weekdays_2="Fri, Sat", until_2="02:00",
        away="2027-07-10 to 2027-07-12\n2027-08-01",
    )  # fmt: skip
    free = scenario.availability
    assert [(rule.weekdays, rule.start, rule.finish) for rule in free.rules] == [
        ((2,), time(19), None), ((4, 5), None, time(2)),
    ]  # fmt: skip
    assert free.away == {date(2027, 7, 10), date(2027, 7, 11), date(2027, 7, 12), date(2027, 8, 1)}


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"latitude": "91"}, "latitude"), ({"latitude": ""}, "latitude"), ({"latitude": "north"}, "latitude"),
        ({"longitude": "181"}, "longitude"), ({"zone": "Europe/Londn"}, "zone"), ({"zone": ""}, "zone"),
        ({"elevation": "9000"}, "elevation"), ({"sky": "pitch black"}, "sky"),
        ({"site_name": "a" * 201}, "site_name"), ({"title": "a" * 201}, "title"),
        ({"aperture": "200"}, "focal_length"), ({"focal_length": "1200"}, "aperture"),
        ({"aperture": "2", "focal_length": "1200"}, "aperture"),
        ({"eyepiece_3": "9"}, "aperture"), ({"barlow": "2"}, "aperture"),
        ({"binoculars_power": "1"}, "binoculars_power"), ({"binoculars_aperture": ""}, "binoculars_aperture"),
        ({"binoculars_field": "wide"}, "binoculars_field"),
        ({"binoculars_power": "", "binoculars_aperture": ""}, "aperture"),
        ({"nights": "500"}, "nights"), ({"start": "tomorrow"}, "start"), ({"weekdays_1": "Fr"}, None),
        ({"from_1": "25:00"}, "from_1"), ({"from_1": "20:00", "until_1": "19:00"}, "until_1"),
        ({"weekdays_2": "Mon", "until_2": "noon"}, "until_2"), ({"weekdays_2": "Xday"}, "weekdays_2"),
        ({"away": "2027-07-10 to 2027-07-01"}, "away"), ({"away": "July"}, "away"),
        ({"nights_per_month": "0"}, "nights_per_month"), ({"odds": "never"}, "odds"),
        ({"odds_may": "101"}, "odds_may"), ({"odds_june": "x"}, "odds_june"),
    ],
)  # fmt: skip
def test_a_fault_is_told_beside_its_field(typed: dict[str, str], field: str | None) -> None:
    found = faults_of(**{**LEAST, **typed})
    assert (field in found) if field else not found, found
    assert None not in found


TELESCOPE = {"aperture": "200", "focal_length": "1200"}


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"eyepiece_4": "0.5"}, "eyepiece_4"),
        ({"eyepiece_2": "9", "eyepiece_2_field": "200"}, "eyepiece_2_field"),
        ({"eyepiece_5_field": "50"}, "eyepiece_5"), ({"barlow": "9"}, "barlow"), ({"barlow": "x"}, "barlow"),
    ],
)  # fmt: skip
def test_a_fault_of_an_eyepiece_is_told_in_its_row(typed: dict[str, str], field: str) -> None:
    assert set(faults_of(**LEAST, **TELESCOPE, eyepiece_1="32", **typed)) == {field}


@given(st.dictionaries(st.sampled_from(sorted(set(LABELS) - {"wishes"})), st.text(max_size=30)))
@settings(max_examples=150, deadline=None)
def test_whatever_is_typed_makes_toml_and_no_fault_is_lost(typed: dict[str, str]) -> None:
    written = scenario_toml_of(typed_in({**SAMPLE, **typed}.items()), TODAY)
    tomllib.loads(written.text)
    assert None not in faults_of(**{**SAMPLE, **typed})


def test_hostile_names_stay_in_their_text() -> None:
    hostile = 'x"\n[site]\nlatitude_deg = 1\n# """ \\ \x00 \x7f'
    written = scenario_toml_of(typed_in({**LEAST, "site_name": hostile, "title": hostile}.items()), TODAY)
    told = tomllib.loads(written.text)
    assert told["site"]["latitude_deg"] == 55.2
    assert told["site"]["name"] == hostile
    assert set(told) == {"title", "site", "binoculars", "season", "clear_odds"}


def test_the_file_reads_well_for_who_edits_it() -> None:
    text = scenario_toml_of(typed_in(SAMPLE.items()), TODAY).text
    assert '[site] # Where you observe.\nname = "Larkmoor"\nlatitude_deg = 55.2 # north is positive\n' in text
    assert "# Your eyepieces, one table each.\n[[eyepieces]]\nfocal_length_mm = 32\n" in text
    assert all(len(line) < 110 for line in text.splitlines())


def test_what_utf_8_cannot_hold_is_replaced() -> None:
    assert typed_in([("site_name", "Moor\ud800"), ("wishes", "M 31\rM 42\r\n")]) == {
        **typed_in([]), "site_name": "Moor?", "wishes": "M 31\nM 42\n",
    }  # fmt: skip
