"""The commands about the sky and single nights, as a person meets them."""

from __future__ import annotations

import csv
import io
import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from rich.console import Console, RenderableType

from scheduler import commands
from scheduler.cli import run
from scheduler.diary import diary_of
from scheduler.domain import Guests, Kind, Site, Target
from scheduler.evening_words import view_in_words
from scheduler.export import plan_to_json
from scheduler.planets import planet_seasons_of
from scheduler.sky import sky_of
from scheduler.skydates import sky_dates_of
from scheduler.terminal_night import night_shown
from scheduler.terminal_sky import dates_shown, diary_shown, overview_shown, planets_shown
from scheduler.up import overview_of
from tests.scheduler.moor import SETTINGS, laid_out
from tests.small_plan import FIRST, SECOND, VIEW, night, plan, with_standby
from tests.small_season import FLATS, JUPITER, LARKMOOR, ORION, POINT, scenario


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return laid_out(tmp_path, "target\nM 42\nJupiter\n", SETTINGS.replace("nights = 10", "nights = 40"))


@pytest.fixture
def year(tmp_path: Path) -> Path:
    made = tmp_path / "year"
    made.mkdir()
    (made / "plan.json").write_text(plan_to_json(plan()), encoding="utf-8")
    return made


def lines(shown: RenderableType, width: int) -> list[str]:
    text = io.StringIO()
    Console(width=width, file=text, markup=False, highlight=False).print(shown)
    return text.getvalue().splitlines()


def flat(text: str) -> str:
    return " ".join(text.split())


def test_up_lists_the_sky_at_a_moment(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["up", str(folder), "--at", "2027-01-08T22:00"]) == 0
    shown = capsys.readouterr().out
    expected = (
        "moor, Friday 8 January 2027, 22:00: dark", "Moon: waxing crescent", "Jupiter", "Sirius",
        "M 42, Orion Nebula", "Castor", "M 31, Andromeda", "High up: ", "In the south: ",
    )  # fmt: skip
    for words in expected:
        assert words in flat(shown)
    assert "more: --all lists them" in shown
    run(["up", str(folder), "--at", "2027-01-08T22:00", "--all"])
    everything = capsys.readouterr().out
    assert "--all" not in everything
    assert len(everything.splitlines()) > 2 * len(shown.splitlines())


def test_up_means_tonight_at_ten_where_nothing_is_said(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["up", str(folder)]) == 0
    assert "22:00" in capsys.readouterr().out.splitlines()[0]


def test_up_in_daylight_shows_the_moon_and_warns(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["up", str(folder), "--at", "2027-01-15T14:00"]) == 0
    shown = flat(capsys.readouterr().out)
    assert "daylight" in shown
    assert "only the Moon is shown. Never point a telescope or binoculars near the Sun." in shown
    assert "Moon: first quarter" in shown
    assert "Jupiter" not in shown


def test_a_thin_moon_by_day_is_left_alone() -> None:
    noon = overview_of(scenario(ORION), datetime(2027, 1, 8, 13, tzinfo=UTC))
    assert "leave it alone" in flat("\n".join(lines(overview_shown(noon), 80)))
    dusk = overview_of(scenario(ORION), datetime(2027, 1, 8, 16, 20, tzinfo=UTC))
    assert "no sweeping near it" in flat("\n".join(lines(overview_shown(dusk), 80)))


def test_a_moon_lit_by_a_sliver_is_not_told_as_dark() -> None:
    seen = overview_of(scenario(), datetime(2027, 1, 8, 22, tzinfo=UTC))
    thin = replace(seen, moon_night=replace(seen.moon_night, lit_fraction=0.004))
    assert f"Moon: {thin.moon_night.phase}, under 1 % lit" in flat(
        "\n".join(lines(overview_shown(thin), 100))
    )


@pytest.mark.parametrize(
    ("at", "words"),
    [("soon", "read 'soon', expected a local date and time"), ("2100-01-01", "the ephemeris runs from")],
)
def test_up_tells_a_moment_it_cannot_show(
    at: str, words: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["up", str(folder), "--at", at]) == 1
    assert words in capsys.readouterr().err


