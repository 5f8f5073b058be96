"""What is set up when, on programmes made by hand. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace

from scheduler.domain import Span
from scheduler.practice import briefing_of
from scheduler.setting_up import cooling_min, is_tight
from tests.scheduler.planted_trips import away
from tests.scheduler.test_practice import (
    CRATER,
    ECLIPSE,
    REFRACTOR,
    SHADOW,
    TIGHT,
    WHOLE_KIT,
    WIDE,
    at,
    planned,
)
from tests.small_plan import FIRST, JUPITER, ORION, SECOND, VIEW, night, plan, utc


def test_a_close_pair_a_planet_or_the_moon_asks_for_a_cool_collimated_mirror() -> None:
    assert all(map(is_tight, (TIGHT, JUPITER, SHADOW, CRATER)))
    assert not any(map(is_tight, (WIDE, ORION, ECLIPSE)))
    briefing = briefing_of(planned((ORION, 19, 0, 20), (TIGHT, 21, 0, 10)), FIRST)
    assert at(briefing, "check the collimation on a star, before Zeta Cancri") == ["20:50"]
    assert at(briefing, "40 min to cool") == ["18:30"]
    assert at(briefing, "outside by now") == []
    assert at(briefing_of(planned((ORION, 19, 0, 20), (WIDE, 21, 0, 10)), FIRST), "collimation") == []


def test_what_comes_before_the_mirror_is_cool_is_told_in_time() -> None:
    briefing = briefing_of(plan(), FIRST)  # free from 18:00, Jupiter at 18:20
    assert at(
        briefing, "outside by now if you can, caps off; it needs about 40 min to cool before Jupiter"
    ) == ["17:40"]
    assert at(briefing, "Arrive and set up") == ["18:00"]
    assert at(briefing, "to cool") == ["17:40"]
    assert at(briefing, "check the collimation") == ["18:10"]


def test_where_the_evening_is_free_one_arrives_in_time_for_the_mirror_to_cool() -> None:
    briefing = briefing_of(planned((JUPITER, 22, 0, 15)), FIRST)
    assert briefing.outing.start == utc(FIRST, 21, 20)
    assert at(briefing, "Arrive and set up") == at(briefing, "to cool") == ["21:20"]
    assert at(briefing, "outside by now") == []
    partly = replace(night(FIRST), free=Span(utc(FIRST, 21, 30), utc(FIRST, 24)))
    briefing = briefing_of(planned((JUPITER, 22, 0, 15), nights=(partly, night(SECOND))), FIRST)
    assert at(briefing, "outside by now") == at(briefing, "to cool") == ["21:20"]
    assert at(briefing, "Arrive and set up") == ["21:30"]


def test_on_a_trip_nothing_is_put_outside_before_one_is_there() -> None:
    briefing = briefing_of(planned((JUPITER, 18, 20, 15), nights=(away(FIRST), night(SECOND))), FIRST)
    assert at(briefing, "outside by now") == []
    assert at(briefing, "40 min to cool, and Jupiter comes sooner") == ["18:00"]


def test_a_lens_needs_no_collimation() -> None:
    through = replace(VIEW, instrument=REFRACTOR.name)
    made = planned((TIGHT, 21, 0, 10), kit=WHOLE_KIT)
    made = replace(made, visits=tuple(replace(v, view=through) for v in made.visits))
    briefing = briefing_of(made, FIRST)
    assert at(briefing, "collimation") == []
    assert at(briefing, "90 mm refractor: out first") == ["20:40"]
    assert cooling_min(REFRACTOR) == 18.0


def test_a_telescope_carried_for_standbys_alone_is_set_out_to_cool_too() -> None:
    bare = replace(VIEW, instrument="naked eye", eyepiece=None, magnification=1.0)
    (standby,) = plan().standbys
    made = planned((ORION, 19, 0, 20), kit=WHOLE_KIT, standbys=(replace(standby, evening=FIRST),))
    made = replace(made, visits=tuple(replace(one, view=bare) for one in made.visits))
    assert at(briefing_of(made, FIRST), "200 mm f/6: out first, caps off") == ["18:30"]
