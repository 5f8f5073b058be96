"""Rules for all that is looked at, visits and standbys alike: when it may be, and how it must stand."""

from __future__ import annotations

from itertools import pairwise

from ..domain import SUN_DISTANCE_DEG, Horizon, Kind, Plan
from .looks import MINUTE, Breaches, Rule, looks_of

_FAINT = (Kind.DEEP_SKY, Kind.MINOR_BODY, Kind.METEOR_SHOWER)
_ALTITUDE_SLACK_DEG = 0.01
_HORIZON_SLACK_DEG = 0.3
"""Sights are told for one moment, and a profile may be steep there."""


def looks_fit_the_free_time(plan: Plan) -> Breaches:
    """Nothing is looked at before the kit is set up or after the observer must leave."""
    for look in looks_of(plan):
        if look.since_arrival < plan.routine.setup_min * MINUTE:
            yield f"{look.words} starts before the kit is set up"
        if look.time.end > look.night.free.end:
            yield f"{look.words} ends after the night's finish"


def faint_objects_wait_for_darkness(plan: Plan) -> Breaches:
    """A target of a faint kind is looked at inside the dark window, with eyes adapted to the dark."""
    adapted = (plan.routine.setup_min + plan.routine.dark_adaptation_min) * MINUTE
    for look in looks_of(plan):
        if look.target.kind not in _FAINT:
            continue
        dark = look.night.night.dark
        if dark is None:
            yield f"{look.words} is on a night that does not get dark"
        elif look.time.start < dark.start or look.time.end > dark.end:
            yield f"{look.words} is not wholly in darkness"
        if look.since_arrival < adapted:
            yield f"{look.words} starts before eyes are adapted"


def nothing_is_looked_at_in_daylight(plan: Plan) -> Breaches:
    """Every look lies between the end of civil dusk and the start of civil dawn, the Sun down."""
    for look in looks_of(plan):
        twilit = look.night.night.twilit
        if twilit is None or look.time.start < twilit.start or look.time.end > twilit.end:
            yield f"{look.words} is outside civil dusk to civil dawn"
        if not look.sight.sun_altitude_deg <= 0.0:
            yield f"{look.words} has the Sun above the horizon"


def what_moves_keeps_away_from_the_sun(plan: Plan) -> Breaches:
    """No planet, minor body or Moon is looked at nearer the Sun than is safe, whatever the settings."""
    for look in looks_of(plan):
        apart_deg, wanders = look.sight.sun_separation_deg, look.target.ra_deg is None
        if wanders and not apart_deg >= SUN_DISTANCE_DEG:
            yield f"{look.words} is {apart_deg:.1f} deg from the Sun, too near"


def targets_stand_high_enough(plan: Plan) -> Breaches:
    """A target stands at or above its lowest altitude at the moment its sight is told for."""
    for look in looks_of(plan):
        if not look.sight.altitude_deg >= look.target.lowest_altitude_deg - _ALTITUDE_SLACK_DEG:
            yield f"{look.words} stands at {look.sight.altitude_deg:.1f} deg, too low"


def targets_clear_the_horizon(plan: Plan) -> Breaches:
    """Nothing around the night's site hides a target at the moment its sight is told for."""
    for look in looks_of(plan):
        site = look.night.trip.site if look.night.trip else plan.site
        if site.horizon is None:
            continue
        hidden_below_deg = _lowest_clear_deg(site.horizon, look.sight.azimuth_deg)
        if not look.sight.altitude_deg >= hidden_below_deg - _HORIZON_SLACK_DEG:
            yield f"{look.words} is behind the horizon, which is clear above {hidden_below_deg:.1f} deg"


def looks_keep_the_dates_asked_for(plan: Plan) -> Breaches:
    """A target is neither visited nor a standby before its earliest or after its latest evening."""
    for look in looks_of(plan):
        if not (look.target.earliest or look.evening) <= look.evening <= (look.target.latest or look.evening):
            yield f"{look.words} is outside the dates asked for"


SIGHT_RULES: tuple[Rule, ...] = (
    looks_fit_the_free_time, faint_objects_wait_for_darkness, nothing_is_looked_at_in_daylight,
    what_moves_keeps_away_from_the_sun, targets_stand_high_enough, targets_clear_the_horizon,
    looks_keep_the_dates_asked_for,
)  # fmt: skip


def _lowest_clear_deg(horizon: Horizon, azimuth_deg: float) -> float:
    """Return the profile's altitude at an azimuth, at a wall the lower side of it. [deg]"""
    points = list(zip(horizon.azimuth_deg, horizon.altitude_deg, strict=True))
    closed = [*points, (points[0][0] + 360.0, points[0][1])]
    return min(
        low_deg + (turn_deg - from_deg) / (to_deg - from_deg) * (high_deg - low_deg)
        for (from_deg, low_deg), (to_deg, high_deg) in pairwise(closed)
        for turn_deg in (azimuth_deg % 360.0, azimuth_deg % 360.0 + 360.0)
        if from_deg < to_deg and from_deg <= turn_deg <= to_deg
    )
