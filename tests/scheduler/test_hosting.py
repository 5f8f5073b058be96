"""What guests are told, on programmes made by hand. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from scheduler.domain import FreeNight, Guests, Plan, Span, Target
from scheduler.practice import briefing_of
from tests.scheduler.test_practice import CRATER, ECLIPSE, SHADOW, at, planned
from tests.small_plan import FIRST, JUPITER, ORION, SECOND, night, plan, utc


def hosted(evening: date, *moon_up: Span) -> FreeNight:
    free = night(evening)
    return replace(free, guests=10, night=replace(free.night, moon_up=moon_up))


def with_moon(*moon_up: Span, first: Target = JUPITER) -> Plan:
    return planned((first, 18, 20, 15), (ORION, 20, 0, 20), nights=(hosted(FIRST, *moon_up), night(SECOND)))


def test_guests_have_their_minutes_a_step_and_an_early_end() -> None:
    with_guests = replace(night(FIRST), guests=10)
    made = planned(
        (JUPITER, 18, 20, 15), (ORION, 20, 0, 20), nights=(with_guests, night(SECOND)),
        guests=Guests(frozenset({FIRST}), 10, 1.5, time(21)),
    )  # fmt: skip
    briefing = briefing_of(made, FIRST)
    assert briefing.guest_minutes == (("Jupiter", 1.5), ("M 42", 2.0))
    assert at(briefing, "10 guests") == ["18:10"]
    assert at(briefing, "their evening ends by 21:00") == ["20:20"]
    assert any("step for small guests" in item for item in briefing.kit)
    assert any("With guests" in words for words in briefing.cautions)
    alone = briefing_of(plan(), FIRST)
    assert alone.guest_minutes == ()
    assert not any("guest" in words.lower() for words in (*alone.cautions, *alone.kit))


def test_guests_are_told_how_to_look_before_the_first_look_and_not_before_one_is_there() -> None:
    assert at(briefing_of(with_moon(), FIRST), "say how to look and focus") == ["18:10"]
    made = with_moon()
    late = replace(made.nights[0], free=Span(utc(FIRST, 18, 17), utc(FIRST, 24)))
    hurried = replace(made, nights=(late, night(SECOND)), routine=replace(made.routine, setup_min=3))
    briefing = briefing_of(hurried, FIRST)
    assert at(briefing, "Arrive") == at(briefing, "say how to look and focus") == ["18:17"]


def test_guests_are_shown_the_programme_in_its_order_or_the_brightest_where_there_is_none() -> None:
    made = with_moon()
    assert at(briefing_of(made, FIRST), "tube. Show what the programme has, in its order;") == ["18:10"]
    assert at(briefing_of(made, FIRST), "Start with the brightest") == []
    in_hand = replace(plan(), visits=(), nights=(night(FIRST), hosted(SECOND)))
    assert at(briefing_of(in_hand, SECOND), "tube. Start with the brightest;") == ["19:00"]


@pytest.mark.parametrize(
    ("up", "told"),
    [
        ((12, 0, 19, 10), ["18:20"]),
        ((19, 0, 30, 0), ["19:00"]),
        ((12, 0, 18, 30), []),
        ((20, 10, 30, 0), []),
    ],
)
def test_a_moon_that_is_up_is_shown_to_guests(up: tuple[int, int, int, int], told: list[str]) -> None:
    moon_up = Span(utc(FIRST, *up[:2]), utc(FIRST, *up[2:]))
    briefing = briefing_of(with_moon(moon_up), FIRST)
    assert at(briefing, "show her too") == told
    if told:
        assert at(briefing, f"The Moon is up until {'19:10' if up[2] == 19 else '20:20'}:") == told
    alone = replace(with_moon(moon_up).nights[0], guests=0)
    unhosted = replace(with_moon(moon_up), nights=(alone, night(SECOND)))
    assert at(briefing_of(unhosted, FIRST), "show her too") == []


@pytest.mark.parametrize(("target", "told"), [(CRATER, []), (ECLIPSE, []), (SHADOW, ["18:20"])])
def test_a_moon_that_is_listed_anyway_needs_no_line(target: Target, told: list[str]) -> None:
    whole_night = Span(utc(FIRST, 12), utc(FIRST, 30))
    assert at(briefing_of(with_moon(whole_night, first=target), FIRST), "show her too") == told