def test_planets_tells_each_season(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["planets", str(folder)]) == 0
    shown = flat(capsys.readouterr().out)
    assert "Planets at moor, 1 January 2027 to 9 February 2027" in shown
    assert all(
        name in shown for name in ("Mercury", "Venus", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune")
    )
    assert "Never point a telescope" in shown


def test_dates_prints_the_skys_own(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["dates", str(folder)]) == 0
    shown = flat(capsys.readouterr().out)
    assert "The sky's dates at moor" in shown
    assert "Thu 7 Jan 2027 New Moon New Moon at 20:24." in shown  # Espenak, tests/published/sky_dates.csv
    assert re.search(r"Sun 3 Jan 2027 \d\d:\d\d to \d\d:\d\d Peak of the Quadrantids", shown)


def test_moon_prints_the_diary_by_month(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["moon", str(folder)]) == 0
    shown = flat(capsys.readouterr().out)
    assert "January 2027 evenings of new Moon 7, first quarter 15, full Moon 22, last quarter 28" in shown
    assert "10 to 16 sets early sets 19:02 on the first, 03:08 on the last" in shown
    assert "dark hours are moonless" in shown


@pytest.mark.parametrize(
    ("site", "start", "said"),
    [
        (LARKMOOR, date(2027, 6, 1), "; on 10 of 10 nights it stays twilight, and that counts as dark"),
        (LARKMOOR, date(2027, 1, 1), "dark hours are moonless"),
        (POINT, date(2027, 6, 1), "0 of 0 dark hours are moonless"),
    ],
)  # fmt: skip
def test_the_diary_says_when_twilight_counts_as_dark(site: Site, start: date, said: str) -> None:
    evenings = [start + timedelta(days=day) for day in range(10)]
    shown = flat("\n".join(lines(diary_shown(diary_of(sky_of(site, evenings).nights, site), site), 100)))
    assert shown.endswith(said)


def test_moon_writes_a_row_a_night(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "moon.csv"
    assert run(["moon", str(folder), "--out", str(out)]) == 0
    assert "40 nights" in capsys.readouterr().out
    with out.open(encoding="utf-8", newline="") as file:
        text = file.read()
    assert text.count("\r\n") == 41
    assert len(list(csv.DictReader(io.StringIO(text)))) == 40
    assert run(["moon", str(folder), "--out", str(tmp_path)]) == 1
    assert "cannot write to" in capsys.readouterr().err


def test_night_tells_the_programme_and_what_to_do_when(
    year: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["night", str(year), "--on", "2027-01-08"]) == 0
    shown = flat(capsys.readouterr().out)
    story = (
        "Larkmoor, Friday 8 January 2027: out from 18:00 to 20:35", "Moon: waxing crescent, 1 % lit",
        "18:20-18:35 Jupiter (planet)", "Start from Rigel: just above it.", "48 times, field 1.0°",
        "19:30 White lamps and screens off", "20:00-20:20 M 42", "To take",
        "eyepieces: 25 mm", "Dew and cold", "Take care", "Never point a telescope",
    )  # fmt: skip
    places = [shown.index(words) for words in story]
    assert places == sorted(places)


def test_night_takes_the_file_too_and_shows_standbys(year: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["night", str(year / "plan.json"), "--on", "2027-01-15"]) == 0
    assert "19:00-23:00 M 42 best about 21:00" in flat(capsys.readouterr().out)


def test_night_without_a_date_is_the_next_planned_one(
    year: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Clock(datetime):
        today_utc = datetime(2027, 1, 10, 12, tzinfo=UTC)

        @classmethod
        def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
            return cls.today_utc

    monkeypatch.setattr(commands, "datetime", Clock)
    for today, shown in (
        ((2027, 1, 8), "8 January"),
        ((2027, 1, 10), "15 January"),
        ((2027, 2, 1), "8 January"),
    ):
        Clock.today_utc = datetime(*today, 12, tzinfo=UTC)
        assert run(["night", str(year)]) == 0
        assert shown in capsys.readouterr().out.splitlines()[0]


def test_a_minimum_or_an_eclipse_kept_in_reserve_says_when_it_is() -> None:
    shade = "penumbral eclipse in the night of 15 to 16 Jan 2027, from 21:12 to 01:13, only a slight shading"
    eclipse = Target("Lunar eclipse", Kind.ECLIPSE, body="moon")
    made = with_standby(target=eclipse.name, why=f"shows at its best from here; {shade}; at the greatest")
    made = replace(made, targets=(*made.targets, eclipse))
    assert f"P{shade[1:]}." in flat("\n".join(lines(night_shown(made, SECOND), 80)))


def test_night_takes_an_evening_without_visits_and_tells_what_shows(
    year: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = plan()
    (standby,) = made.standbys
    alone = replace(made, visits=tuple(v for v in made.visits if v.evening != standby.evening))
    assert alone.visits
    shown = flat("\n".join(lines(night_shown(alone, standby.evening), 80)))
    assert "Nothing is planned: a night in hand" in shown
    assert f"What to look at, most useful first 19:00-23:00 {standby.target}" in shown
    assert "Pack up" in shown
    invited = replace(
        alone, nights=tuple(replace(n, guests=5) if n.evening == standby.evening else n for n in alone.nights)
    )
    assert "show your guests what you like" in flat(
        "\n".join(lines(night_shown(invited, standby.evening), 80))
    )


def test_night_names_the_nearest_where_there_is_none(year: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["night", str(year), "--on", "2027-01-12"]) == 1
    assert (
        "expected an evening on which something shows; the nearest are 2027-01-08, 2027-01-15"
        in capsys.readouterr().err
    )
    assert run(["night", str(year), "--on", "Friday"]) == 1
    assert 'expected a date such as "2027-01-08"' in capsys.readouterr().err


def test_night_tells_what_is_no_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["night", str(tmp_path)]) == 1
    assert "plan.json: No such file" in capsys.readouterr().err
    (tmp_path / "plan.json").write_bytes(b"\xff\xfe\x00")
    assert run(["night", str(tmp_path)]) == 1
    assert "not a readable plan" in capsys.readouterr().err


def test_night_shows_no_plan_that_breaks_its_own_rules(
    year: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = plan_to_json(plan()).replace('"order": 1,', '"order": 7,')
    (year / "plan.json").write_text(text, encoding="utf-8")
    assert run(["night", str(year)]) == 1
    assert "is not numbered in order" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["up", "planets", "moon", "dates", "check"])
def test_whoever_stops_reading_is_not_told_of_a_broken_pipe(folder: Path, command: str) -> None:
    pipe = subprocess.Popen([sys.executable, "-m", "scheduler", command, str(folder)],
                            stdout=subprocess.PIPE, stderr=subprocess.PIPE)  # fmt: skip
    assert pipe.stdout is not None
    pipe.stdout.close()
    _, said = pipe.communicate(timeout=60)
    assert (pipe.returncode, said) == (1, b"")


def test_guests_see_their_minutes() -> None:
    made = replace(
        plan(), nights=(replace(night(FIRST), guests=5), night(SECOND)), guests=Guests(frozenset({FIRST}), 5)
    )
    shown = flat("\n".join(lines(night_shown(made, FIRST), 80)))
    assert "Minutes for each of 5 guests Jupiter 3.0, M 42 4.0" in shown


def test_a_view_is_told_with_its_glass() -> None:
    full = replace(VIEW, barlow=True, filter="O III")
    assert view_in_words(full) == (
        "200 mm f/6, 25 mm with Barlow, O III filter: 48 times, field 1.0°, exit pupil 4.2 mm. Lowest power."
    )
    bare = replace(VIEW, instrument="naked eye", eyepiece=None, why="wide and bright")
    assert view_in_words(bare) == "With the naked eye: wide and bright."


@pytest.mark.parametrize("width", [72, 80, 100, 160])
def test_every_line_fits_its_terminal(width: int) -> None:
    made = scenario(ORION, JUPITER, start=date(2027, 1, 1), nights=120)
    moment = datetime(2027, 1, 8, 22, tzinfo=UTC)
    shown = (
        overview_shown(overview_of(made, moment), everything=True),
        planets_shown(planet_seasons_of(made), made),
        diary_shown(diary_of(sky_of(LARKMOOR, made.season.evenings).nights, LARKMOOR), LARKMOOR),
        night_shown(plan(), FIRST), night_shown(plan(), SECOND), dates_shown(sky_dates_of(made), LARKMOOR),
        overview_shown(overview_of(scenario(ORION, site=FLATS), moment)),
    )  # fmt: skip
    for one in shown:
        assert max(map(len, lines(one, width))) <= width
