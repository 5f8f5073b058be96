"""The year in the terminal: true about the Moon, and never broken inside a name."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from scheduler.domain import Change, ChangeReason, Plan, Span
from scheduler.terminal import changes_shown, year_of
from tests.scheduler.planted_odds import with_odds
from tests.small_plan import FIRST, ORION, SECOND, night, plan, utc, visit, with_nights


def shown(made: Plan, width: int = 80) -> list[str]:
    text = io.StringIO()
    Console(width=width, file=text).print(year_of(made, width))
    return text.getvalue().splitlines()


@pytest.mark.parametrize(("clear_odds", "lit"), [(0.4, 0.5), (0.004, 0.997)])
@pytest.mark.parametrize("width", [72, 80, 100, 160])
def test_names_are_never_broken_and_lines_fit(width: int, clear_odds: float, lit: float) -> None:
    names = [f"NGC {1000 + n}" for n in range(25)]
    targets = tuple(replace(ORION, name=name, minutes=5) for name in names)
    visits = tuple(visit(name, FIRST, n + 1, 19, 9 * n, 5) for n, name in enumerate(names))
    visits = tuple(replace(one, sight=replace(one.sight, moon_lit_fraction=lit)) for one in visits)
    up = Span(utc(FIRST, 12), utc(FIRST, 20))
    made = with_nights(
        *(
            replace(one, clear_odds=clear_odds, night=replace(one.night, moon_up=(up,)))
            for one in plan().nights
        )
    )
    lines = shown(replace(made, targets=targets, visits=visits, standbys=(), unplaced=()), width)
    assert max(map(len, lines)) <= width
    together = "\n".join(lines)
    assert all(name in together for name in names)
    assert ", ".join(names[:2]) in together or (width, lit) == (72, 0.997), "there one fills a line"


def test_the_moon_is_down_or_up_or_up_in_part() -> None:
    assert any("18:20-20:20" in line and "Moon down" in line for line in shown(plan()))
    for until, words in ((utc(FIRST, 19), "Moon 1 % in part"), (utc(FIRST, 23), "Moon 1 % ")):
        up = Span(utc(FIRST, 12), until)
        lit = with_nights(*(replace(n, night=replace(n.night, moon_up=(up,))) for n in plan().nights))
        assert any("18:20-20:20" in line and words in line for line in shown(lit)), words


def test_odds_and_a_lit_part_near_none_or_all_are_not_told_as_that() -> None:
    up = Span(utc(FIRST, 12), utc(FIRST, 19))
    free = with_nights(
        *(replace(one, clear_odds=0.004, night=replace(one.night, moon_up=(up,))) for one in plan().nights)
    )
    made = replace(
        free,
        visits=tuple(replace(one, sight=replace(one.sight, moon_lit_fraction=0.997)) for one in free.visits),
    )
    assert any("  Moon over 99 % in part  under 1 %  Jupiter, M 42" in line for line in shown(made))
    club = with_nights(replace(night(FIRST), club=True, clear_odds=0.004))
    assert any("under 1 %  club night" in line for line in shown(replace(club, visits=())))


def test_what_is_not_placed_and_the_cautions_are_shown() -> None:
    lines = " ".join(" ".join(shown(plan())).split())
    assert "NGC 5139" in lines
    assert "never above 20° from here" in lines
    assert "Never point a telescope or binoculars near the Sun" in lines
    assert "Larkmoor, 1 January 2027 to 31 January 2027: 3 of 5 visits on 2 of 2 free nights" in lines


def test_what_is_likely_and_what_is_at_risk_are_shown() -> None:
    lines = " ".join(" ".join(shown(with_odds())).split())
    assert (
        "Likely: 2 of the 3 targets that show done by the season's end, 1 to 2 in eight years of ten" in lines
    )
    assert "a quarter by 8 January; half by 15 January; all of them not within the season." in lines
    assert "40 weather years lived through" in lines
    risky = lines[lines.index("At risk") : lines.index("Not placed")]
    assert "Jupiter 25 % ± 7; last good nights: 8 Jan, 15 Jan M 1 50 % ± 8; last good nights: 15 Jan" in risky
    assert "NGC 5139" not in risky
    assert "M 42" not in risky
    assert "Likely" not in " ".join(shown(plan()))


def test_each_change_is_a_line_with_its_reason() -> None:
    def told(*changes: Change) -> list[str]:
        text = io.StringIO()
        Console(width=80, file=text).print(changes_shown(replace(plan(), changes=changes)))
        return [" ".join(line.split()) for line in text.getvalue().splitlines()]

    assert told() == ["Nothing is different from the plan before."]
    assert told(
        Change("M 42", FIRST, SECOND, ChangeReason.CLOUDED_OUT, "clouded out"),
        Change("M 1", FIRST, None, ChangeReason.SEEN, "seen early"),
        Change("M 31", None, SECOND, ChangeReason.NEWLY_PLACED, "new"),
        Change("M 33", SECOND, SECOND, ChangeReason.SHIFTED, "now later"),
    ) == [
        "4 changes from the plan before",
        "M 42 Fri 08 Jan -> Fri 15 Jan clouded out",
        "M 1 Fri 08 Jan -> no visit seen early",
        "M 31 no visit -> Fri 15 Jan new",
        "M 33 Fri 15 Jan now later",
    ]


def test_notes_of_a_plan_are_shown() -> None:
    assert "the limit gave way" in "\n".join(shown(replace(plan(), notes=("the limit gave way",))))
