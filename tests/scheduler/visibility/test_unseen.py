"""Every reason a target can have for no visit, each brought about once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from scheduler.domain import EveningRule, Horizon, Reason, Scenario
from scheduler.sky.season import sky_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.opportunities import opportunities_of, prospect_of
from scheduler.visibility.unseen import reasons_of
from tests.small_season import (
    ANDROMEDA,
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
    "sets while adapting": (
        scenario(star("S", 340.0, 20.0, lowest_altitude_deg=43.0, minutes=10), start=date(2027, 1, 5),
                 nights=1),
        Reason.NOT_WHEN_FREE, "sets below 43° before you are set up and adapted to the dark"),
    "too short": (scenario(replace(ORION, lowest_altitude_deg=29.0, minutes=90)), Reason.TOO_SHORT,
                  "of the 90 min of a visit"),
    "wrong dates": (scenario(replace(ORION, earliest=date(2026, 1, 1), latest=date(2026, 2, 1))),
                    Reason.OUTSIDE_DATES, "between 2026-01-01 and 2026-02-01"),
    "lost in the Sun": (scenario(replace(MERCURY, lowest_altitude_deg=0.0), start=date(2027, 2, 19), nights=2,
                                 site=FLATS), Reason.NEAR_SUN, "above 0° only while too near the Sun"),
    "in thick air": (
        scenario(star("Low", 83.8, -32.0, lowest_altitude_deg=1.0), nights=1,
                 start=date(2027, 1, 22), site=replace(LARKMOOR, sky_brightness=22.0, extinction_mag=1.0)),
        Reason.NOT_SHOWN, "too low or in too bright a sky to show well"),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_the_binding_reason_is_named(name: str) -> None:
    of, reason, words = CASES[name]
    sky = sky_of(of.site, of.season.evenings)
    free = free_nights_of(of, sky.nights, [0.4] * len(sky))
    prospect = prospect_of(sky, of.targets)
    rows = opportunities_of(prospect, free, of.routine)
    ((found, said),) = reasons_of(prospect, free, of.routine, rows, [0])
    assert (found, words in said) == (reason, True), said


def test_a_target_with_opportunities_met_full_nights_or_its_own_spacing() -> None:
    of = scenario(ORION, replace(JUPITER, visits=9, spacing_days=20))
    sky = sky_of(of.site, of.season.evenings)
    free = free_nights_of(of, sky.nights, [0.4] * len(sky))
    prospect = prospect_of(sky, of.targets)
    rows = opportunities_of(prospect, free, of.routine)
    full, spaced = reasons_of(prospect, free, of.routine, rows, [0, 1])
    assert full[0] is Reason.NIGHTS_FULL
    assert "suitable free nights are full" in full[1]
    assert spaced[0] is Reason.SPACING
    assert "9 visits at least 20 days apart" in spaced[1]
