"""Every reason a target can have for no visit, each brought about once."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time

import pytest

from scheduler.domain import (
    Availability,
    EveningRule,
    Horizon,
    Kind,
    Occasion,
    Pair,
    Reason,
    Routine,
    Scenario,
    Target,
)
from scheduler.sky.season import sky_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.opportunities import opportunities_of
from scheduler.visibility.prospect import prospect_for
from scheduler.visibility.unseen import reasons_of
from scheduler.year import plan_year
from tests.small_season import (
    ALBIREO,
    ANDROMEDA,
    ECLIPSE,
    FLATS,
    JUPITER,
    LARKMOOR,
    MERCURY,
    OMEGA,
    ORION,
    POINT,
    scenario,
    star,
)

AFTERNOON = EveningRule(start=time(16), finish=time(20))
LATE = EveningRule(start=time(22), finish=time(22, 45))
EARLY = EveningRule(start=time(18), finish=time(20))
WALL = Horizon((0.0, 90.0, 90.0, 270.0, 270.0), (0.0, 0.0, 89.0, 89.0, 0.0))

CASES: dict[str, tuple[Scenario, Reason, str]] = {
    "rises, but low": (scenario(OMEGA, site=replace(LARKMOOR, latitude_deg=40.0)), Reason.NEVER_HIGH,
                       "never above 20° from here: it culminates at 2.4°"),
    "never rises": (scenario(OMEGA), Reason.NEVER_HIGH, "never above 20° from here: it does not rise"),
    "behind the house": (scenario(ORION, site=replace(LARKMOOR, horizon=WALL)), Reason.NEVER_HIGH,
                         "never above 20° from here: the horizon hides it"),
    "summer twilight": (scenario(ORION, start=date(2027, 6, 1)), Reason.NOT_IN_SEASON,
                        "above 20° only in daylight or twilight this season"),
    "midnight sun": (scenario(ANDROMEDA, site=POINT, start=date(2027, 6, 1)), Reason.NOT_IN_SEASON,
                     "above 20° only in daylight or twilight this season"),
    "rises after bedtime": (scenario(star("M 13", 250.4, 36.5), start=date(2027, 2, 1), rule=EARLY),
                            Reason.NOT_WHEN_FREE, "above 20° in darkness, but never while you are free"),
    "over before adapted": (scenario(star("S", 100.0, 60.0), rule=LATE), Reason.EVENING_SHORT,
                            "but your evening is over before you are set up and adapted to the dark"),
    "ten minutes of evening": (
        scenario(star("S", 100.0, 40.0, minutes=45), rule=EveningRule(start=time(22), finish=time(23))),
        Reason.EVENING_SHORT, "at most 10 min of your evening above 20° in darkness once you are set up"
        " and adapted to the dark; a visit takes 45: ask for fewer minutes"),
    "a planet before it is set up": (
        scenario(JUPITER, rule=EveningRule(start=time(23), finish=time(23, 20))),
        Reason.EVENING_SHORT,
        "above 15° between dusk and dawn, but your evening is over before you are set up"),
    "sets while adapting": (
        scenario(star("S", 340.0, 20.0, lowest_altitude_deg=43.0, minutes=10), start=date(2027, 1, 5),
                 nights=1),
        Reason.NOT_WHEN_FREE,
        "above 43° in darkness on your evenings only before you are set up and adapted to the dark"),
    "too short": (scenario(replace(ORION, lowest_altitude_deg=29.0, minutes=90)), Reason.TOO_SHORT,
                  "at most 70 min at a stretch above 29°; a visit takes 90: ask for fewer minutes"),
    "54.4 min without 54 whole ones": (
        scenario(star("S", 318.04, 20.0, lowest_altitude_deg=30.0, minutes=54), nights=1, rule=AFTERNOON),
        Reason.TOO_SHORT, "at most 53 min at a stretch above 30° in darkness; a visit takes 54"),
    "54.9 min are not 55": (
        scenario(star("S", 318.16, 20.0, lowest_altitude_deg=30.0, minutes=55), nights=1, rule=AFTERNOON),
        Reason.TOO_SHORT, "at most 53 min at a stretch above 30° in darkness; a visit takes 55"),
    "culminates at noon": (  # the Sun is as far round the sky, so that noon cuts its day in two
        scenario(star("S", 281.0, -20.0, lowest_altitude_deg=10.0, minutes=200), nights=1),
        Reason.NOT_IN_SEASON, "above 10° only in daylight or twilight this season"),
    "a low planet": (
        scenario(Target("Venus", Kind.PLANET, body="venus", lowest_altitude_deg=30.0), nights=3),
        Reason.NEVER_HIGH, "never above 30° from here this season: it culminates at 1"),
    "clear of the Sun but low": (
        scenario(replace(MERCURY, lowest_altitude_deg=5.0, minutes=120), start=date(2027, 1, 20)),
        Reason.TOO_SHORT, "min at a stretch above 5° between dusk and dawn and clear of the Sun; a visit"),
    "wrong dates": (scenario(replace(ORION, earliest=date(2026, 1, 1), latest=date(2026, 2, 1))),
                    Reason.OUTSIDE_DATES, "between 2026-01-01 and 2026-02-01"),
    "short between its dates": (
        scenario(replace(ORION, latest=date(2027, 1, 3), minutes=90),
                 rule=EveningRule(start=time(18), finish=time(21, 15))),
        Reason.OUTSIDE_DATES, "between the start and 2027-01-03 once you are set up and adapted to the dark"),
    "lost in the Sun": (scenario(replace(MERCURY, lowest_altitude_deg=0.0), start=date(2027, 2, 19), nights=2,
                                 site=FLATS), Reason.NEAR_SUN, "above 0° only while too near the Sun"),
    "too faint even at its highest": (  # a big telescope, or a higher path, would show it
        scenario(star("Dim", 83.8, 0.0, magnitude=11.25)), Reason.NO_INSTRUMENT,
        "too faint for anything you have even at its highest, 35° up, in the darkest sky your site has"),
    "a double star in thick air": (
        scenario(replace(ALBIREO, ra_deg=83.0, dec_deg=-32.0, lowest_altitude_deg=1.0,
                         nature=Pair(5.0, 5.0, 3.4))), Reason.NOT_SHOWN,
        "up when you are free, but too low in unsteady air to show well"),
    "in thick air": (
        scenario(star("Low", 83.8, -32.0, lowest_altitude_deg=1.0), nights=1,
                 start=date(2027, 1, 22), site=replace(LARKMOOR, sky_brightness=22.0, extinction_mag=1.0)),
        Reason.NOT_SHOWN, "too low or in too bright a sky to show well"),
}  # fmt: skip


OCCULTATION = Target(
    "Occultation", Kind.EVENT, 83.8, 20.0, minutes=20, lowest_altitude_deg=5.0,
    nature=Occasion(datetime(2027, 1, 8, 21, tzinfo=UTC), datetime(2027, 1, 8, 21, 20, tzinfo=UTC)),
)  # fmt: skip


@pytest.mark.parametrize(
    ("target", "busy", "words"),
    [
        (OCCULTATION, [date(2027, 1, 8)], "its evening, 2027-01-08, is not one of your free evenings"),
        (replace(OCCULTATION, nature=Occasion(datetime(2027, 1, 8, 19, tzinfo=UTC),
                                              datetime(2027, 1, 9, 12, 50, tzinfo=UTC))),
         [date(2027, 1, 8), date(2027, 1, 9)],
         "its 2 evenings, the first, 2027-01-08, are none of your free evenings"),
    ],
)  # fmt: skip
def test_an_event_on_an_evening_that_is_not_free_is_said_to_be(
    target: Target, busy: list[date], words: str
) -> None:
    of = scenario(target, start=date(2027, 1, 1), nights=20)
    away = replace(of, availability=replace(of.availability, away=frozenset(busy)))
    assert reason_of(away) == (Reason.NOT_WHEN_FREE, words)
    assert reason_of(of)[0] is not Reason.NOT_WHEN_FREE
    if len(busy) > 1:  # with one of them free, it is not for want of an evening
        partly = replace(of, availability=replace(of.availability, away=frozenset(busy[:1])))
        assert reason_of(partly)[0] is not Reason.NOT_WHEN_FREE


def test_a_season_without_an_eclipse_is_said_to_have_none() -> None:
    none = (
        Reason.WRONG_TIME,
        ("no eclipse of the Moon shows from here in this season, above 5° between dusk and dawn"),
    )
    assert reason_of(scenario(ECLIPSE, start=date(2027, 5, 1), nights=5)) == none
    # greatest at 2027-08-17 07:14 UTC (canon, from memory): by day, whoever is free
    busy = scenario(ECLIPSE, start=date(2027, 8, 10), nights=10)
    busy = replace(busy, availability=replace(busy.availability, away=frozenset({date(2027, 8, 16)})))
    assert reason_of(busy) == none
    dated = replace(ECLIPSE, latest=date(2027, 2, 18))  # that of 20 February comes too late
    assert reason_of(scenario(dated, start=date(2027, 2, 14), nights=10)) == (
        Reason.WRONG_TIME,
        "no eclipse of the Moon shows from here between the dates asked for, above 5° between dusk and dawn",
    )


FEBRUARY = "penumbral eclipse in the night of 20 to 21 Feb 2027, from 21:12 to 01:13, only a slight shading"


@pytest.mark.parametrize(
    ("minutes", "rule", "words"),
    [
        (90, EveningRule(),
         "at most 79 min at a stretch above 5° between dusk and dawn while an eclipse shows "
         "once you are set up; a visit takes 90: ask for fewer minutes"),
        (30, EARLY, "never above 5° between dusk and dawn while an eclipse shows once you are set up"),
    ],
)  # fmt: skip
def test_an_eclipse_that_shows_is_named_in_the_reason(minutes: int, rule: EveningRule, words: str) -> None:
    # from new Moon on, when she is near the Sun, which is nothing to her eclipses
    of = scenario(replace(ECLIPSE, minutes=minutes), start=date(2027, 2, 5), nights=20, rule=rule)
    assert reason_of(of) == (Reason.WRONG_TIME, f"{FEBRUARY}: {words}")


def test_an_eclipse_cut_short_by_the_evenings_end_says_so() -> None:
    until = EveningRule(finish=time(23, 20))  # it is looked at from 40 min before its greatest, 23:12, on
    of = scenario(replace(ECLIPSE, minutes=60), start=date(2027, 2, 5), nights=20, rule=until)
    reason, words = reason_of(of)
    assert reason is Reason.EVENING_SHORT
    assert words == (
        f"{FEBRUARY}: at most 47 min of your evening above 5° between dusk and dawn while an eclipse shows "
        "once you are set up; a visit takes 60: ask for fewer minutes"
    )


def test_an_eclipse_not_worth_a_night_out_is_named_too() -> None:
    of = scenario(ECLIPSE, start=date(2027, 2, 14), nights=10, rule=EveningRule())
    (left,) = plan_year(replace(of, routine=Routine(outing_cost=50.0)), seconds=0.2).unplaced
    assert (left.reason, left.words.split(": ")[0]) == (Reason.NOT_ALONE, FEBRUARY)


def reason_of(of: Scenario) -> tuple[Reason, str]:
    """Return why the scenario's only target would stay unplaced though nothing else is planned."""
    sky = sky_of(of.site, of.season.evenings)
    free = free_nights_of(of, sky.nights, [0.4] * len(sky))
    prospect = prospect_for(sky, of)
    rows = opportunities_of(prospect, free, of.routine)
    (said,) = reasons_of(prospect, free, of.routine, of.availability, rows, (), [0])
    return said


