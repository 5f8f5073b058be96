"""Rules of trips: where a night away is spent, how long the drives take, and how many there are."""

from __future__ import annotations

import math
from collections import Counter
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from ..domain import FreeNight, Plan, Sight, Site
from .looks import MINUTE, Breaches, Rule, visits_of, words_of

_J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)
_MOON_SLACK = 0.02
_TWILIGHT_SLACK = timedelta(minutes=20)
_TWILIGHT_MIN_PER_DEG = 8.0
"""Dusk moves by four minutes for a degree of longitude, and by some more for one of latitude. [min/deg]"""
_SIGHT_SLACK_DEG = 0.25
_HIGH_DEG, _POLAR_DEG = 15.0, 80.0
"""Refraction is below a fifteenth of a degree above this altitude; precession to first order is good up to
this declination. [deg]"""


def trips_lead_to_sites_of_the_scenario(plan: Plan) -> Breaches:
    """A night away is spent at one of the scenario's sites, under the clock of home, without guests."""
    for night in plan.nights:
        if night.trip is None:
            continue
        if night.trip not in plan.trips:
            yield f"{night.evening} is spent at {night.trip.site.name}, which is no site of the scenario"
        if night.trip.site.zone != plan.site.zone:
            yield f"{night.evening} is spent in another time zone than home's"
        if night.guests:
            yield f"{night.evening} has guests on a trip"


def only_nights_with_a_programme_are_trips(plan: Plan) -> Breaches:
    """Nobody drives to a site where nothing is planned, but to the club."""
    planned = {visit.evening for visit in plan.visits}
    for night in plan.nights:
        if night.trip and not night.club and night.evening not in planned:
            yield f"{night.evening} is a trip to {night.trip.site.name} without a programme"


def trips_stay_within_limits(plan: Plan) -> Breaches:
    """No more nights away in a calendar month, or in the season, than the observer allows, those with the
    club among them; the club's, and those announced, may be more by themselves.
    """  # noqa: D205
    away = [night.evening for night in plan.nights if night.trip]
    own_choice = (night for night in plan.nights if not night.club and night.evening not in plan.announced)
    chosen = [night.evening for night in own_choice if night.trip]
    a_month, a_season = plan.availability.trips_per_month, plan.availability.trips_per_season
    for (year, month), count in Counter((evening.year, evening.month) for evening in away).items():
        own = any((evening.year, evening.month) == (year, month) for evening in chosen)
        if a_month is not None and own and count > a_month:
            yield f"{count} trips in {year}-{month:02d}"
    if a_season is not None and chosen and len(away) > a_season:
        yield f"{len(away)} trips in the season, {a_season} allowed"


def drives_leave_time_between_sites(plan: Plan) -> Breaches:
    """From the last visit at one site to the first at another there is time for the drives between."""
    visits = sorted((visit for visit in plan.visits), key=lambda visit: visit.time)
    nights = {night.evening: night for night in plan.nights}
    for first, second in pairwise(visits):
        before, after = nights.get(first.evening), nights.get(second.evening)
        if before is None or after is None or before.trip == after.trip:
            continue
        drive = _travel(before) + _travel(after)
        if second.time.start - first.time.end < drive:
            yield f"{words_of(second)} starts sooner than the drive from {first.target} takes"


def nights_away_have_the_sky_of_home(plan: Plan) -> Breaches:
    """A site within a drive of home sees about the same dusk, dawn and Moon."""
    diary = {night.evening: night for night in plan.diary}
    for night in plan.nights:
        at_home = diary.get(night.evening)
        if night.trip is None or at_home is None:
            continue
        if abs(night.night.moon_lit_fraction - at_home.moon_lit_fraction) > _MOON_SLACK:
            yield f"{night.evening} has another Moon at {night.trip.site.name} than at home"
        if night.night.twilit is None or at_home.twilit is None:
            continue
        shift = abs(night.night.twilit.middle - at_home.twilit.middle)
        apart_deg = abs(night.trip.site.longitude_deg - plan.site.longitude_deg)
        if shift > _TWILIGHT_SLACK + timedelta(
            minutes=_TWILIGHT_MIN_PER_DEG * min(apart_deg, 360 - apart_deg)
        ):
            yield f"{night.evening} has another midnight at {night.trip.site.name} than at home"


def sights_away_are_those_of_the_site(plan: Plan) -> Breaches:
    """What does not move stands, on a trip, where its hour angle and the latitude of that site put it."""
    for look in visits_of(plan):
        polar = abs(look.sight.dec_deg) > _POLAR_DEG
        if look.night.trip is None or look.target.ra_deg is None or polar:
            continue
        if look.sight.altitude_deg < _HIGH_DEG:
            continue
        altitude_deg = _altitude_deg(look.night.trip.site, look.sight, look.time.middle)
        if not abs(altitude_deg - look.sight.altitude_deg) <= _SIGHT_SLACK_DEG:
            yield f"{look.words} is told at {look.sight.altitude_deg:.1f} deg, not {altitude_deg:.1f}"


TRIP_RULES: tuple[Rule, ...] = (
    trips_lead_to_sites_of_the_scenario, only_nights_with_a_programme_are_trips, trips_stay_within_limits,
    drives_leave_time_between_sites, nights_away_have_the_sky_of_home, sights_away_are_those_of_the_site,
)  # fmt: skip


def _travel(night: FreeNight) -> timedelta:
    return (night.trip.travel_min if night.trip else 0) * MINUTE


def _altitude_deg(site: Site, sight: Sight, moment: datetime) -> float:
    """Return the altitude of an ICRS place over a site, precession to first order, no refraction. [deg]

    Sidereal time and yearly precession by the low-precision formulas of The Astronomical Almanac, from
    memory; good to a twentieth of a degree over fifty years, away from the poles of the sky.
    """
    days = (moment - _J2000) / timedelta(days=1)
    ra, dec = math.radians(sight.ra_deg), math.radians(sight.dec_deg)
    years = days / 365.25
    ra_deg = sight.ra_deg + years * (46.124 + 20.043 * math.sin(ra) * math.tan(dec)) / 3600.0
    dec = math.radians(sight.dec_deg + years * 20.043 * math.cos(ra) / 3600.0)
    sidereal_deg = 280.46062 + 360.985647366 * days + site.longitude_deg
    hour_angle, latitude = math.radians(sidereal_deg - ra_deg), math.radians(site.latitude_deg)
    sine = math.sin(latitude) * math.sin(dec) + math.cos(latitude) * math.cos(dec) * math.cos(hour_angle)
    return math.degrees(math.asin(max(-1.0, min(1.0, sine))))
