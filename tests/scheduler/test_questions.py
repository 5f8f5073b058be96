"""The commands that ask about a plan, as a person meets them."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from rich.console import Console, RenderableType

from scheduler.cli import run
from scheduler.domain import (
    Alternative,
    Amendment,
    Expected,
    GivesWay,
    MonthPrice,
    NightPrice,
    Reason,
    Remedy,
    SeasonPrices,
    Span,
    TargetGain,
    WhatIf,
    WhyNot,
    WhyThen,
)
from scheduler.terminal_explain import prices_shown, what_if_shown, why_not_shown, why_then_shown
from tests.scheduler.moor import SETTINGS, laid_out
from tests.small_plan import FIRST, SECOND, plan, utc
from tests.small_season import ORION, scenario

ZONE = ZoneInfo("Europe/London")
SIGHT = plan().visits[0].sight


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Folders of a scenario and of its plan."""
    root = tmp_path_factory.mktemp("questions")
    settings = SETTINGS.replace('zone = "Europe/London"', 'zone = "Europe/London"\nsky_brightness = 21.5')
    settings += '[[evenings]]\nweekdays = "Fri, Sat"\nstart = "18:00"\nfinish = "23:00"\n'
    folder = laid_out(root, "target\nM 42\nM 31\nJupiter\nM 7\n", settings)
    assert (
        run(["plan", str(folder), "--out", str(root / "year"), "--seconds", "0.3", "--years", "2", "--quiet"])
        == 0
    )
    return str(folder), str(root / "year")


def flat(text: str) -> str:
    return " ".join(text.split())


def lines(shown: RenderableType, width: int = 80) -> list[str]:
    text = io.StringIO()
    Console(width=width, file=text, markup=False, highlight=False).print(shown)
    return text.getvalue().splitlines()


def test_why_tells_other_nights_and_their_cost(
    planned: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, year = planned
    assert run(["why", year, "orion nebula", "--scenario", folder]) == 0
    shown = flat(capsys.readouterr().out)
    assert shown.startswith("M 42: ")
    assert "The visit adds" in shown
    assert "the plan loses" in shown
    assert "settled anew, not guessed" in shown


def test_why_tells_what_would_place_it(planned: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    folder, year = planned
    assert run(["why", str(Path(year) / "plan.json"), "M 7", "--scenario", folder]) == 0
    shown = flat(capsys.readouterr().out)
    assert "M 7: 1 visit missing" in shown
    assert "None of these helps: an altitude limit down to 1°; one weekday more;" in shown
    assert "a sky of up to 21.9 mag/arcsec2." in shown


def test_prices_tells_every_month(planned: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["prices", planned[0]]) == 0
    shown = flat(capsys.readouterr().out)
    assert "What nights are worth at moor" in shown
    assert "January 2027" in shown
    assert "One more free night is worth most in January" in shown


def test_whatif_tells_the_gain_with_its_error(
    planned: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    words = [
        "whatif",
        planned[0],
        "--weekday",
        "Thu",
        "--finish",
        "23:30",
        "--years",
        "10",
        "--seconds",
        "0.2",
    ]
    assert run(words) == 0
    shown = flat(capsys.readouterr().out)
    assert "What if: Thursdays free too, out until 23:30" in shown
    assert "targets finished, over the same 10 weather years for both" in shown


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["why", "YEAR", "M 99", "--scenario", "FOLDER"], "no target is known as 'M 99'"),
        (["why", "YEAR", "M 42", "--scenario", "FOLDER", "--on", "2027-01-05"], "an evening on which M 42"),
        (["why", "YEAR", "M 42", "--scenario", "FOLDER", "--on", "soon"], 'a date such as "2027-01-08"'),
        (
            ["why", "YEAR", "M 42", "--scenario", "scenarios/ridge-zero"],
            "a plan of this scenario",
        ),
        (["whatif", "FOLDER"], "one that changes something"),
        (["whatif", "FOLDER", "--weekday", "someday"], 'a weekday such as "Thu"'),
        (["whatif", "FOLDER", "--finish", "late"], 'a local time such as "01:00"'),
        (["whatif", "FOLDER", "--sky", "21.8", "--on", "2027-01-04"], "free evenings of the season"),
        (["whatif", "FOLDER", "--weekday", "Thu", "--years", "1"], "years: read 1"),
    ],
)
def test_what_cannot_be_asked_is_told(
    words: list[str], said: str, planned: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    folder, year = planned
    assert run([word.replace("FOLDER", folder).replace("YEAR", year) for word in words]) == 1
    assert said in flat(capsys.readouterr().err)


def answer(**changes: object) -> WhyThen:
    time = Span(utc(FIRST, 20), utc(FIRST, 20, 20))
    way = tuple(GivesWay(f"Target {n}", FIRST, SECOND) for n in range(6))
    other = Alternative(SECOND, time, SIGHT, 0.4, 0.1234, True, 0.1, (
        *way, GivesWay("lost", SECOND, None), GivesWay("won", None, FIRST)))  # fmt: skip
    made = WhyThen("M 42", FIRST, time, SIGHT, 0.4, "shows at its best", 1.5, (other,), 3)
    return replace(made, **changes)  # type: ignore[arg-type]


def test_what_gives_way_is_told_by_where_it_goes() -> None:
    shown = lines(why_then_shown(answer(), ZONE))
    assert "Friday 15 January 2027, 20:00-20:20: the plan loses 0.12" in shown
    assert "  Target 0, Target 1, Target 2 and 3 more: from 8 Jan to 15 Jan" in shown
    assert "  lost: no visit any more (was 15 Jan)" in shown
    assert "  won: a visit more, on 8 Jan" in shown
    assert "It shows on 3 further nights" in flat("\n".join(shown))


def test_what_is_not_proven_is_told_as_about_and_nothing_as_nothing() -> None:
    (other,) = answer().alternatives
    about = answer(alternatives=(replace(other, proven=False),))
    assert any("the plan loses about 0.12" in line for line in lines(why_then_shown(about, ZONE)))
    free = answer(alternatives=(replace(other, cost=0.001),))
    assert any("loses nothing to speak of" in line for line in lines(why_then_shown(free, ZONE)))
    none = answer(alternatives=())
    assert "No other free night can take it." in lines(why_then_shown(none, ZONE))


def test_a_remedy_is_told_with_its_caution() -> None:
    time = Span(utc(FIRST, 20), utc(FIRST, 20, 20))
    low = Remedy(Amendment(lowest_altitude_deg=5.0), FIRST, time, SIGHT, "Never point it near the Sun.")
    made = WhyNot("M 7", 2, Reason.NEVER_HIGH, "never above 20°", (low,), ("one weekday more",))
    shown = lines(why_not_shown(made, ZONE))
    assert shown[0] == "M 7: 2 visits missing"
    assert "from 5° up: Friday 8 January 2027, 20:00-20:20" in shown
    assert "  Never point it near the Sun." in shown
    assert "No help: one weekday more." in shown


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (Amendment(lowest_altitude_deg=10.0), "never point a telescope, finder or binoculars near it"),
        (Amendment(later_min=30), "do not drive tired"),
        (Amendment(sky_brightness=21.8), "Know dark ground by daylight first"),
    ],
)
def test_a_change_is_told_with_what_to_beware_of(change: Amendment, words: str) -> None:
    sides = Expected(10.0, 5.0, 20.0, 21.0), Expected(10.1, 5.2, 20.5, 21.5)
    shown = lines(what_if_shown(WhatIf(change, 50, 0, *sides, 0.1, 0.08, ())), 200)
    assert words in shown[-1]
    time = Span(utc(FIRST, 20), utc(FIRST, 20, 20))
    made = WhyNot("M 7", 1, Reason.NEVER_HIGH, "low", (Remedy(change, FIRST, time, SIGHT, ""),), ())
    assert words in "".join(lines(why_not_shown(made, ZONE), 200))