@pytest.mark.parametrize("name", CASES)
def test_the_binding_reason_is_named(name: str) -> None:
    of, reason, words = CASES[name]
    found, said = reason_of(of)
    assert (found, words in said) == (reason, True), said


def test_what_no_opportunity_holds_is_never_said_to_show() -> None:
    wished = [star(f"S{n}", 317.0 + 0.05 * n, 20.0, lowest_altitude_deg=30.0, minutes=54) for n in range(40)]
    of = scenario(*wished, nights=1, rule=AFTERNOON)
    plan = plan_year(of, seconds=0.2)
    said = {entry.target: entry.reason for entry in plan.unplaced}
    short = [name for name, reason in said.items() if reason is Reason.TOO_SHORT]
    assert 15 <= len(short) <= 25
    assert Reason.NOT_SHOWN not in said.values()


LONG = [star(f"Long {n}", 95.0, 50.0, minutes=300) for n in range(3)]
TWICE_A_MONTH = Availability((EveningRule(start=time(18), finish=time(2)),), nights_per_month=2)
WEEKLY = replace(TWICE_A_MONTH, nights_per_week=1)

CROWDED: dict[str, tuple[Scenario, tuple[int, ...], Reason, str]] = {
    "one night for two visits": (scenario(replace(ORION, visits=2), nights=1), (1,), Reason.TOO_FEW_NIGHTS,
                                 "only 1 suitable free night for the 2 visits wanted"),
    "spacing": (scenario(replace(ORION, visits=9, spacing_days=20)), (7,), Reason.SPACING,
                "its 30 suitable free nights hold only 2 of the 9 visits wanted, at least 20 days apart"),
    "spacings that no chain of nights keeps": (
        scenario(replace(ORION, visits=4, spacing_days=8, longest_spacing_days=9),
                 availability=Availability((EveningRule(weekdays=(4,), start=time(18)),))),
        (3,), Reason.SPACING, "suitable free nights hold only 1 of the 4 visits wanted, 8 to 9 days apart"),
    "its own visits reach the limit": (
        scenario(replace(ORION, visits=3, spacing_days=1), availability=TWICE_A_MONTH),
        (1,), Reason.NIGHTS_LIMIT, "one more night out for it would break your limit of 2 nights a month"),
    "empty nights beyond the limit": (
        scenario(*LONG, availability=replace(TWICE_A_MONTH, nights_per_month=1)),
        (1, 1), Reason.NIGHTS_LIMIT,
        "one more night out for it would break your limit of 1 night a month"),
    "a limit a week": (
        scenario(*LONG, nights=7, start=date(2027, 1, 4), availability=WEEKLY),
        (1, 1), Reason.NIGHTS_LIMIT,
        "one more night out for it would break your limit of 1 night a week"),
    "limits of both kinds": (scenario(*LONG, availability=WEEKLY), (1,), Reason.NIGHTS_LIMIT,
                             "would break your limit of 1 night a week or 2 nights a month"),
    "full nights": (scenario(*LONG, nights=2), (1,), Reason.NIGHTS_FULL,
                    "all its 2 suitable free nights are full with what matters more"),
    "a full night": (scenario(*LONG[:2], nights=1), (1,), Reason.NIGHTS_FULL,
                     "its one suitable free night is full with what matters more"),
    "a full night at the limit": (
        scenario(*LONG[:2], nights=1, availability=WEEKLY), (1,), Reason.NIGHTS_FULL,
        "its one suitable free night is full with what matters more"),
    "its second night is full": (
        scenario(*[replace(one, visits=2, spacing_days=1) for one in LONG[:2]], nights=3),
        (1,), Reason.NIGHTS_FULL, "at least 1 day from the visits it has"),
    "not worth a night": (
        scenario(ORION, nights=2, routine=Routine(outing_cost=50.0)), (1,), Reason.NOT_ALONE,
        "by itself it is not worth the effort of one more night out"),
    "beside a full night not worth another": (
        scenario(replace(LONG[0], priority=5), replace(LONG[1], priority=1), nights=2,
                 routine=Routine(outing_cost=3.0)),
        (1,), Reason.NOT_ALONE, "one more night out, and the nights already spent outside are full"),
    "pinned between full nights": (
        scenario(*[replace(one, visits=2, spacing_days=2) for one in LONG[:2]], nights=3),
        (1,), Reason.NIGHTS_FULL,
        "no suitable free night is at least 2 days from the visits it has, and moving them is not worth it"),
}  # fmt: skip


@pytest.mark.parametrize("name", CROWDED)
def test_a_target_that_shows_says_what_keeps_it_out(name: str) -> None:
    of, missing, reason, words = CROWDED[name]
    plan = plan_year(of, seconds=0.2)
    assert tuple(entry.missing for entry in plan.unplaced) == missing
    for entry in plan.unplaced:
        assert (entry.reason, words in entry.words) == (reason, True), entry.words
