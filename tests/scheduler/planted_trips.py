"""Plans that break one rule of trips each, and what the judge says of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from scheduler.domain import EveningRule, FreeNight, Horizon, Plan, Site, Span, Trip
from tests.small_plan import CRAB, FIRST, SECOND, SITE, night, plan, sight, utc, with_nights, with_visit

MOSS = Site("Moss", 54.9, -2.9, 300.0, "Europe/London", 21.8, 0.25)
TRIP = Trip(MOSS, 10, 0.1)
CRAB_THERE = replace(sight(target=CRAB), altitude_deg=50.5, azimuth_deg=134.4)
"""M 1 from the Moss on 2027-01-15 at 20:10 UTC, by the IAU SOFA routines (pyerfa), no refraction."""


def away(evening: date = SECOND, trip: Trip = TRIP, arrival: tuple[int, int] = (18, 10)) -> FreeNight:
    """Return the night as spent away: ten minutes there, a quarter of an hour's packing, ten minutes back."""
    return replace(night(evening), free=Span(utc(evening, *arrival), utc(evening, 23, 35)), trip=trip)


def trip_plan(*nights: FreeNight, **changes: object) -> Plan:
    """Return the small plan with its second night spent away."""
    nights = nights or (night(FIRST), away())
    visits = with_visit(2, sight=CRAB_THERE).visits
    return with_nights(*nights, **{"trips": (TRIP,), "visits": visits, **changes})


def _skies(**changes: object) -> FreeNight:
    return replace(away(), night=replace(away().night, **changes))  # type: ignore[arg-type]


def _allowed(**limits: int) -> Plan:
    return trip_plan(availability=replace(plan().availability, **limits))  # type: ignore[arg-type]


def _under(rule: EveningRule, on: FreeNight) -> Plan:
    open_night = replace(night(FIRST), free=Span(utc(FIRST, 16, 10), utc(FIRST, 31, 30)))
    return trip_plan(open_night, on, availability=replace(plan().availability, rules=(rule,)))


LATER_MIDNIGHT = Span(utc(SECOND, 17, 30), utc(SECOND, 32, 30))
FAR = replace(TRIP, travel_min=299)
OPEN = EveningRule((4,))
OPEN_AWAY = replace(away(), free=Span(utc(SECOND, 16, 10), utc(SECOND, 31, 30)))
WALLED = Trip(replace(MOSS, horizon=Horizon((0.0,), (60.0,))), 10, 0.1)
TOUCHING = replace(with_visit(2, sight=CRAB_THERE).visits[0], time=Span(utc(SECOND, 0), utc(SECOND, 0, 15)))

BREACHES: list[tuple[str, Plan, str]] = [
    ("trips_lead_to_sites_of_the_scenario", trip_plan(trips=()), "Moss, which is no site of the scenario"),
    ("trips_lead_to_sites_of_the_scenario",
     trip_plan(trips=(TRIP,), site=replace(SITE, zone="Europe/Dublin")), "another time zone than home's"),
    ("trips_lead_to_sites_of_the_scenario", trip_plan(night(FIRST), replace(away(), guests=3)),
     "2027-01-15 has guests on a trip"),
    ("only_nights_with_a_programme_are_trips", trip_plan(visits=plan().visits[:2]),
     "2027-01-15 is a trip to Moss without a programme"),
    ("trips_stay_within_limits", _allowed(trips_per_month=0), "1 trips in 2027-01"),
    ("trips_stay_within_limits", _allowed(trips_per_season=0), "1 trips in the season, 0 allowed"),
    ("drives_leave_time_between_sites",
     trip_plan(visits=(*with_visit(2, sight=CRAB_THERE).visits[1:],
                       replace(TOUCHING, time=Span(utc(SECOND, 19, 50), utc(SECOND, 19, 58))))),
     "starts sooner than the drive from Jupiter takes"),
    ("nights_away_have_the_sky_of_home", trip_plan(night(FIRST), _skies(moon_lit_fraction=0.05),
     diary=plan().diary), "has another Moon at Moss than at home"),
    ("nights_away_have_the_sky_of_home", trip_plan(night(FIRST), _skies(twilit=LATER_MIDNIGHT),
     diary=plan().diary), "has another midnight at Moss than at home"),
    ("sights_away_are_those_of_the_site",
     trip_plan(visits=with_visit(2, sight=replace(CRAB_THERE, altitude_deg=50.9)).visits),
     "is told at 50.9 deg, not 50.5"),
    ("targets_clear_the_horizon", trip_plan(night(FIRST), away(trip=WALLED), trips=(WALLED,)),
     "behind the horizon, which is clear above 60.0 deg"),
    ("free_times_keep_the_evening_rule", trip_plan(night(FIRST), away(arrival=(18, 0))),
     "2027-01-15 is free from 18:00 UTC, not from 18:00 local time"),
    ("free_times_keep_the_evening_rule",
     trip_plan(night(FIRST), replace(away(), free=Span(utc(SECOND, 18, 10), utc(SECOND, 23, 50)))),
     "free until 23:50 UTC, not until 00:00 local time"),
    ("free_times_keep_the_evening_rule",
     _under(OPEN, replace(OPEN_AWAY, free=Span(utc(SECOND, 16, 20), utc(SECOND, 31, 30)))),
     "2027-01-15 does not begin with the set-up"),
    ("free_times_keep_the_evening_rule",
     _under(OPEN, replace(OPEN_AWAY, free=Span(utc(SECOND, 16, 10), utc(SECOND, 31)))),
     "2027-01-15 does not end with civil dawn"),
]  # fmt: skip

SOUND: dict[str, Plan] = {
    "a night away": trip_plan(),
    "a night away without clock times": _under(OPEN, OPEN_AWAY),
}