def test_a_gain_that_may_be_chance_is_said_to_be() -> None:
    sides = Expected(10.0, 5.0, 20.0, 21.0), Expected(10.1, 5.2, 20.5, 21.5)
    some = tuple(TargetGain(f"T {n}", 0.2, 0.2 + gain, 0.05) for n, gain in enumerate((0.3, 0.09, -0.2)))
    made = WhatIf(Amendment(weekdays=(3,)), 50, 0, *sides, 0.1, 0.08, some)
    shown = flat("\n".join(lines(what_if_shown(made))))
    assert "+0.10 ± 0.08 targets finished" in shown
    assert "that may be chance" in shown
    assert "Gain most T 0 20 % to 50 % (± 5) Lose T 2 20 % to under 1 % (± 5)" in shown
    assert "T 1" not in shown
    sure = lines(what_if_shown(replace(made, targets=(TargetGain("T", 0.2, 0.3, 0.004),))))
    assert "T 20 % to 30 % (± under 1)" in flat("\n".join(sure))
    assert "chance" not in flat("\n".join(lines(what_if_shown(replace(made, gain=0.5)))))


@pytest.mark.parametrize("width", [72, 80, 100])
def test_every_line_fits_its_terminal(width: int) -> None:
    prices = SeasonPrices(
        (NightPrice(FIRST, 0.4, 0.3),), (MonthPrice(date(2027, 1, 1), 0.1, 1.2, SECOND, 0.3),), 0.4
    )
    for one in (why_then_shown(answer(), ZONE), prices_shown(prices, scenario(ORION))):
        assert max(map(len, lines(one, width))) <= width
    told = flat("\n".join(lines(prices_shown(prices, scenario(ORION)))))
    assert "One more night out allowed in every week would bring 0.40." in told
    assert "A clear hour more would bring most on 8 Jan (0.30)." in told


def test_why_says_that_a_target_was_seen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = laid_out(tmp_path, "target\nM 42\nM 31\n")
    (folder / "outcomes.csv").write_text("evening,outcome,seen\n2027-01-01,clear,M 42\n", encoding="utf-8")
    out = tmp_path / "year"
    assert run(["plan", str(folder), "--out", str(out), "--seconds", "0.3", "--years", "4", "--quiet"]) == 0
    assert run(["why", str(out), "M 42", "--scenario", str(folder)]) == 1
    assert "by the log it was seen, last on 2027-01-01" in capsys.readouterr().err


def test_nights_of_a_scenario_with_sites_away_are_priced_at_home(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["prices", "scenarios/tolven-quay"]) == 0
    assert "What nights are worth at Tolven Quay" in capsys.readouterr().out
