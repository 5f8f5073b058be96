"""Hypothesis strategies: small seasons anywhere on Earth, with awkward evenings and wish-lists."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time, timedelta

from hypothesis import strategies as st

from scheduler.domain import (
    Availability,
    Binoculars,
    ClearOdds,
    EveningRule,
    Horizon,
    Kind,
    Kit,
    Routine,
    Scenario,
    Season,
    Site,
    Target,
)

ZONES = {
    "Europe/London": (-5.0, 1.5), "Africa/Nairobi": (34.0, 41.0), "Pacific/Apia": (-172.0, -171.0),
    "Pacific/Kiritimati": (-158.0, -157.0), "America/St_Johns": (-59.0, -53.0),
    "Asia/Kathmandu": (80.0, 88.0), "Australia/Lord_Howe": (158.0, 160.0), "Europe/Oslo": (5.0, 30.0),
    "UTC": (-180.0, 180.0),
}  # fmt: skip
PLANETS = ("mercury", "venus", "mars", "jupiter", "saturn", "uranus", "neptune")


@st.composite
def sites(draw: st.DrawFn) -> Site:
    zone = draw(st.sampled_from(sorted(ZONES)))
    profile = st.lists(st.tuples(st.floats(0, 360), st.floats(0, 45)), min_size=1, max_size=5).map(sorted)
    points = draw(st.none() | profile)
    horizon = Horizon(tuple(p[0] for p in points), tuple(p[1] for p in points)) if points else None
    return Site(
        "Somewhere", draw(st.floats(-90, 90)), draw(st.floats(*ZONES[zone])), draw(st.floats(0, 3000)), zone,
        draw(st.floats(17.0, 22.0)), draw(st.floats(0.1, 0.5)), horizon,
    )  # fmt: skip


@st.composite
def targets(draw: st.DrawFn, position: int, start: date) -> Target:
    asked = draw(st.none() | st.integers(0, 10).map(lambda days: start + timedelta(days=days)))
    until = draw(st.none() | st.integers(10, 18).map(lambda days: start + timedelta(days=days)))
    if draw(st.booleans()):
        body = draw(st.sampled_from(PLANETS))
        target = Target(f"{body.title()} {position}", Kind.PLANET, body=body)
    else:
        kind = draw(st.sampled_from([Kind.DEEP_SKY, Kind.DOUBLE_STAR]))
        target = Target(f"Star {position}", kind, draw(st.floats(0, 360)), draw(st.floats(-90, 90)))
    return replace(
        target,
        minutes=draw(st.sampled_from([5, 20, 45, 120])),
        priority=draw(st.integers(1, 5)),
        visits=draw(st.integers(1, 3)),
        spacing_days=draw(st.integers(1, 6)),
        earliest=asked,
        latest=until,
        lowest_altitude_deg=draw(st.sampled_from([0.0, 10.0, 20.0, 40.0])),
    )


@st.composite
def evening_rules(draw: st.DrawFn) -> EveningRule:
    weekdays = tuple(sorted(draw(st.sets(st.integers(0, 6), min_size=1))))
    start, finish = draw(
        st.sampled_from([
            (None, None), (time(18), None), (None, time(23, 30)), (time(20, 30), time(1)),
            (time(23), time(4, 15)),
        ])
    )  # fmt: skip
    return EveningRule(weekdays, start, finish)


@st.composite
def scenarios(draw: st.DrawFn) -> Scenario:
    """Return a scenario of up to eight targets and three weeks."""
    start = draw(st.dates(date(2026, 1, 1), date(2029, 12, 1)))
    wished = [draw(targets(position, start)) for position in range(draw(st.integers(1, 8)))]
    return Scenario(
        name="drawn",
        site=draw(sites()),
        kit=Kit(binoculars=Binoculars("10x50", 10.0, 50.0)),
        season=Season(start, draw(st.integers(1, 21))),
        availability=Availability(
            tuple(draw(st.lists(evening_rules(), min_size=1, max_size=2))),
            extra=frozenset(draw(st.sets(st.just(start)))),
            away=frozenset(
                start + timedelta(days=day) for day in draw(st.sets(st.integers(0, 20), max_size=4))
            ),
            nights_per_week=draw(st.none() | st.integers(1, 3)),
            nights_per_month=draw(st.none() | st.integers(1, 4)),
        ),
        clear_odds=ClearOdds((draw(st.floats(0, 1)),) * 12, draw(st.floats(0, 0.9))),
        targets=tuple(wished),
        routine=Routine(draw(st.integers(0, 40)), draw(st.integers(0, 40)), draw(st.integers(0, 10))),
    )
