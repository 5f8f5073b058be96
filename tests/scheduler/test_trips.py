"""Trips: a dark site an hour away, on a real sky, judged; and how they compare with staying at home."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from datetime import date, time, timedelta

import erfa
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.assignment import NightLimit, assign
from scheduler.check import breaches_of, judge
from scheduler.domain import EveningRule, Extended, Plan, Scenario, Site, Trip
from scheduler.errors import PlanRejected
from scheduler.expectation import weather_season_of
from scheduler.following import Following
from scheduler.outings import share_spent_outside
from scheduler.prices import chain_of
from scheduler.pricing import cost_of_nights_out, limits_of_trips, priced
from scheduler.ready import made_ready
from scheduler.showing import showing_of
from scheduler.simulation import draw_weather, live
from scheduler.sky import sky_of
from scheduler.visibility.choices import Choices, choices_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.prospect import prospect_for
from scheduler.visibility.sights import sights_of
from scheduler.year import plan_year
from tests.small_season import ALBIREO, ANDROMEDA, FLATS, HERCULES, JUPITER, LARKMOOR, ORION, scenario, star

TOWN = replace(LARKMOOR, name="Town", sky_brightness=19.0)
MOSS = replace(LARKMOOR, name="Moss", sky_brightness=21.8, latitude_deg=54.6, longitude_deg=-3.0)
TRIP = Trip(MOSS, 70, 0.58)
AS_GOOD = re.compile(r"(\d+) later free nights as good")
GALAXIES = [
    star(f"Galaxy {n}", 20.0 * n, 40.0 - 3.0 * n, magnitude=10.0, size_arcmin=4.0,
         nature=Extended("galaxy", 3.0, "Sb"))
    for n in range(8)
]  # fmt: skip
FAINT = star("Shred", 60.0, 45.0, magnitude=9.8, size_arcmin=10.0, nature=Extended("galaxy", 8.0, "Sc"))


def town(*trips: Trip, rule: EveningRule | None = None, nights: int = 40, **limits: object) -> Scenario:
    made = scenario(
        ORION,
        ANDROMEDA,
        JUPITER,
        HERCULES,
        ALBIREO,
        *GALAXIES,
        site=TOWN,
        nights=nights,
        rule=rule,
        trips=trips,
    )
    return replace(made, availability=replace(made.availability, **limits))  # type: ignore[arg-type]


def all_choices(of: Scenario, odds: float = 0.5) -> Choices:
    sky = sky_of(of.site, of.season.evenings)
    free = free_nights_of(of, sky.nights, [odds] * len(sky))
    return choices_of(of, prospect_for(sky, of), free)


@pytest.fixture(scope="module")
def at_home() -> Plan:
    return plan_year(town(), seconds=1.0)


@pytest.fixture(scope="module")
def with_trips() -> Plan:
    return plan_year(town(TRIP), seconds=1.0)


def test_a_dark_site_is_worth_the_drive_and_the_plan_is_sound(at_home: Plan, with_trips: Plan) -> None:
    away = [night for night in with_trips.nights if night.trip]
    assert breaches_of(with_trips) == ()
    assert 1 <= len(away) <= 4
    assert with_trips.objective > at_home.bound
    visited = {visit.target for visit in with_trips.visits if visit.evening in {n.evening for n in away}}
    assert sum(name.startswith("Galaxy") for name in visited) >= 4


def test_an_evening_is_spent_at_one_site(with_trips: Plan) -> None:
    assert [night.evening for night in with_trips.nights] == list(with_trips.season.evenings)
    assert {with_trips.site_of(visit.evening).name for visit in with_trips.visits} <= {"Town", "Moss"}


def test_a_trip_starts_and_ends_at_homes_door_within_the_evening() -> None:
    nights = all_choices(town(TRIP, nights=3)).nights
    for trip, home in zip(nights[::2], nights[1::2], strict=True):
        assert (trip.trip, home.trip, trip.evening) == (TRIP, None, home.evening)
        assert trip.door_to_door == home.free == home.door_to_door
        assert trip.free.start - home.free.start == timedelta(minutes=70)
        assert home.free.end - trip.free.end == timedelta(minutes=70 + 15)


def test_without_clock_times_one_is_set_up_at_dusk_there() -> None:
    nights = all_choices(town(TRIP, rule=EveningRule(), nights=3)).nights
    for night in (one for one in nights if one.trip):
        assert night.night.twilit is not None
        assert night.free.start == night.night.twilit.start - timedelta(minutes=20)
        assert night.free.end == night.night.twilit.end


def test_an_evening_too_short_for_the_drives_offers_none() -> None:
    short = EveningRule(start=time(20), finish=time(22, 36))
    assert any(night.trip for night in all_choices(town(TRIP, rule=short, nights=2)).nights)
    shorter = EveningRule(start=time(20), finish=time(22, 35))
    assert not any(night.trip for night in all_choices(town(TRIP, rule=shorter, nights=2)).nights)


@pytest.mark.parametrize("limit", ["trips_per_month", "trips_per_season"])
def test_without_trips_allowed_the_plan_is_that_of_home(limit: str, at_home: Plan) -> None:
    none = plan_year(
        town(TRIP, trips_per_month=0) if "month" in limit else town(TRIP, trips_per_season=0), seconds=1.0
    )
    same = replace(none, availability=at_home.availability, trips=())
    assert same == at_home


@settings(max_examples=6)
@given(st.integers(1, 3), st.sampled_from([0.0, 0.58, 50.0]))
def test_choice_never_costs_anything(most: int, cost: float) -> None:
    """No prices here: by merit alone, what can be done at home can be done where trips are allowed too."""
    few = town(Trip(MOSS, 70, cost), nights=12, trips_per_month=most)
    home, choice = all_choices(replace(few, trips=())), all_choices(few)

    at_home = priced(few, home.nights, home.opportunities()).problem
    either = priced(few, choice.nights, choice.opportunities()).problem
    clear_home = replace(at_home, value=_by_merit(few, home, at_home.opportunities.target))
    clear_either = replace(either, value=_by_merit(few, choice, either.opportunities.target))
    found, wider = assign(clear_home, seconds=0.3), assign(clear_either, seconds=0.3)
    assert wider.bound >= found.objective - 1e-9
    away = {n for n in np.unique(choice.opportunities().night[wider.rows]).tolist() if choice.nights[n].trip}
    assert len(away) <= most
    if cost == 50.0:
        assert not away
        assert wider.objective == pytest.approx(found.objective, rel=0.01)


def _by_merit(of: Scenario, choices: Choices, target: np.ndarray) -> np.ndarray:
    weights = np.array([float(one.priority) for one in of.targets])
    worth: np.ndarray = weights[target] * choices.opportunities().merit
    return worth


def test_limits_on_trips_hold_in_the_plan() -> None:
    moss, fen = TRIP, Trip(replace(MOSS, name="Fen", longitude_deg=-2.0), 40, 0.1)
    plan = plan_year(town(moss, fen, nights=62, trips_per_month=1, nights_per_week=1), seconds=1.0)
    months = Counter(night.evening.month for night in plan.nights if night.trip)
    assert months
    assert max(months.values()) == 1
    assert breaches_of(plan) == ()


def test_years_lived_through_keep_one_site_a_night_and_the_limits_on_trips() -> None:
    few = town(TRIP, nights=40, trips_per_season=2, nights_per_week=2)
    choices = all_choices(few)
    problem = priced(few, choices.nights, choices.opportunities()).problem
    season = weather_season_of(problem, few.targets, choices.nights, 0.3)
    spent: list[tuple[int, int]] = []

    class Noted(Following):
        def programmes(
            self, night: int, years: np.ndarray, left: np.ndarray, ready: np.ndarray
        ) -> list[np.ndarray]:
            chosen = list(super().programmes(night, years, left, ready))
            spent.extend(
                (year, night) for year, rows in zip(years.tolist(), chosen, strict=True) if len(rows)
            )
            return chosen

    cost = cost_of_nights_out(choices.nights, few.routine)
    policy = Noted(season, np.zeros(0, np.int64), problem.limits, cost)
    policy_years = 20

    live(season, policy, draw_weather(season.chain, policy_years, 0))
    evenings = Counter((year, choices.nights[night].evening) for year, night in spent)
    trips = Counter(year for year, night in spent if choices.nights[night].trip)
    assert max(evenings.values()) == 1
    assert max(trips.values()) <= 2
    assert sum(trips.values()) >= policy_years / 2


def test_both_sites_of_an_evening_have_one_weather() -> None:
    few = town(TRIP, nights=10)
    choices = all_choices(few, odds=0.4)
    problem = priced(few, choices.nights, choices.opportunities()).problem
    chain = weather_season_of(problem, few.targets, choices.nights, 0.3).chain
    clear = chain.drawn(np.random.default_rng(1).random((500, len(choices.nights))))
    assert (clear[:, ::2] == clear[:, 1::2]).all()
    assert clear[:, 2::2].mean() == pytest.approx(0.4, abs=0.03)
    assert np.corrcoef(clear[:, :-2:2].ravel(), clear[:, 2::2].ravel())[0, 1] == pytest.approx(0.3, abs=0.05)


def test_groups_of_nights_under_limits() -> None:
    few = town(TRIP, nights=40, trips_per_month=2, trips_per_season=3)
    nights = all_choices(few).nights
    limits = limits_of_trips(few.availability, nights)
    away = tuple(n for n, night in enumerate(nights) if night.trip)
    assert sum(limit.most == 1 and len(limit.nights) == 2 for limit in limits) == 40
    assert [limit for limit in limits if limit.most == 3] == [(away, 3)]
    assert [len(limit.nights) for limit in limits if limit.most == 2] == [31, 9]


def test_an_announced_trip_closes_home_that_evening_and_costs_nothing() -> None:
    few = town(TRIP, nights=10, trips_per_season=1)
    choices = all_choices(few)
    trip, home = (n for n, night in enumerate(choices.nights) if night.evening == date(2027, 1, 5))
    asked = priced(few, choices.nights, choices.opportunities(), announced={trip}).problem
    assert NightLimit((home,), 0) in asked.limits
    away = tuple(n for n, night in enumerate(choices.nights) if night.trip and n != trip)
    assert NightLimit(away, 0) in asked.limits
    assert asked.outing_cost[trip] == 0.0 < asked.outing_cost[home] < asked.outing_cost[away[0]]


def test_few_trips_are_not_spent_on_the_first_nights() -> None:
    """Two trips in four months: the first plan, night by night, is near the bound already."""
    few = town(TRIP, nights=120, trips_per_season=2)
    more = [replace(one, name=f"{one.name} b", ra_deg=(one.ra_deg or 0.0) + 90.0) for one in GALAXIES]
    few = replace(few, targets=(*few.targets, *more))
    choices = all_choices(few)
    problem = priced(few, choices.nights, choices.opportunities()).problem
    found = assign(problem, seconds=1.0)
    (dived,) = (stage for stage in found.stages if stage.name == "dive")
    assert dived.objective >= 0.9 * found.bound
    assert found.gap < 0.02


def test_home_has_the_clear_nights_that_trips_leave() -> None:
    """Two evenings always clear, one trip between them: half a trip each, the other half at home."""
    sure = chain_of(np.ones(4), 0.0, np.array([1, 1, 2, 2]))
    limits = [NightLimit((0, 1), 1), NightLimit((2, 3), 1), NightLimit((0, 2), 1)]
    assert share_spent_outside(sure, limits, np.array([1, 1, 2, 2])).tolist() == [0.5, 0.5, 0.5, 0.5]
    week = [*limits[:2], NightLimit((0, 2), 0), NightLimit((0, 1, 2, 3), 1)]
    assert share_spent_outside(sure, week, np.array([1, 1, 2, 2])).tolist() == [0.0, 0.5, 0.0, 0.5]
    free = [*limits[:2], NightLimit((0, 2), 0)]
    assert share_spent_outside(sure, free, np.array([1, 1, 2, 2])).tolist() == [0.0, 1.0, 0.0, 1.0]


def test_what_shows_on_trips_only_says_so() -> None:
    made = scenario(
        ORION, FAINT, site=replace(TOWN, sky_brightness=18.0), nights=20, trips=(Trip(MOSS, 70, 40.0),)
    )
    words = {entry.target: entry.words for entry in plan_year(made, seconds=0.5).unplaced}
    assert words["Shred"] == "shows well enough on trips only, and is not worth one more of them"


@settings(max_examples=20)
@given(st.sampled_from([TOWN, MOSS, FLATS]), st.integers(0, 11), st.integers(0, 28))
def test_sights_are_those_of_their_site_by_sofa(site: Site, hour: int, day: int) -> None:
    """Altitudes from two latitudes against the IAU SOFA routines (pyerfa), no refraction, above 10 deg."""
    of = scenario(ANDROMEDA, ORION, site=replace(site, extinction_mag=0.2), start=date(2027, 1, 1), nights=30)
    sky = sky_of(of.site, of.season.evenings)
    prospect = prospect_for(sky, of)
    unix_s = sky.noon_unix_s[day] + 3600.0 * (6 + hour)
    target, night = np.array([0, 1]), np.array([day, day])
    for wish, sight in zip(of.targets, sights_of(prospect, target, night, np.full(2, unix_s)), strict=True):
        assert wish.ra_deg is not None
        assert wish.dec_deg is not None
        _, zenith, *_ = erfa.atco13(
            np.radians(wish.ra_deg), np.radians(wish.dec_deg), 0, 0, 0, 0, 2440587.5, unix_s / 86400.0, 0,
            np.radians(site.longitude_deg), np.radians(site.latitude_deg), site.elevation_m, 0, 0, 0, 0, 0,
            0.55,
        )  # fmt: skip
        altitude_deg = 90.0 - np.degrees(zenith)
        if altitude_deg > 10.0:  # refraction is 0.09 deg there
            assert sight.altitude_deg == pytest.approx(altitude_deg, abs=0.11)


def test_a_target_culminates_higher_from_a_more_southerly_site_by_just_their_latitudes() -> None:
    """Textbook: altitude in the meridian, south of the zenith, is 90 deg less latitude plus declination."""
    highest = []
    for site in (TOWN, MOSS):
        sky = sky_of(site, scenario().season.evenings)
        prospect = prospect_for(sky, scenario(ORION, site=site))
        moments = sky.noon_unix_s[10] + 60.0 * np.arange(360, 900)
        same = np.zeros(len(moments), np.int64)
        highest.append(max(s.altitude_deg for s in sights_of(prospect, same, same + 10, moments)))
    assert highest[1] - highest[0] == pytest.approx(TOWN.latitude_deg - MOSS.latitude_deg, abs=0.01)


def test_a_plan_made_anew_keeps_its_trips() -> None:
    """An outcome at home moves nothing else; an announced trip stands, and home is closed that evening."""
    of = town(TRIP, nights=30, trips_per_season=2)
    before = plan_year(of, seconds=0.5)
    away = [night for night in before.nights if night.trip]
    assert away
    told = away[0].evening
    announced = replace(of, availability=replace(of.availability, announced=frozenset({told})))
    # one would rather not go there any more, were it not announced
    dear = replace(announced, trips=(replace(TRIP, trip_cost=50.0),))
    again = plan_year(replace(announced, targets=of.targets), previous=before, version=2, seconds=0.5)
    assert breaches_of(again) == ()
    assert {n.evening for n in again.nights if n.trip} >= {told}
    visits = [{v.target for v in plan.visits if v.evening == told} for plan in (before, again)]
    assert visits[0] <= visits[1]
    moved = plan_year(dear, previous=before, version=2, seconds=0.5)
    assert breaches_of(moved) == ()
    assert {night.evening for night in moved.nights if night.trip} == {told}


def test_an_evening_that_goes_elsewhere_is_told() -> None:
    of = town(TRIP, nights=20)
    before = plan_year(of, seconds=0.5)
    after = plan_year(town(nights=20), previous=before, version=2, seconds=0.5)
    assert breaches_of(after) == ()
    (evening,) = {night.evening for night in before.nights if night.trip}
    told = {change.reason.value for change in after.changes if change.before == evening}
    elsewhere = any(f"{evening} is spent at Town now, at Moss before" in note for note in after.notes)
    assert told == {"its night is spent elsewhere"} or elsewhere


def test_when_it_shows_agrees_with_how_many_later_nights_are_as_good(with_trips: Plan) -> None:
    shows = {one.target: one for one in with_trips.showing}
    told = 0
    for visit in with_trips.visits:
        later = AS_GOOD.search(visit.why)
        if later and visit.why.startswith("shows at its best from here"):
            told += with_trips.site_of(visit.evening) == MOSS
            assert sum(shows[visit.target].good_nights) > int(later[1]), visit.target
    assert told >= 4


def test_the_judge_finds_nights_told_of_the_planned_site_alone(with_trips: Plan) -> None:
    every = made_ready(town(TRIP)).every_in(with_trips)
    judge(with_trips, every=every)
    place = {(night.evening, night.away): at for at, night in enumerate(with_trips.nights)}
    ready = made_ready(town(TRIP))
    planned = [at for at, night in enumerate(ready.free) if (night.evening, night.away) in place]
    alone = showing_of(
        with_trips.season, with_trips.targets, with_trips.nights, ready.every.on(np.array(planned, np.int64))
    )
    with pytest.raises(PlanRejected, match="does not show"):
        judge(replace(with_trips, showing=alone), every=every)
