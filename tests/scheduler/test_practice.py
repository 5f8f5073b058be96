"""A night's practicalities: what is told when, on programmes made by hand. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import (
    Barlow,
    Binoculars,
    Extended,
    Eyepiece,
    Filter,
    Kind,
    Kit,
    MoonFeature,
    Pair,
    Plan,
    Span,
    Target,
    Telescope,
)
from scheduler.errors import InvalidValue
from scheduler.practice import Briefing, briefing_of, is_faint
from tests.small_plan import (
    CRAB,
    FIRST,
    JUPITER,
    ORION,
    POINTING,
    SECOND,
    VIEW,
    night,
    plan,
    sight,
    utc,
    visit,
)

TIGHT = Target("Zeta Cancri", Kind.DOUBLE_STAR, 123.0, 17.6, nature=Pair(5.1, 6.2, 1.1))
WIDE = Target("Albireo", Kind.DOUBLE_STAR, 292.7, 28.0, nature=Pair(3.1, 5.1, 34.0))
SHADOW = Target("Shadow transit", Kind.ECLIPSE, body="jupiter")
ECLIPSE = Target("Lunar eclipse", Kind.ECLIPSE, body="moon")
CRATER = Target("Plato", Kind.MOON_FEATURE, body="moon", nature=MoonFeature(-9.3, 51.6, 101.0))
REFRACTOR = Telescope("90 mm refractor", 90.0, 900.0)
WHOLE_KIT = Kit(
    (Telescope("200 mm f/6", 200.0, 1200.0, 50.0), REFRACTOR),
    (Eyepiece("25 mm", 25.0), Eyepiece("10 mm", 10.0), Eyepiece("6 mm", 6.0)),
    Barlow(2.0), Binoculars("10x50", 10.0, 50.0), (Filter("O III"), Filter("H-beta")),
)  # fmt: skip


def planned(*entries: tuple[Target, int, int, int], **changes: object) -> Plan:
    """Return a plan of FIRST with these targets at hour, minute and length."""
    visits = tuple(
        visit(target.name, FIRST, order, hour, minute, length)
        for order, (target, hour, minute, length) in enumerate(entries, start=1)
    )
    made = {"visits": visits, "standbys": (), "unplaced": (), "targets": tuple(e[0] for e in entries)}
    return replace(plan(), **{**made, **changes})  # type: ignore[arg-type]


def at(briefing: Briefing, words: str) -> list[str]:
    return [f"{r.at:%H:%M}" for r in briefing.reminders if words in r.words]


def test_the_outing_runs_from_setting_up_to_packing() -> None:
    outing = briefing_of(plan(), FIRST).outing
    assert (outing.start, outing.end) == (utc(FIRST, 18), utc(FIRST, 20, 35))


def test_lamps_go_off_the_routines_time_before_the_first_faint_target() -> None:
    briefing = briefing_of(plan(), FIRST)
    assert at(briefing, "White lamps") == ["19:30"]
    bright_only = planned((JUPITER, 18, 20, 15), (WIDE, 20, 0, 10))
    assert at(briefing_of(bright_only, FIRST), "White lamps") == []


@pytest.mark.parametrize("setup_min", [10, 20, 40])
def test_eyes_have_the_routines_time_whatever_setting_up_takes(setup_min: int) -> None:
    routine = replace(plan().routine, setup_min=setup_min)
    briefing = briefing_of(planned((CRAB, 20, 0, 20), routine=routine), FIRST)
    assert at(briefing, "White lamps") == ["19:30"]
    assert briefing.outing.start == min(utc(FIRST, 19, 30), utc(FIRST, 20) - timedelta(minutes=setup_min))


def test_the_first_target_called_faint_is_one_no_eye_sees_without_help() -> None:
    stars = replace(ORION, name="Pleiades", magnitude=1.2)
    briefing = briefing_of(planned((stars, 19, 0, 20), (WIDE, 19, 30, 10), (CRAB, 20, 0, 20)), FIRST)
    assert at(briefing, "White lamps") == ["18:30"]  # the Pleiades too are looked at with adapted eyes
    assert at(briefing, "Eyes are ready for faint targets: M 1 is the first") == ["20:00"]
    assert at(briefing, "Eyes are ready") == ["20:00"]
    assert at(briefing_of(planned((stars, 19, 0, 20), (JUPITER, 19, 30, 15)), FIRST), "Eyes are ready") == []
    assert [is_faint(replace(CRAB, magnitude=mag)) for mag in (6.0, 6.1, None)] == [False, True, True]
    assert not is_faint(replace(WIDE, magnitude=9.0))
    spread = replace(CRAB, magnitude=5.7, size_arcmin=70.0, nature=Extended("galaxy", 41.0))  # as M 33
    assert is_faint(spread)
    assert not is_faint(replace(spread, nature=Extended("open cluster")))
    assert not is_faint(replace(spread, size_arcmin=17.0, nature=Extended("emission nebula")))


@pytest.mark.parametrize(("dazzling", "rest_min"), [(JUPITER, 5), (SHADOW, 5), (ECLIPSE, 15), (CRATER, 15)])
def test_eyes_rest_by_what_dazzled_them(dazzling: Target, rest_min: int) -> None:
    between = planned((ORION, 19, 0, 20), (dazzling, 20, 0, 15), (CRAB, 20, 40, 20))
    words = f"{dazzling.name} has dazzled you: rest the eyes some {rest_min} min"
    assert at(briefing_of(between, FIRST), words) == ["20:15"]


@pytest.mark.parametrize(
    ("target", "needed"), [(CRATER, True), (ECLIPSE, True), (SHADOW, False), (JUPITER, False)]
)
def test_a_map_of_the_moon_is_taken_for_what_is_on_her(target: Target, needed: bool) -> None:
    assert ("map of the Moon" in briefing_of(planned((target, 20, 0, 20)), FIRST).kit) is needed


def test_after_the_moon_or_a_planet_eyes_rest_before_the_next_faint_target() -> None:
    between = planned((ORION, 19, 0, 20), (CRATER, 20, 0, 15), (CRAB, 20, 40, 20))
    assert at(briefing_of(between, FIRST), "Plato has dazzled you: rest the eyes some 15 min") == ["20:15"]
    at_the_end = planned((ORION, 19, 0, 20), (CRAB, 20, 0, 20), (CRATER, 20, 40, 15))
    assert at(briefing_of(at_the_end, FIRST), "dazzled") == []
    at_the_start = planned((CRATER, 19, 0, 20), (CRAB, 20, 0, 20))
    assert at(briefing_of(at_the_start, FIRST), "dazzled") == []


def test_dew_is_looked_for_every_hour_and_told_by_length_and_season() -> None:
    long_night = planned((WIDE, 18, 20, 40), (TIGHT, 19, 40, 40), (JUPITER, 21, 10, 20), (ORION, 22, 20, 20))
    briefing = briefing_of(long_night, FIRST)
    assert at(briefing, "Dew: look") == ["19:00", "20:20", "21:00", "22:00"]
    assert "reckon with dew or frost" in briefing.dew
    assert "no humidity is known" in briefing.dew
    short = briefing_of(planned((WIDE, 18, 20, 20)), FIRST)
    assert at(short, "Dew: look") == []
    assert "may come" in short.dew
    southern = replace(long_night, site=replace(long_night.site, latitude_deg=-45.0))
    assert "frost" not in briefing_of(southern, FIRST).dew


def test_nobody_looks_for_dew_while_packing_or_where_nothing_can_dew() -> None:
    ends = planned((WIDE, 18, 20, 40), (TIGHT, 19, 20, 40), (ORION, 20, 20, 40))
    briefing = briefing_of(ends, FIRST)
    assert at(briefing, "Pack up") == ["21:00"]
    assert at(briefing, "Dew: look") == ["19:00", "20:00"]
    bare = tuple(replace(one, view=replace(one.view, instrument="naked eye")) for one in ends.visits)
    assert at(briefing_of(replace(ends, visits=bare), FIRST), "Dew: look") == []
    (standby,) = plan().standbys
    waiting = replace(ends, visits=bare, standbys=(replace(standby, evening=FIRST),))
    assert at(briefing_of(waiting, FIRST), "Dew: look") == ["19:00", "20:00"]


def test_on_a_night_in_hand_dew_is_told_of_once() -> None:
    all_night = replace(night(FIRST), free=Span(utc(FIRST, 17), utc(FIRST, 31)))
    standby = replace(plan().standbys[0], evening=FIRST)
    in_hand = replace(plan(), visits=(), standbys=(standby,), nights=(all_night,))
    assert at(briefing_of(in_hand, FIRST), "Dew, every hour from now on: look") == ["19:40"]
    assert at(briefing_of(in_hand, FIRST), "Dew: look") == []


def test_a_pause_of_an_hour_is_told_once_and_nobody_looks_for_dew_in_it() -> None:
    briefing = briefing_of(planned((CRAB, 18, 50, 20), (WIDE, 19, 20, 10), (ORION, 23, 0, 20)), FIRST)
    assert at(briefing, "Nothing is planned until 23:00: cover the optics and get warm") == ["19:30"]
    assert at(briefing, "Nothing is planned") == ["19:30"]
    assert at(briefing, "Dew: look") == []
    assert at(briefing, "Break") == []
    assert at(briefing, "White lamps") == ["18:20", "22:30"]  # indoors eyes lose what they gained
    just_less = briefing_of(planned((CRAB, 18, 50, 20), (ORION, 20, 9, 20)), FIRST)
    assert at(just_less, "Nothing is planned") == []
    assert at(just_less, "White lamps") == ["18:20"]
    assert at(just_less, "Dew: look") == ["19:20"]  # and not at 20:29, when all is packed


def test_a_pause_tells_what_it_is_waited_for() -> None:
    late = (JUPITER, 23, 0, 10), (WIDE, 23, 20, 10), (ORION, 23, 40, 10)
    for many, told in enumerate((
        f"After it comes {JUPITER.name}, and nothing else.",
        f"After it come {JUPITER.name} and {WIDE.name}.",
        f"After it come {JUPITER.name} and 2 more.",
    )):  # fmt: skip
        briefing = briefing_of(planned((CRAB, 18, 50, 20), *late[: many + 1]), FIRST)
        (words,) = [one.words for one in briefing.reminders if "Nothing is planned" in one.words]
        assert words.endswith(f" {told}")


def test_a_pause_is_told_by_the_clock_of_home() -> None:
    far = replace(plan().site, zone="Europe/Helsinki")
    made = planned((CRAB, 18, 50, 20), (ORION, 23, 0, 20), site=far)
    assert at(briefing_of(made, FIRST), "Nothing is planned until 01:00") == ["19:10"]


def test_a_long_night_has_a_break_half_way() -> None:
    briefing = briefing_of(planned((ORION, 19, 0, 40), (WIDE, 20, 0, 40), (CRAB, 21, 20, 20)), FIRST)
    assert at(briefing, "Break") == ["20:40"]
    assert at(briefing, "a few steps; lamps stay red.") == ["20:40"]
    assert any("warm drink" in item for item in briefing.kit)
    short = briefing_of(planned((ORION, 18, 0, 20), (CRAB, 18, 30, 20)), FIRST)
    assert at(short, "Break") == []
    assert not any("warm drink" in item for item in short.kit)


@pytest.mark.parametrize("last", [(JUPITER, 21, 20, 20), (CRAB, 21, 20, 20)])
def test_lamps_stay_red_only_once_they_were_told_off(last: tuple[Target, int, int, int]) -> None:
    briefing = briefing_of(planned((TIGHT, 19, 0, 40), (WIDE, 20, 0, 40), last), FIRST)
    assert at(briefing, "White lamps") == (["20:50"] if last[0] is CRAB else [])
    assert at(briefing, "Break: something warm to drink, a few steps.") == ["19:40"]


def test_the_kit_is_what_the_night_looks_through() -> None:
    made = planned((ORION, 19, 0, 20), (CRAB, 20, 0, 20), kit=WHOLE_KIT)
    first, second = made.visits
    made = replace(
        made, visits=(first, replace(second, view=replace(VIEW, eyepiece="10 mm", filter="O III")))
    )
    kit = briefing_of(made, FIRST).kit
    assert kit[:3] == ("200 mm f/6, mount and finder", "eyepieces: 25 mm, 10 mm", "filters: O III")
    assert not {"Barlow lens", "10x50"} & set(kit)
    first_find = replace(POINTING, binoculars_first=True)
    finding = replace(made, visits=(replace(first, pointing=first_find),))
    assert "10x50" in briefing_of(finding, FIRST).kit
    doubled = replace(made, visits=(replace(first, view=replace(VIEW, barlow=True)),))
    assert "Barlow lens" in briefing_of(doubled, FIRST).kit


def test_what_the_standbys_need_is_taken_too() -> None:
    made = replace(plan(), kit=WHOLE_KIT)
    standby = replace(made.standbys[0], view=replace(VIEW, eyepiece="6 mm"))
    assert "eyepieces: 25 mm, 6 mm" in briefing_of(replace(made, standbys=(standby,)), SECOND).kit


def test_on_a_night_in_hand_all_that_fits_the_telescope_is_taken() -> None:
    made = replace(plan(), kit=WHOLE_KIT, visits=())
    kit = briefing_of(made, SECOND).kit
    assert kit[1:4] == ("eyepieces: 25 mm, 10 mm, 6 mm", "Barlow lens", "filters: O III, H-beta")
    bare = replace(made.standbys[0], view=replace(VIEW, instrument="naked eye", eyepiece=None))
    assert not any("eyepieces:" in one for one in briefing_of(replace(made, standbys=(bare,)), SECOND).kit)


def test_the_naked_eye_needs_no_telescope() -> None:
    bare = replace(VIEW, instrument="naked eye", eyepiece=None, magnification=1.0)
    made = planned((ORION, 19, 0, 20))
    made = replace(made, visits=tuple(
        replace(v, view=bare, pointing=replace(POINTING, binoculars_first=False)) for v in made.visits
    ))  # fmt: skip
    briefing = briefing_of(made, FIRST)
    assert not any("mount" in item or "dew cap" in item for item in briefing.kit)
    assert at(briefing, "to cool") == []


def test_sun_and_pointer_cautions_are_never_missing() -> None:
    for evening in (FIRST, SECOND):
        cautions = briefing_of(plan(), evening).cautions
        assert any("Never point a telescope, finder or binoculars at the Sun" in c for c in cautions)
        assert any("Laser pointers" in c for c in cautions)
        assert any("Driving home tired" in c for c in cautions)


def test_a_target_near_the_sun_has_a_caution_of_its_own() -> None:
    made = planned((JUPITER, 18, 20, 15))
    near = replace(made, visits=(replace(made.visits[0], sight=replace(sight(), sun_separation_deg=16.0)),))
    assert briefing_of(near, FIRST).cautions[0].startswith("Jupiter stands 16° from the Sun")
    assert "stands" not in briefing_of(made, FIRST).cautions[0]


def test_a_night_with_nothing_but_standbys_lasts_as_long_as_they_show() -> None:
    made = plan()
    (standby,) = made.standbys
    alone = replace(made, visits=())
    briefing = briefing_of(alone, standby.evening)
    setting_up, packing = timedelta(minutes=made.routine.setup_min), timedelta(minutes=15)
    assert briefing.outing == Span(standby.window.start - setting_up, standby.window.end + packing)
    said = [reminder.words for reminder in briefing.reminders]
    assert said[0].startswith("Arrive and set up")
    assert any("out first, caps off" in words for words in said)
    assert any("dim red lamp only" in words for words in said)
    assert said[-1].startswith("Pack up")
    assert any(standby.view.instrument in line for line in briefing.kit)


def test_a_standby_near_the_sun_is_cautioned_about_beside_visits_too() -> None:
    made = plan()
    (standby,) = made.standbys
    assert any(visit.evening == standby.evening for visit in made.visits)
    near = replace(standby, sight=replace(standby.sight, sun_separation_deg=16.0))
    cautions = briefing_of(replace(made, standbys=(near,)), standby.evening).cautions
    assert cautions[0].startswith(f"{standby.target} stands 16° from the Sun")


def test_an_evening_without_a_programme_has_no_briefing() -> None:
    with pytest.raises(InvalidValue, match="an evening with a programme"):
        briefing_of(plan(), date(2027, 1, 9))


PROGRAMMES = st.lists(
    st.tuples(st.sampled_from([ORION, JUPITER, TIGHT, CRATER, WIDE]), st.integers(5, 40)),
    min_size=1, max_size=8, unique_by=lambda entry: entry[0].name,
)  # fmt: skip


@given(PROGRAMMES, st.integers(0, 90))
def test_reminders_stand_in_order_within_the_outing_or_just_before(
    entries: list[tuple[Target, int]], gap_min: int
) -> None:
    start, rows = 18 * 60, []
    for target, length in entries:
        rows.append((target, start // 60, start % 60, length))
        start += length + gap_min
    briefing = briefing_of(planned(*rows), FIRST)
    moments = [reminder.at for reminder in briefing.reminders]
    assert moments == sorted(moments)
    around = Span(briefing.outing.start - timedelta(minutes=90), briefing.outing.end)
    assert all(around.start <= moment <= around.end for moment in moments)
