"""A night in one line."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from scheduler.domain import Outcome, Plan, Site, Span, Trip, Went
from scheduler.pictures.nights import evenings_of, summaries_of, told_of
from scheduler.visibility.free import free_nights_of
from tests.small_plan import FIRST, SECOND, night, plan, utc, visit, with_nights
from tests.small_season import LARKMOOR, ORION, scenario

from .drawn import dark_for, season, sky


def told(plan: Plan, evening: date) -> str:
    (found,) = (told_of(plan, one) for one in evenings_of(plan) if one.evening == evening)
    return found


def test_it_names_date_site_darkness_programme_and_odds() -> None:
    assert summaries_of(plan())[plan().nights[0].evening] == (
        "Friday 8 January 2027, Larkmoor. 6 h dark, moonless. "
        "2 visits, 35 min: Jupiter, M 42. Clear odds 40 %."
    )


def test_of_a_long_programme_it_names_the_first_three() -> None:
    visits = tuple(visit("M 42", FIRST, order, 18, 5 * order, 4) for order in range(5, 0, -1))
    named = tuple(replace(one, target=f"T {one.order}") for one in visits)
    assert "5 visits, 20 min: T 1, T 2, T 3 and 2 more." in told(replace(plan(), visits=named), FIRST)


@pytest.mark.parametrize(
    ("moonless", "words"),
    [
        (0.0, "5 h dark, in moonlight."),
        (1.25, "5 h dark, 1 h 15 min moonless."),
        (5.0, "5 h dark, moonless."),
    ],
)
def test_it_tells_what_the_moon_leaves(moonless: float, words: str) -> None:
    made = with_nights(dark_for(night(FIRST), 5.0, moonless), night(SECOND))
    assert words in told(made, FIRST)


def test_it_tells_twilight_and_a_night_that_is_not_dark_while_free() -> None:
    june = season(date(2027, 6, 1), 30)
    late = replace(june.nights[0], free=Span(utc(date(2027, 6, 4), 23), utc(date(2027, 6, 4), 25)))
    assert "of twilight at its darkest" in summaries_of(replace(june, nights=(late,)))[late.evening]
    early = replace(late, free=Span(utc(date(2027, 6, 4), 20), utc(date(2027, 6, 4), 21)))
    assert "Not dark while free." in summaries_of(replace(june, nights=(early,)))[early.evening]


def test_it_tells_site_club_and_what_was_announced() -> None:
    away = Trip(Site("Ridge", 55.0, -2.0, 300.0, "Europe/London", 21.5, 0.2), 40, 0.5)
    made = replace(with_nights(replace(night(FIRST), trip=away, club=True)), announced=(FIRST,))
    assert told(made, FIRST).startswith("Friday 8 January 2027, Ridge. ")
    assert "Club night. Announced. Clear odds 40 %." in told(made, FIRST)


def test_small_odds_are_not_told_as_none() -> None:
    cloudy = with_nights(replace(night(FIRST), clear_odds=0.004), night(SECOND))
    assert told(cloudy, FIRST).endswith("Clear odds under 1 %.")


def test_it_tells_how_a_night_went_instead_of_its_odds() -> None:
    seen = Outcome(FIRST, Went.PART_CLEAR, 70, seen=("M 42", "M 1"))
    made = replace(with_nights(night(SECOND)), visits=(), log=(seen,))
    assert told(made, FIRST).endswith("6 h dark, moonless. Part-clear for 1 h 10 min; seen: M 42, M 1.")
    later = replace(with_nights(), visits=(), log=(Outcome(SECOND, Went.CLOUDED_OUT),))
    assert told(later, FIRST).endswith("Past.")
    assert told(later, SECOND).endswith("Clouded out.")


def test_nights_behind_us_are_as_they_were_when_they_lay_ahead() -> None:
    """The judge of this is the one who says which nights are free."""
    of = scenario(ORION, site=LARKMOOR, start=date(2027, 1, 1), nights=60)
    diary = sky(date(2027, 1, 1), 60)
    free = free_nights_of(of, diary, [0.4] * 60)
    last = date(2027, 2, 10)
    made = replace(
        plan(), season=of.season, availability=of.availability, diary=diary, visits=(), standbys=(),
        nights=tuple(one for one in free if one.evening > last), log=(Outcome(last, Went.CLEAR),),
    )  # fmt: skip
    drawn = [one.night.free for one in evenings_of(made) if one.night]
    assert drawn == [one.free for one in free]
    assert sum(one.past for one in evenings_of(made)) == 41
    rule = replace(of.availability.rules[0], start=None, finish=None)
    dusk_to_dawn = replace(made, availability=replace(of.availability, rules=(rule,)))
    first = evenings_of(dusk_to_dawn)[0].night
    assert first is not None
    assert diary[0].twilit is not None
    assert first.free == Span(diary[0].twilit.start - timedelta(minutes=20), diary[0].twilit.end)
