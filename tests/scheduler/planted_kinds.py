"""Plans that break one rule of single kinds each, and what the judge says of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from scheduler.domain import Filter, Guests, Kind, Kit, LightCurve, MoonFeature, Pair, Plan, Target
from tests.small_plan import (
    FIRST,
    KIT,
    ORION,
    SECOND,
    TARGETS,
    VIEW,
    night,
    plan,
    sight,
    utc,
    with_nights,
    with_visit,
)

MOON_AT = replace(sight(), moon_altitude_deg=40.0, moon_separation_deg=0.9)
PLATO = Target("M 42", Kind.MOON_FEATURE, body="moon", nature=MoonFeature(-9.3, 51.6, 101.0))
ECLIPSE = Target("M 42", Kind.ECLIPSE, body="moon", minutes=20)
LONE = plan().standbys[:0]
JD_OF_2000 = 2451544.5
PERIOD_D = 2.8673


def _instead(target: Target, **changes: object) -> Plan:
    """Return the plan with another target in the place of M 42, at eight on the first night."""
    wished = replace(target, name="M 42", minutes=20)
    made = replace(with_visit(1, **changes), targets=(wished, *TARGETS[1:]), standbys=LONE)
    return replace(made, kit=Kit(KIT.telescopes, KIT.eyepieces, filters=(Filter("narrow band"),)))


def _variable(off_min: float) -> Plan:
    """Return the plan with the middle of a visit this long after a minimum of an hour's width."""
    middle_d = (utc(FIRST, 20, 10) - utc(FIRST.replace(2000, 1, 1), 0)) / timedelta(days=1)
    epoch_hjd = JD_OF_2000 + middle_d - off_min / 1440.0 - 100 * PERIOD_D
    return _instead(
        replace(ORION, kind=Kind.VARIABLE_STAR, nature=LightCurve(2.1, 3.4, epoch_hjd, PERIOD_D, wide_h=1.0))
    )


def _with_guests(plan_made: Plan) -> Plan:
    """Return a plan with two guests on its first night."""
    guests = Guests(frozenset({FIRST}), 2, 1.0)
    return replace(
        with_nights(replace(night(FIRST), guests=2), night(SECOND), guests=guests),
        visits=plan_made.visits, targets=plan_made.targets, standbys=LONE,
    )  # fmt: skip


FILTERED = replace(VIEW, filter="narrow band")
MIRA = replace(ORION, kind=Kind.VARIABLE_STAR, nature=LightCurve(2.1, 3.4))

BREACHES: list[tuple[str, Plan, str]] = [
    ("fixed_targets_stand_in_their_places", with_visit(1, sight=replace(sight(), ra_deg=84.0)),
     "told at 84.000 -5.390 deg, not in its place"),
    ("fixed_targets_stand_in_their_places", with_visit(1, sight=replace(sight(), dec_deg=-5.4)),
     "not in its place"),
    ("what_is_on_the_moon_stands_where_she_does", _instead(PLATO), "120.0 deg from the Moon"),
    ("what_is_on_the_moon_stands_where_she_does",
     _instead(PLATO, sight=replace(MOON_AT, moon_altitude_deg=-3.0)), "+43.0 deg above her"),
    ("what_is_on_the_moon_stands_where_she_does",
     _instead(ECLIPSE, sight=replace(MOON_AT, moon_separation_deg=2.0)), "2.0 deg from the Moon"),
    ("variable_stars_are_watched_at_their_hours", _variable(31.0), "is not within 0.5 h of its minimum"),
    ("variable_stars_are_watched_at_their_hours", _variable(-31.0), "is not within 0.5 h of its minimum"),
    ("filters_are_for_nebulae",
     _instead(replace(ORION, kind=Kind.DOUBLE_STAR, nature=Pair(3.0, 5.0, 9.0)), view=FILTERED),
     "is looked at through the filter narrow band"),
    ("guests_see_showpieces", _with_guests(_instead(MIRA)), "is nothing to show to guests"),
    ("guests_see_showpieces",
     _with_guests(_instead(ORION, sight=replace(sight(), merit=0.45))), "is nothing to show to guests"),
]  # fmt: skip

SOUND = {
    "a feature of the Moon where she is": _instead(PLATO, sight=MOON_AT),
    "an eclipse where the Moon is": _instead(ECLIPSE, sight=MOON_AT),
    "a visit around a minimum": _variable(0.0),
    "a visit as far from a minimum as light and whole minutes let it": _variable(29.0),
    "a variable star that keeps no time": _instead(MIRA),
    "a nebula through a filter": _instead(ORION, view=FILTERED),
    "showpieces for guests": _with_guests(_instead(ORION)),
}
