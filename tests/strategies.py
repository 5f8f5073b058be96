"""Hypothesis strategies: small seasons anywhere on Earth, with awkward evenings and wish-lists."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from hypothesis import strategies as st

from scheduler.domain import (
    Availability,
    Barlow,
    Binoculars,
    ClearOdds,
    Club,
    EveningRule,
    Extended,
    Eyepiece,
    Filter,
    Guests,
    Horizon,
    Kind,
    Kit,
    LightCurve,
    Lines,
    MoonFeature,
    Nature,
    Observer,
    Occasion,
    Orbit,
    Pair,
    Routine,
    Scenario,
    Season,
    Shower,
    Site,
    Target,
    Telescope,
    Trip,
)

ZONES = {
    "Europe/London": (-5.0, 1.5), "Africa/Nairobi": (34.0, 41.0), "Pacific/Apia": (-172.0, -171.0),
    "Pacific/Kiritimati": (-158.0, -157.0), "America/St_Johns": (-59.0, -53.0),
    "Asia/Kathmandu": (80.0, 88.0), "Australia/Lord_Howe": (158.0, 160.0), "Europe/Oslo": (5.0, 30.0),
    "UTC": (-180.0, 180.0),
}  # fmt: skip
KITS = (
    Kit(binoculars=Binoculars("10x50", 10.0, 50.0)),
    Kit((Telescope("200 mm f/6", 200.0, 1200.0, 50.0), Telescope("small", 70.0, 500.0)),
        (Eyepiece("25 mm", 25.0), Eyepiece("9 mm", 9.0, 60.0)), Barlow(2.0),
        Binoculars("10x50", 10.0, 50.0), (Filter("oxygen", Lines.OXYGEN),)),
)  # fmt: skip
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


NAKED, GLASS, TUBE = "naked eye", "binoculars", "telescope"


@st.composite
def fixed_targets(draw: st.DrawFn, name: str) -> Target:
    """Return a deep-sky object, a double or a variable star, with or without what is known about it."""
    kind = draw(st.sampled_from([Kind.DEEP_SKY, Kind.DOUBLE_STAR, Kind.VARIABLE_STAR]))
    natures: dict[Kind, list[Nature | None]] = {
        Kind.DEEP_SKY: [None, Extended("galaxy", 4.0, "Sb"), Extended("open cluster", None, None, 80),
                        Extended("planetary nebula"), Extended("dark nebula", 30.0)],
        Kind.DOUBLE_STAR: [None, Pair(3.0, 5.0, 12.0), Pair(6.0, 6.2, 1.5)],
        Kind.VARIABLE_STAR: [None, LightCurve(2.1, 3.4, 2445641.5135, 2.8673), LightCurve(3.0, 9.5)],
    }  # fmt: skip
    return Target(
        name, kind, draw(st.floats(0, 360)), draw(st.floats(-90, 90)),
        magnitude=draw(st.none() | st.floats(-1, 14)), size_arcmin=draw(st.none() | st.floats(0.1, 200)),
        nature=draw(st.sampled_from(natures[kind])),
    )  # fmt: skip


@st.composite
def wandering_targets(draw: st.DrawFn, name: str, start: date) -> Target:
    """Return a planet, a feature of the Moon, a minor body, a shower, an eclipse or an event."""
    kind = draw(st.sampled_from([Kind.PLANET, Kind.MOON_FEATURE, Kind.MINOR_BODY, Kind.METEOR_SHOWER,
                                 Kind.ECLIPSE, Kind.EVENT]))  # fmt: skip
    if kind is Kind.PLANET:
        return Target(name, kind, body=draw(st.sampled_from(PLANETS)))
    if kind is Kind.MOON_FEATURE:
        feature = MoonFeature(draw(st.floats(-80, 80)), draw(st.floats(-70, 70)), 90.0)
        return Target(name, kind, body="moon", nature=feature)
    if kind is Kind.MINOR_BODY:
        near_jd = 2461400.0 + draw(st.floats(-900, 900))
        orbit = Orbit(near_jd, draw(st.floats(0.6, 2.6)), draw(st.floats(0.0, 1.1)), draw(st.floats(0, 170)),
                      draw(st.floats(0, 360)), draw(st.floats(0, 360)), draw(st.floats(2, 9)),
                      *draw(st.sampled_from([(0.15, False, None), (4.0, True, 3.0)])))  # fmt: skip
        return Target(name, kind, nature=orbit)
    if kind is Kind.METEOR_SHOWER:
        shower = Shower(draw(st.floats(0, 360)), draw(st.floats(5, 150)))
        return Target(name, kind, draw(st.floats(0, 360)), draw(st.floats(-90, 90)), nature=shower)
    if kind is Kind.ECLIPSE:
        return Target(name, kind, body="moon")
    begins = datetime(start.year, start.month, start.day, tzinfo=UTC) + timedelta(
        minutes=draw(st.integers(0, 20 * 1440))
    )
    lasts = timedelta(minutes=draw(st.integers(5, 200)))
    return Target(name, kind, draw(st.floats(0, 360)), draw(st.floats(-90, 90)),
                  nature=Occasion(begins, begins + lasts))  # fmt: skip


@st.composite
def targets(draw: st.DrawFn, position: int, start: date) -> Target:
    asked = draw(st.none() | st.integers(0, 10).map(lambda days: start + timedelta(days=days)))
    until = draw(st.none() | st.integers(10, 18).map(lambda days: start + timedelta(days=days)))
    name = f"Target {position}"
    target = draw(fixed_targets(name) | wandering_targets(name, start))
    spacing_days = draw(st.integers(1, 6))
    return replace(
        target,
        minutes=draw(st.sampled_from([5, 20, 45, 120])),
        priority=draw(st.integers(1, 5)),
        visits=draw(st.integers(1, 3)),
        spacing_days=spacing_days,
        longest_spacing_days=draw(st.none() | st.integers(spacing_days, 9)),
        earliest=asked,
        latest=until,
        lowest_altitude_deg=draw(st.sampled_from([0.0, 10.0, 20.0, 40.0])),
        instrument=draw(st.sampled_from([None, None, NAKED, GLASS, TUBE])),
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
        kit=draw(st.sampled_from(KITS)),
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
        observers=(Observer("Ada", draw(st.integers(5, 90))), Observer("Ben", 30, ("10x50",))),
        guests=Guests(
            frozenset(start + timedelta(days=day) for day in draw(st.sets(st.integers(0, 20), max_size=2))),
            draw(st.integers(1, 10)),
            finish=draw(st.none() | st.just(time(22, 45))),
        ),
    )


@st.composite
def trips_from(draw: st.DrawFn, home: Site, name: str) -> Trip:
    """Return a site up to a degree or two away, dark or not, walled or not."""
    there = replace(
        draw(sites()), name=name, zone=home.zone,
        latitude_deg=min(90.0, max(-90.0, home.latitude_deg + draw(st.floats(-1.5, 1.5)))),
        longitude_deg=min(180.0, max(-180.0, home.longitude_deg + draw(st.floats(-2.0, 2.0)))),
    )  # fmt: skip
    return Trip(there, draw(st.integers(1, 150)), draw(st.sampled_from([0.0, 0.1, 3.0])))


@st.composite
def shared_scenarios(draw: st.DrawFn) -> Scenario:
    """Return a scenario with sites away, observers with evenings of their own and club nights."""
    drawn = draw(scenarios())
    names = draw(st.sampled_from([("Moss",), ("Moss", "Fen")]))
    days = st.sets(st.sampled_from(drawn.season.evenings), max_size=4).map(frozenset)
    weekdays = st.sets(st.integers(0, 6), min_size=3).map(lambda some: tuple(sorted(some)))
    observers = tuple(replace(one, weekdays=draw(weekdays), away=draw(days)) for one in drawn.observers)
    few = st.none() | st.integers(0, 3)
    return replace(
        drawn,
        trips=tuple(draw(trips_from(drawn.site, name)) for name in names),
        observers=observers,
        club=Club(draw(days), draw(st.none() | st.sampled_from(names))),
        availability=replace(drawn.availability, trips_per_month=draw(few), trips_per_season=draw(few)),
        targets=tuple(
            replace(one, observer=draw(st.sampled_from([None, None, "Ada", "Ben"]))) for one in drawn.targets
        ),
    )
