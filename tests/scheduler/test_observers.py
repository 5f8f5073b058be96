"""Two observers with evenings of their own, one wish-list, and the nights of their club; on a real sky."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from scheduler.check import breaches_of
from scheduler.domain import Binoculars, Club, Kit, Observer, Plan, Reason, Scenario, Trip
from scheduler.expectation import policy_of, years_ahead
from scheduler.export import OUTPUTS, plan_from_json, plan_to_json
from scheduler.pricing import club_nights, limits_of, limits_of_trips, priced
from scheduler.year import plan_year
from tests.small_season import ALBIREO, ANDROMEDA, HERCULES, JUPITER, KIT, ORION, scenario, star

from .test_trips import MOSS, TRIP, all_choices, town

FRIDAY, SATURDAY = 4, 5
WREN, LINNET = Observer("Wren", 46, weekdays=(FRIDAY,)), Observer("Linnet", 12, weekdays=(SATURDAY,))
WIDE = Binoculars("7x50", 7.0, 50.0)
FIRST_SATURDAY = date(2027, 1, 2)


def shared(observers: tuple[Observer, ...] = (WREN, LINNET), **changes: object) -> Scenario:
    made = scenario(ORION, ANDROMEDA, JUPITER, HERCULES, ALBIREO, nights=28)
    return replace(made, observers=observers, **changes)  # type: ignore[arg-type]


def evenings_of(plan: Plan, target: str) -> set[int]:
    return {visit.evening.weekday() for visit in plan.visits if visit.target == target}


def test_an_evening_is_free_for_whoever_comes_along() -> None:
    nights = all_choices(shared()).nights
    assert {(night.evening.weekday(), night.observers) for night in nights} == {
        (FRIDAY, ("Wren",)), (SATURDAY, ("Linnet",)),
    }  # fmt: skip
    away = replace(LINNET, away=frozenset({FIRST_SATURDAY}))
    assert FIRST_SATURDAY not in {n.evening for n in all_choices(shared(observers=(WREN, away))).nights}


def test_without_evenings_of_their_own_all_come_and_the_plan_is_as_ever() -> None:
    both = replace(WREN, weekdays=tuple(range(7))), replace(LINNET, weekdays=tuple(range(7)))
    assert {night.observers for night in all_choices(shared(observers=both)).nights} == {()}


def test_a_target_for_one_observer_waits_for_their_evenings() -> None:
    for name, weekday in (("Wren", FRIDAY), ("Linnet", SATURDAY)):
        wanted = tuple(replace(one, observer=name) for one in shared().targets)
        plan = plan_year(shared(targets=wanted), seconds=0.5)
        assert breaches_of(plan) == ()
        assert {visit.evening.weekday() for visit in plan.visits} == {weekday}
        assert all(visit.view.observers == (name,) for visit in plan.visits)


def test_who_is_never_there_when_it_shows_is_told() -> None:
    never = replace(LINNET, weekdays=())
    wanted = tuple(replace(one, observer="Linnet") for one in shared().targets)
    plan = plan_year(shared(observers=(WREN, never), targets=wanted), seconds=0.2)
    assert not plan.visits
    (one,) = (entry for entry in plan.unplaced if entry.target == "M 42")
    assert one.reason is Reason.NOT_WHEN_FREE
    assert one.words.endswith("; only evenings with Linnet count")


def test_only_what_those_who_come_look_through_is_used() -> None:
    """On Saturdays nobody uses the telescope, so that nothing that needs it is planned."""
    (telescope,) = KIT.telescopes
    own = replace(LINNET, instruments=("nothing but eyes",))
    faint = star("Galaxy", 60.0, 45.0, magnitude=9.0, instrument=telescope.name)

    kit = Kit(KIT.telescopes, KIT.eyepieces, None, Binoculars("nothing but eyes", 8.0, 30.0))
    made = shared(observers=(WREN, own), kit=kit, targets=(faint,))
    opportunities, nights = all_choices(made).opportunities(), all_choices(made).nights
    assert {nights[night].evening.weekday() for night in np.unique(opportunities.night)} == {FRIDAY}


def test_younger_eyes_alone_see_more() -> None:
    old = replace(WREN, age=85, weekdays=(FRIDAY, SATURDAY))
    young = replace(LINNET, weekdays=(SATURDAY,))
    faint, wide = star("Cloud", 60.0, 45.0, magnitude=7.0, size_arcmin=20.0), Kit(binoculars=WIDE)
    alone = all_choices(shared(observers=(young,), targets=(faint,), kit=wide)).opportunities()
    together = all_choices(shared(observers=(old, young), targets=(faint,), kit=wide))
    saturdays = [n for n, night in enumerate(together.nights) if night.evening.weekday() == SATURDAY]
    both = together.opportunities().on(np.array(saturdays, np.int64))
    assert alone.merit.max() > both.merit.max()


def test_club_nights_have_everybody_and_cost_nothing() -> None:
    on = Club(frozenset({FIRST_SATURDAY, FIRST_SATURDAY + timedelta(days=2)}))
    made = shared(club=on)
    choices = all_choices(made)
    club = [night for night in choices.nights if night.club]
    assert {night.evening for night in club} == on.evenings
    assert {night.observers for night in club} == {()}
    problem = priced(made, choices.nights, choices.opportunities()).problem
    costs = dict(zip([night.evening for night in choices.nights], problem.outing_cost.tolist(), strict=True))
    assert {costs[evening] for evening in on.evenings} == {0.0}
    assert costs[date(2027, 1, 1)] > 0.0


def test_club_nights_are_kept_whatever_the_limits() -> None:
    """Two club nights in January use up the two nights out a month allows: the rest stay at home."""
    on = Club(frozenset({FIRST_SATURDAY, date(2027, 1, 15)}))
    few = replace(shared().availability, nights_per_month=2)
    plan = plan_year(shared(club=on, availability=few), seconds=0.5)
    assert breaches_of(plan) == ()
    assert {visit.evening for visit in plan.visits} <= on.evenings
    assert {night.evening for night in plan.nights if night.club} == on.evenings
    nights = all_choices(shared(club=on, availability=few)).nights
    limits = limits_of(few, [night.evening for night in nights], announced=club_nights(nights))
    assert [limit.most for limit in limits] == [0]


def test_the_club_meets_at_its_site_and_its_drive_counts() -> None:
    on = Club(frozenset({date(2027, 1, 8)}), "Moss")
    made = replace(town(TRIP, trips_per_month=1), club=on)
    nights = all_choices(made).nights
    assert [night.trip for night in nights if night.evening in on.evenings] == [TRIP]
    limits = limits_of_trips(made.availability, nights, club_nights(nights))
    months = [limit for limit in limits if limit.most != 1]
    assert [(limit.most, len(limit.nights)) for limit in months] == [(0, 30)]
    plan = plan_year(made, seconds=0.5)
    assert breaches_of(plan) == ()
    away = Counter(night.evening.month for night in plan.nights if night.trip)
    assert away[1] == 1
    assert plan.site_of(date(2027, 1, 8)) == MOSS


def test_where_there_is_no_time_for_the_drive_the_club_meets_at_home() -> None:
    far = Trip(MOSS, 300, 0.5)
    made = replace(town(far), club=Club(frozenset({date(2027, 1, 8)}), "Moss"))
    assert [night.trip for night in all_choices(made).nights if night.club] == [None]


def test_a_shared_plan_is_written_and_read_back() -> None:
    made = replace(town(TRIP), observers=(WREN, replace(LINNET, away=frozenset({FIRST_SATURDAY}))))
    plan = plan_year(
        replace(made, club=Club(frozenset({date(2027, 1, 10), date(2027, 1, 8)}), "Moss")), seconds=0.5
    )
    assert plan_from_json(plan_to_json(plan)) == plan
    assert all(to_text(plan) for to_text in OUTPUTS.values())


def test_years_are_lived_through_with_both() -> None:
    made = replace(town(TRIP, nights=21), observers=(WREN, LINNET))
    choices = all_choices(made)
    problem = priced(made, choices.nights, choices.opportunities()).problem
    lived = years_ahead(policy_of(problem, np.zeros(0, np.int64), made, choices.nights), years=10, seed=0)
    assert 0 < lived.outings.mean() <= 6
