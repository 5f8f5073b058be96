"""scenario.toml: what it may say, what silence means, and how it is told what is wrong."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from datetime import date, time
from pathlib import Path

import pytest

import scheduler.scenario
from scheduler.domain import (
    Availability,
    Barlow,
    ClearOdds,
    EveningRule,
    Filter,
    Guests,
    Horizon,
    Lines,
    Observer,
    Routine,
    Season,
)
from scheduler.scenario.keys import KEYS

from .stand_ins import SETTINGS, TODAY, faults_in, look_up, places, scenario_of

SITE = '[site]\nlatitude_deg = 55.2\nlongitude_deg = -2.4\nzone = "Europe/London"\n'
BINOCULARS = "[binoculars]\nmagnification = 10\naperture_mm = 50\n"


def documented() -> str:
    text = (scheduler.scenario.__doc__ or "").split("::\n", 1)[1].split("**wish-list.csv**")[0]
    return re.sub(r"^    ", "", text, flags=re.MULTILINE)


def test_documented_example_reads_without_fault_and_names_every_key(tmp_path: Path) -> None:
    assert faults_in(tmp_path, documented()) == ()
    shown = tomllib.loads(documented())
    assert set(shown) == set(KEYS[""])
    for table, keys in KEYS.items():
        if table:
            body = shown[table][0] if isinstance(shown[table], list) else shown[table]
            extra = {"name"} if table in ("eyepieces", "binoculars") else set()
            assert set(body) | extra == set(keys), table


def test_silence_means_the_defaults(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    assert scenario.season == Season(TODAY, 365)
    assert scenario.availability == Availability()
    assert scenario.routine == Routine()
    assert scenario.clear_odds == ClearOdds((0.5,) * 12, 0.3)
    assert scenario.site.name == scenario.title == scenario.name == tmp_path.name
    assert scenario.site.elevation_m == 0.0
    assert scenario.site.sky_brightness == 21.0
    assert scenario.site.extinction_mag == pytest.approx(0.281, abs=0.001)
    assert scenario.site.horizon is None
    assert scenario.kit.barlow is None
    assert scenario.kit.binoculars is None


def test_defaults_written_out_change_nothing(tmp_path: Path) -> None:
    written = f"""
        title = "{tmp_path.name}"
        {
        SETTINGS.replace(
            "[telescope]",
            f'''name = "{tmp_path.name}"
        elevation_m = 0
        sky_brightness = 21.0
        extinction_mag = 0.2811
        [telescope]
        name = "200 mm f/6 telescope"
        obstruction_mm = 0.0''',
        )
    }
        [[eyepieces]]
        focal_length_mm = 30
        [[eyepieces]]
        focal_length_mm = 12
        [[eyepieces]]
        focal_length_mm = 6
        [season]
        start = {TODAY}
        nights = 365
        [[evenings]]
        weekdays = "Mon to Sun"
        [availability]
        extra = []
        away = []
        [routine]
        setup_min = 20
        dark_adaptation_min = 30
        move_min = 4
        outing_cost = 0.25
        [clear_odds]
        monthly = 0.5
        persistence = 0.3
        [defaults]
    """
    silent, said = scenario_of(tmp_path), scenario_of(tmp_path, written)
    assert replace(said, site=silent.site) == silent
    assert said.site.extinction_mag == pytest.approx(silent.site.extinction_mag, abs=1e-4)


def test_missing_eyepieces_give_exit_pupils_of_five_two_and_one_millimetre(tmp_path: Path) -> None:
    kit = scenario_of(tmp_path).kit
    (telescope,) = kit.telescopes
    pupils_mm = [one.focal_length_mm * telescope.aperture_mm / telescope.focal_length_mm
                 for one in kit.eyepieces]  # fmt: skip
    assert pupils_mm == pytest.approx([5.0, 2.0, 1.0])


def test_evenings_away_and_extra_are_read_as_said(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path, SETTINGS + """
        [[evenings]]
        weekdays = ["Tuesday", "thu"]
        start = 19:30:00
        finish = "00:30"
        [[evenings]]
        weekdays = "Fri to Sun"
        [availability]
        extra = [2027-08-12, "2027-08-14"]
        away = ["2027-07-10..2027-07-12", "2027-09-01 to 2027-09-02", 2027-10-01]
        nights_per_week = 3
        nights_per_month = 8
    """)  # fmt: skip
    assert scenario.availability == Availability(
        rules=(EveningRule((1, 3), time(19, 30), time(0, 30)), EveningRule((4, 5, 6))),
        extra=frozenset({date(2027, 8, 12), date(2027, 8, 14)}),
        away=frozenset({date(2027, 7, 10), date(2027, 7, 11), date(2027, 7, 12), date(2027, 9, 1),
                        date(2027, 9, 2), date(2027, 10, 1)}),
        nights_per_week=3,
        nights_per_month=8,
    )  # fmt: skip


def test_horizon_barlow_odds_and_binoculars_are_read(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path, f"""
        {SITE}
        horizon = [[0, 5], [90, 12.5], [90, 3]]
        {BINOCULARS}
        [barlow]
        [clear_odds]
        monthly = [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1]
    """)  # fmt: skip
    assert scenario.site.horizon == Horizon((0.0, 90.0, 90.0), (5.0, 12.5, 3.0))
    assert scenario.kit.barlow == Barlow(2.0)
    assert scenario.kit.binoculars is not None
    assert scenario.kit.binoculars.name == "10x50 binoculars"
    assert scenario.kit.eyepieces == ()
    assert scenario.clear_odds.monthly[5] == 0.6


@pytest.mark.parametrize(("added", "column", "words"), [
    ("[season]\nnights = 0", "season.nights", "a whole number from 1 to 400"),
    ("[season]\nnights = 4000", "season.nights", "a whole number from 1 to 400"),
    ("[season]\nnights = 30.5", "season.nights", "a whole number such as 20"),
    ("[season]\nnights = true", "season.nights", "a number"),
    ('[season]\nstart = "1 March"', "season.start", "a date such as 2027-03-01"),
    ('[season]\nstart = "2027-02-30"', "season.start", "there is no such day"),
    ("[season]\nstart = 2027-01-01T20:00:00", "season.start", "a date such as"),
    ("[season]\nstart = 1066-10-14", "season.start", "from 1900 to 2100"),
    ("[routine]\nsetup_min = 1000", "routine.setup_min", "from 0 to 240"),
    ("[routine]\nouting_cost = -1", "routine.outing_cost", "from 0 to 50"),
    ("[clear_odds]\nmonthly = [0.5, 0.5]", "clear_odds.monthly", "twelve numbers"),
    ("[clear_odds]\nmonthly = 1.5", "clear_odds.monthly", "from 0 to 1"),
    ("[clear_odds]\nmonthly = nan", "clear_odds.monthly", "a number such as"),
    ("[clear_odds]\npersistence = 1", "clear_odds.persistence", "from 0 to 0.95"),
    ("[availability]\nnights_per_week = 9", "availability.nights_per_week", "from 1 to 7"),
    ("[availability]\naway = 2027-01-01", "availability.away", "a list of dates and ranges"),
    ('[availability]\naway = ["2027-02-01..2027-01-01"]', "availability.away", "ends after it starts"),
    ('[availability]\naway = ["1901-02-01..2099-01-01"]', "availability.away", "less than 800 days"),
    ('[[evenings]]\nweekdays = "Funday"', "evenings.1.weekdays", "weekdays out of Mon, Tue"),
    ("[[evenings]]\nweekdays = 3", "evenings.1.weekdays", "weekdays such as"),
    ("[[evenings]]\nweekdays = []", "evenings.1.weekdays", "weekdays such as"),
    ('[[evenings]]\nstart = "25:00"', "evenings.1.start", "a time of day"),
    ('[[evenings]]\nstart = "23:00"\nfinish = "21:00"', "evenings.1.finish", "later in the night than 23:00"),
    ("[evenings]\nstart = 20:00:00", "evenings", "[[double brackets]]"),
    ("[[eyepieces]]\nfocal_length_mm = 900", "eyepieces.1.focal_length_mm", "from 1.5 to 80"),
    ("[[eyepieces]]\nname = \"wide\"", "eyepieces.1.focal_length_mm", "a number"),
    ("[barlow]\nfactor = 90", "barlow.factor", "from 1.1 to 6"),
    ("[binoculars]\nmagnification = 10", "binoculars.aperture_mm", "a number"),
    ("[defaults]\nminutes = 900", "defaults.minutes", "from 2 to 600"),
    ("[defaults]\npriority = 9", "defaults.priority", "from 1 to 5"),
    ("[seson]\nnights = 3", "seson", "one of the keys of the file"),
])  # fmt: skip
def test_a_fault_says_its_place_and_its_remedy(tmp_path: Path, added: str, column: str, words: str) -> None:
    faults = faults_in(tmp_path, SETTINGS + added)
    assert [fault.column for fault in faults] == [column]
    assert words in faults[0].expected
    assert faults[0].file == "scenario.toml"
    assert faults[0].row is None


@pytest.mark.parametrize(("changed", "column", "words"), [
    (("latitude_deg = 55.2", "latitude_deg = 91"), "site.latitude_deg", "from -90 to 90"),
    (("latitude_deg = 55.2", 'latitude_deg = "north"'), "site.latitude_deg", "a number such as"),
    (("latitude_deg = 55.2", "latitude_deg = inf"), "site.latitude_deg", "a number such as"),
    (("latitude_deg = 55.2\n", ""), "site.latitude_deg", "a line such as latitude_deg"),
    (("latitude_deg = 55.2", "latitude_deg = 0x" + "f" * 9000), "site.latitude_deg", "a number such as"),
    (('zone = "Europe/London"\n', ""), "site.zone", "a line such as zone"),
    (("[telescope]", "horizon = [[0, 5], [90]]\n[telescope]"), "site.horizon", "pairs"),
    (("[telescope]", "horizon = [[90, 5], [0, 5]]\n[telescope]"), "site.horizon", "rising order"),
    (("[telescope]", "horizon = [[0, 95]]\n[telescope]"), "site.horizon", "from 0 to 89"),
    (("[telescope]", "extinction_mag = 7\n[telescope]"), "site.extinction_mag", "from 0.05 to 1"),
    (("aperture_mm = 200", "aperture_mm = -200"), "telescope.aperture_mm", "from 20 to 2000"),
    (("aperture_mm = 200\n", ""), "telescope.aperture_mm", "a number"),
])  # fmt: skip
def test_a_wrong_site_or_telescope_is_told(tmp_path: Path, changed: tuple[str, str], column: str,
                                           words: str) -> None:  # fmt: skip
    assert changed[0] in SETTINGS
    faults = faults_in(tmp_path, SETTINGS.replace(*changed))
    assert [fault.column for fault in faults] == [column]
    assert words in faults[0].expected


def test_an_unknown_zone_is_told_with_zones_that_look_alike(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, SETTINGS.replace("Europe/London", "Europe/Lundon"))
    assert fault.column == "site.zone"
    assert "Europe/London" in fault.near


@pytest.mark.parametrize(
    "zone", ["../../etc/passwd", "/etc/passwd", "Europe", "", "A" * 5000, "\\u0000", "é"]
)
def test_no_text_in_place_of_a_zone_does_harm(tmp_path: Path, zone: str) -> None:
    assert places(faults_in(tmp_path, SETTINGS.replace("Europe/London", zone))) == [(None, "site.zone")]


def test_an_unknown_key_is_told_with_keys_that_look_alike(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, SETTINGS.replace("[telescope]", "elevation = 3\n[telescope]"))
    assert (fault.column, fault.near[:1]) == ("site.elevation", ("elevation_m",))


def test_without_telescope_or_binoculars_the_remedy_is_told(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, SITE)
    assert "[telescope] or [binoculars]" in fault.expected


def test_broken_toml_gives_the_line(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, "title = 'x'\n\n[site]\nlatitude_deg = = 5\n")
    assert fault.read == "line 4: latitude_deg = = 5"
    assert "TOML" in fault.expected


@pytest.mark.parametrize(
    "settings", ["a = " + "[" * 5000, "a = " + "9" * 5000, "a = {" * 300, "\x00", "\r\r"]
)
def test_hostile_toml_is_one_fault_or_more_never_a_crash(tmp_path: Path, settings: str) -> None:
    assert faults_in(tmp_path, settings)


def test_everything_wrong_in_both_files_is_told_at_once(tmp_path: Path) -> None:
    faults = faults_in(
        tmp_path,
        SETTINGS.replace("55.2", "91").replace("aperture_mm = 200", "aperture_mm = 2")
        + "[season]\nnights = 0\n[clear_odds]\nmonthly = 2\n",
        "target,minutes,priority\nM 31,1,9\nM 99,x,3\n",
    )
    assert [(fault.file, fault.row, fault.column) for fault in faults] == [
        ("scenario.toml", None, "site.latitude_deg"),
        ("scenario.toml", None, "telescope.aperture_mm"),
        ("scenario.toml", None, "season.nights"),
        ("scenario.toml", None, "clear_odds.monthly"),
        ("wish-list.csv", 2, "minutes"),
        ("wish-list.csv", 2, "priority"),
        ("wish-list.csv", 3, "minutes"),
        ("wish-list.csv", 3, "target"),
    ]


def test_missing_files_are_both_told(tmp_path: Path) -> None:
    faults = scheduler.scenario.faults_of(tmp_path / "nowhere", lambda name: pytest.fail(name))
    assert [fault.file for fault in faults] == ["scenario.toml", "wish-list.csv"]
    assert all(fault.read == "no such file" for fault in faults)


def test_a_huge_settings_file_is_refused_unread(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, "#" * 300_000)
    assert "at most 200000 bytes" in fault.expected


def test_a_folder_in_place_of_a_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "scenario.toml").mkdir()
    (tmp_path / "wish-list.csv").write_text("target\nM 31\n")
    (fault,) = scheduler.scenario.faults_of(tmp_path, look_up)
    assert (fault.file, fault.read) == ("scenario.toml", "no such file")


def test_the_wish_list_is_read_although_the_settings_are_broken(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, "[[[", "target\nM 99\n")
    assert [(fault.file, fault.column) for fault in faults] == [
        ("scenario.toml", None),
        ("wish-list.csv", "target"),
    ]


def test_a_kit_of_several_telescopes_filters_and_observers_is_read_as_said(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path, SETTINGS + """
        [[telescopes]]
        name = "Small one"
        aperture_mm = 70
        focal_length_mm = 700
        [[filters]]
        lines = "oiii"
        [[observers]]
        name = "Ada"
        age = 61
        instruments = ["Small one"]
        [[observers]]
        name = "Ben"
        age = 9
    """)  # fmt: skip
    assert scenario.kit.instruments == ("200 mm f/6 telescope", "Small one")
    lengths = [len(scenario.kit.eyepieces_of(telescope)) for telescope in scenario.kit.telescopes]
    assert lengths == [3, 3]
    assert scenario.kit.filters == (Filter("O III filter", Lines.OXYGEN),)
    assert scenario.observers == (Observer("Ada", 61, ("Small one",)), Observer("Ben", 9))


def test_guests_are_read_as_said(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path, SETTINGS + """
        [guests]
        evenings = ["2027-09-10..2027-09-11"]
        people = 12
        minutes_each = 1.5
        finish = "22:30"
    """)  # fmt: skip
    evenings = frozenset({date(2027, 9, 10), date(2027, 9, 11)})
    assert scenario.guests == Guests(evenings, 12, 1.5, time(22, 30))


@pytest.mark.parametrize(
    ("table", "column", "words"),
    [
        ("[guests]\nevenings = [2027-09-11]\n[availability]\naway = [2027-09-11]", "guests.evenings",
         "evenings on which you are free"),
        ("[guests]\npeople = 0", "guests.people", "from 1 to 500"),
        ('[[observers]]\nname = "A"\ninstruments = ["200 mm f/6 telescop"]', "observers.1.instruments",
         "instruments of this file"),
        ('[[observers]]\nname = "A"\n[[observers]]\nname = "A"', "observers.2.name", "every observer once"),
        ('[[observers]]\nage = 3', "observers.1.age", "from 5 to 110"),
        ('[[filters]]\nlines = "sodium"', "filters.1.lines", "one of O III, H-beta, both"),
        ('[[telescopes]]\naperture_mm = 70', "telescopes.1.focal_length_mm", "a number"),
        ('[[telescopes]]\naperture_mm = 200\nfocal_length_mm = 1200', "telescopes", "a name of its own"),
        ('[[eyepieces]]\nname = "A"\nfocal_length_mm = 20\ntelescope = "Another"', "eyepieces.1.telescope",
         "the name of a telescope of this file"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_kit_observers_and_guests_is_told_with_its_place(
    tmp_path: Path, table: str, column: str, words: str
) -> None:
    (fault,) = faults_in(tmp_path, SETTINGS + table)
    assert fault.column is not None
    assert fault.column.startswith(column)
    assert words in fault.expected
