"""A night in words: what every place that tells of it says."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from io import StringIO

import pytest
from rich.console import Console

from scheduler.domain import Darkness, Extended, Kind, LightCurve, MoonFeature, Orbit, Pair, Span, Target
from scheduler.domain.nature import Nature
from scheduler.evening_words import (
    changed_clock_words,
    clock,
    dark_words,
    expect_words,
    figures_words,
    guests_heading,
    night_words,
    occasion_words,
    programme_of,
    sight_words,
    sky_words,
    sort_of,
    standbys_heading,
    why_words,
)
from scheduler.notices import notices_of
from scheduler.practice import Reminder, briefing_of
from scheduler.terminal_night import night_shown
from tests.small_plan import (
    FIRST,
    ORION,
    SECOND,
    SITE,
    night,
    plan,
    sight,
    utc,
    with_nights,
    with_visit,
)

from .planted_trips import away


@pytest.mark.parametrize(
    ("merit", "words"),
    [
        (1.0, "a fine sight"), (0.85, "a fine sight"), (0.84, "a good sight"), (0.6, "a good sight"),
        (0.59, "a modest sight"), (0.35, "a modest sight"), (0.34, "a hard one: take your time"),
        (0.0, "a hard one: take your time"),
    ],
)  # fmt: skip
def test_a_merit_is_called_by_how_good_a_sight_it_is(merit: float, words: str) -> None:
    assert sight_words(merit) == words
    assert expect_words(ORION, replace(sight(), merit=merit)) == f"In Orion; {words}; 4.0 mag"


@pytest.mark.parametrize(
    ("guests", "words"), [(1, "Minutes for the guest"), (5, "Minutes for each of 5 guests")]
)
def test_one_guest_is_told_of_as_one(guests: int, words: str) -> None:
    assert guests_heading(replace(night(FIRST), guests=guests)) == words


def test_small_odds_and_a_thin_moon_are_not_told_as_none() -> None:
    free = night(FIRST)
    thin = replace(free, night=replace(free.night, moon_lit_fraction=0.004), clear_odds=0.004)
    moon, odds = sky_words(with_nights(thin), thin)
    assert ", under 1 % lit at midnight, sets 17:00; " in moon
    assert odds.startswith("Darkest from 18:00 to 06:00; ")
    assert odds.endswith("; clear odds under 1 %")


def wide(size_arcmin: float, minor_arcmin: float | None = None) -> str:
    nature = Extended("galaxy", minor_arcmin)
    return figures_words(Target("X", Kind.DEEP_SKY, 10.0, 10.0, size_arcmin=size_arcmin, nature=nature))


def test_sizes_are_told_in_the_unit_that_suits_them() -> None:
    assert [wide(90.0, 60.0), wide(89.0), wide(9.94, 1.0), wide(1.0), wide(0.5, 0.45)] == [
        "1.5° by 1.0°", "89′", "9.9′ by 1.0′", "1.0′", "30″ by 27″",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "nature", "words"),
    [
        (Kind.DOUBLE_STAR, Pair(2.2, 3.9, 14.4), "2.2 and 3.9 mag, 14.4″ apart"),
        (Kind.VARIABLE_STAR, LightCurve(2.12, 3.39), "from 2.1 to 3.4 mag"),
        (Kind.MOON_FEATURE, MoonFeature(-9.4, 51.6, 101.0), "101 km across"),
        (Kind.MINOR_BODY, Orbit(2_461_600.0, 1.0, 0.9, 10.0, 0.0, 0.0, 6.0, 4.0, True, 5.0), "5.0′"),
    ],
)
def test_each_kind_has_its_figures(kind: Kind, nature: Nature, words: str) -> None:
    moves = isinstance(nature, MoonFeature | Orbit)
    place = {} if moves else {"ra_deg": 10.0, "dec_deg": 10.0}
    body = {"body": "moon"} if kind is Kind.MOON_FEATURE else {}
    assert figures_words(Target("X", kind, nature=nature, **place, **body)) == words  # type: ignore[arg-type]


ALGOL = Target("Algol", Kind.VARIABLE_STAR, 47.0, 41.0, nature=LightCurve(2.1, 3.4, 2445641.5, 2.867))
TURN = "37 min after its minimum, at 20:14 near 3.4 mag (2.1 mag at its brightest)"
SHADE = "penumbral eclipse in the night of 20 to 21 Feb 2027, from 21:12 to 01:13, only a slight shading"


@pytest.mark.parametrize(
    ("target", "moment", "told"),
    [
        (ALGOL, TURN, TURN), (Target("E", Kind.ECLIPSE, body="moon"), SHADE, SHADE),
        (replace(ALGOL, nature=LightCurve(2.1, 3.4)), "Moon down", ""), (ORION, "Moon down", ""),
    ],
)  # fmt: skip
def test_a_calendar_tells_of_a_minimum_or_an_eclipse_what_the_page_does(
    target: Target, moment: str, told: str
) -> None:
    why = f"shows at its best from here; {moment}; no later free night is as good"
    assert occasion_words(target, why) == told
    watched = with_visit(1, target=target.name, why=why)
    made = replace(watched, targets=(*plan().targets, *({target} - {ORION})))
    notice = next(one for one in notices_of(made).nights if one.evening == FIRST)
    (line,) = (line for line in notice.lines if line.startswith(f"20:00 {target.name} "))
    assert line.endswith(f"up; 48x; {told}" if told else "up; 48x")


def test_a_night_in_hand_is_not_said_to_begin_with_the_finest_sight() -> None:
    # standbys come in order of what the plan gains: a modest sight may well stand before a fine one
    assert standbys_heading(planned=False) == "What to look at, most useful first"
    assert standbys_heading(planned=True) == "If time is left or a visit fails"


@pytest.mark.parametrize(
    ("darkness", "left"),
    [(Darkness.NIGHT, ""), (Darkness.NAUTICAL, ", in nautical twilight"),
     (Darkness.DEEP_TWILIGHT, ", in deep astronomical twilight")],
)  # fmt: skip
def test_only_what_is_left_of_twilight_is_named(darkness: Darkness, left: str) -> None:
    free = night(FIRST)
    free = replace(free, night=replace(free.night, darkness=darkness))
    assert (
        dark_words(free, SITE) == f"Darkest from 18:00 to 06:00{left}; 6 h of it while you are free, moonless"
    )
    none = replace(free, night=replace(free.night, darkness=Darkness.DAYLIGHT, dark=None))
    assert dark_words(none, SITE) == "It does not get dark"


def test_the_evening_is_told_apart_from_the_year() -> None:
    why = "shows at 87 % of its best; disc 18″; rings open 6°; no later free night is as good"
    assert why_words(why) == (
        "disc 18″; rings open 6°",
        "shows at 87 % of its best; no later free night is as good",
    )
    assert why_words("best that night") == ("best that night", "")


def test_a_reminder_comes_before_the_visit_of_its_minute() -> None:
    made = replace(plan(), targets=(replace(ORION, magnitude=8.0), *plan().targets[1:]))
    told = programme_of(made, FIRST, briefing_of(made, FIRST))
    (at,) = [
        place for place, one in enumerate(told) if not isinstance(one, Reminder) and one.target == "M 42"
    ]
    before = told[at - 1]
    assert isinstance(before, Reminder)
    assert before.words == "Eyes are ready for faint targets: M 42 is the first."


def test_sorts_of_nights() -> None:
    club, guests = replace(night(FIRST), club=True), replace(night(FIRST), guests=3)
    nights = (night(FIRST), guests, club, away())
    assert [sort_of(one) for one in nights] == [
        "Night out",
        "Night with guests",
        "Club night",
        "Trip to Moss",
    ]
    unplanned = [night_words(one, planned=False) for one in nights]
    assert unplanned == ["Night in hand", "Night with guests", "Club night", "Trip to Moss"]
    assert night_words(night(FIRST), planned=True) == "Night out"


@pytest.mark.parametrize(("hours_free", "moon_up", "told"), [
    ((18, 30), (12, 17), ""), ((14, 17), (12, 17), "; none of it while you are free"),
    ((16, 24), (12, 17), "; 6 h of it while you are free, moonless"),
    ((16, 24), (12, 22), "; 6 h of it while you are free, 2 h of them moonless"),
    ((16, 24), (12, 30), "; 6 h of it while you are free, in moonlight"),
])  # fmt: skip
def test_of_the_dark_the_observers_part_is_told(
    hours_free: tuple[int, int], moon_up: tuple[int, int], told: str
) -> None:
    free, up = (Span(*(utc(FIRST, hour) for hour in both)) for both in (hours_free, moon_up))
    one = night(FIRST)
    one = replace(one, free=free, night=replace(one.night, moon_up=(up,)))
    assert dark_words(one, SITE) == f"Darkest from 18:00 to 06:00{told}"


def test_calendars_say_the_same_of_the_sky() -> None:
    moon, dark = sky_words(plan(), plan().nights[1])
    notice = next(one for one in notices_of(plan()).nights if one.evening == SECOND)
    assert f"{moon}." in notice.lines
    assert dark.startswith(
        next(line for line in notice.lines if line.startswith("Darkest")).removesuffix(".")
    )


def test_the_night_on_which_the_clocks_change_says_so_everywhere() -> None:
    autumn = date(2027, 10, 30)
    free = night(autumn)
    made = replace(
        with_visit(0, evening=autumn, time=Span(utc(autumn, 24, 30), utc(autumn, 25, 10))), nights=(free,)
    )
    words = "The clocks go back from 02:00 BST to 01:00 GMT: all later times are GMT."
    assert changed_clock_words(made, free) == words
    assert changed_clock_words(made, night(FIRST)) == ""
    assert clock(made, utc(autumn, 24, 30)) == "01:30 BST"
    short = replace(free.night, dark=Span(utc(autumn, 20), utc(autumn, 25, 30)))
    told = dark_words(replace(free, night=short), made.site)
    assert told == "Darkest from 21:00 to 01:30 GMT; 4 h of it while you are free, moonless"
    only = replace(made, visits=made.visits[:1], standbys=())
    (notice,) = [one for one in notices_of(only).nights if one.evening == autumn]
    assert words in notice.lines
    console = Console(width=160, record=True, file=StringIO())
    console.print(night_shown(only, autumn))
    shown = console.export_text()
    assert words in shown
    assert "01:30 BST-01:10 GMT" in shown
