"""Rules of single kinds: what stands where it must, at the hour it must, for whom it is meant."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from ..domain import MOON, Kind, LightCurve, Plan
from .looks import Breaches, Look, Rule, looks_of

_PLACE_SLACK_DEG = 0.001
_MOON_WIDE_DEG = 1.5
"""From the Moon's centre to her limb, and as much again for where on Earth one stands. [deg]"""
_MOON_SLACK_DEG = 0.5
_LIGHT_TIME = timedelta(minutes=10)
"""Light crosses the Earth's orbit by half in 8.3 minutes; the rest is for whole minutes."""
_EPOCH_JD, _EPOCH = 2451544.5, datetime(2000, 1, 1, tzinfo=UTC)
_SHOWPIECE_MERIT, _BRIGHT_MERIT = 0.5, 0.3
_FOR_ADEPTS = (Kind.VARIABLE_STAR, Kind.MINOR_BODY)


def fixed_targets_stand_in_their_places(plan: Plan) -> Breaches:
    """What does not move is looked at where the wish-list has it."""
    for look in looks_of(plan):
        ra_deg, dec_deg, sight = look.target.ra_deg, look.target.dec_deg, look.sight
        if ra_deg is None or dec_deg is None:
            continue
        turned_deg = abs((sight.ra_deg - ra_deg + 180.0) % 360.0 - 180.0)
        if not max(turned_deg, abs(sight.dec_deg - dec_deg)) <= _PLACE_SLACK_DEG:
            yield f"{look.words} is told at {sight.ra_deg:.3f} {sight.dec_deg:+.3f} deg, not in its place"


def what_is_on_the_moon_stands_where_she_does(plan: Plan) -> Breaches:
    """Features and eclipses of the Moon are looked at where she is, and so only while she is up."""
    for look in looks_of(plan):
        sight = look.sight
        if look.target.body != MOON:
            continue
        apart_deg, higher_deg = sight.moon_separation_deg, sight.altitude_deg - sight.moon_altitude_deg
        if not (apart_deg <= _MOON_WIDE_DEG and abs(higher_deg) <= _MOON_SLACK_DEG):
            yield f"{look.words} is {apart_deg:.1f} deg from the Moon, {higher_deg:+.1f} deg above her"


def variable_stars_are_watched_at_their_hours(plan: Plan) -> Breaches:
    """A variable star that keeps time is looked at around a minimum or maximum, as its elements say."""
    for look in looks_of(plan):
        curve = look.target.nature
        if not isinstance(curve, LightCurve) or curve.epoch_hjd is None or curve.period_d is None:
            continue
        half = timedelta(hours=0.5 * curve.wide_h) + _LIGHT_TIME
        if not _from_moment(look, curve.epoch_hjd, curve.period_d) <= half:
            yield f"{look.words} is not within {0.5 * curve.wide_h:g} h of its {curve.phase.value}"


def filters_are_for_nebulae(plan: Plan) -> Breaches:
    """A narrow-band filter is used on deep-sky objects only, behind an eyepiece."""
    for look in looks_of(plan):
        suits = look.target.kind is Kind.DEEP_SKY and look.view.eyepiece is not None
        if look.view.filter is not None and not suits:
            yield f"{look.words} is looked at through the filter {look.view.filter}"


def guests_see_showpieces(plan: Plan) -> Breaches:
    """On guests' nights nothing is looked at that only looks like a star, or that hardly shows."""
    for look in looks_of(plan):
        least = _BRIGHT_MERIT if look.target.kind in (Kind.PLANET, Kind.MOON_FEATURE) else _SHOWPIECE_MERIT
        poor = look.target.kind in _FOR_ADEPTS or not look.sight.merit >= least
        if look.night.guests and poor:
            yield f"{look.words} is nothing to show to guests"


KIND_RULES: tuple[Rule, ...] = (
    fixed_targets_stand_in_their_places, what_is_on_the_moon_stands_where_she_does,
    variable_stars_are_watched_at_their_hours, filters_are_for_nebulae, guests_see_showpieces,
)  # fmt: skip


def _from_moment(look: Look, epoch_hjd: float, period_d: float) -> timedelta:
    """Return how far the farther end of a look lies from the moment nearest to its middle."""
    middle_d = (look.time.middle - _EPOCH) / timedelta(days=1) + _EPOCH_JD
    cycles = round((middle_d - epoch_hjd) / period_d)
    moment = _EPOCH + timedelta(days=epoch_hjd + cycles * period_d - _EPOCH_JD)
    return max(look.time.end - moment, moment - look.time.start)
