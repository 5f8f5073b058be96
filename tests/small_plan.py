"""A small sound plan made by hand, for tests that need a plan but no sky and no solver."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from scheduler.domain import (
    Availability,
    Darkness,
    EveningRule,
    Eyepiece,
    FreeNight,
    Guests,
    Kind,
    Kit,
    Night,
    Observer,
    Plan,
    Pointing,
    Reason,
    Routine,
    Season,
    Sight,
    Site,
    Span,
    Standby,
    Target,
    Telescope,
    Unplaced,
    View,
    Visit,
)

SITE = Site("Larkmoor", 55.2, -2.4, 240.0, "Europe/London", 21.2, 0.26)
ORION = Target("M 42", Kind.DEEP_SKY, 83.82, -5.39, constellation="Ori", magnitude=4.0, minutes=20)
CRAB = Target("M 1", Kind.DEEP_SKY, 83.63, 22.01, constellation="Tau", magnitude=8.4, minutes=20)
JUPITER = Target("Jupiter", Kind.PLANET, body="jupiter", minutes=15, visits=2, spacing_days=7)
SOUTHERN = Target("NGC 5139", Kind.DEEP_SKY, 201.7, -47.48, constellation="Cen", magnitude=3.7)
TARGETS = (ORION, CRAB, JUPITER, SOUTHERN)

KIT = Kit((Telescope("200 mm f/6", 200.0, 1200.0, 50.0),), (Eyepiece("25 mm", 25.0),))
VIEW = View("200 mm f/6", "25 mm", False, None, 48.0, 50 / 48, 200 / 48, "lowest power", ("observer",))
POINTING = Pointing("Rigel", 0.1, 8.0, "South, four fists up (40°). Start from Rigel: just above it.")

FRIDAYS = EveningRule((4,), time(18), time(0))
SEASON = Season(date(2027, 1, 1), 31)
FIRST, SECOND = date(2027, 1, 8), date(2027, 1, 15)


def utc(evening: date, hour: int, minute: int = 0) -> datetime:
    """Return a UTC time of the night; hours from 24 on belong to the next day."""
    return datetime(evening.year, evening.month, evening.day, tzinfo=UTC) + timedelta(
        hours=hour, minutes=minute
    )


def night(evening: date) -> FreeNight:
    sky = Night(
        evening=evening, darkness=Darkness.NIGHT, dark=Span(utc(evening, 18), utc(evening, 30)),
        twilit=Span(utc(evening, 16, 30), utc(evening, 31, 30)), moon_lit_fraction=0.01,
        moon_phase_angle_deg=170.0, moon_waxing=True, moon_up=(Span(utc(evening, 12), utc(evening, 17)),),
        moonless_min=720.0,
    )  # fmt: skip
    return FreeNight(sky, Span(utc(evening, 18), utc(evening, 24)), 0.4)


def sight(altitude_deg: float = 40.0, target: Target = ORION) -> Sight:
    """Return how a target stands: in its place, if it has one."""
    place = (83.82, -5.39)
    if target.ra_deg is not None and target.dec_deg is not None:
        place = target.ra_deg, target.dec_deg
    return Sight(*place, "Orion", altitude_deg, 170.0, 0.01, -30.0, 120.0, -25.0, 150.0, 0.8)


def visit(name: str, evening: date, order: int, hour: int, minute: int, minutes: int) -> Visit:
    start = utc(evening, hour, minute)
    stands = sight(target=next((target for target in TARGETS if target.name == name), ORION))
    return Visit(
        name, evening, order, Span(start, start + timedelta(minutes=minutes)), stands, "best that night",
        VIEW, POINTING,
    )  # fmt: skip


def plan() -> Plan:
    """Return a sound plan: three visits on two nights, one standby, two targets unplaced."""
    window = Span(utc(SECOND, 19), utc(SECOND, 23))
    return Plan(
        scenario="larkmoor", version=1, seed=0, site=SITE, season=SEASON,
        availability=Availability((FRIDAYS,), nights_per_week=1, nights_per_month=2),
        routine=Routine(setup_min=20, dark_adaptation_min=30, move_min=4), targets=TARGETS,
        nights=(night(FIRST), night(SECOND)),
        visits=(
            visit("Jupiter", FIRST, 1, 18, 20, 15),
            visit("M 42", FIRST, 2, 20, 0, 20),
            visit("M 1", SECOND, 1, 20, 0, 20),
        ),
        standbys=(
            Standby("M 42", SECOND, 1, window, utc(SECOND, 21), sight(), "shows as well", VIEW, POINTING),
        ),
        unplaced=(
            Unplaced("Jupiter", 1, Reason.NIGHTS_FULL, "every suitable night is full"),
            Unplaced("NGC 5139", 1, Reason.NEVER_HIGH, "never above 20° from here"),
        ),
        objective=3.0, bound=3.01, kit=KIT, observers=(Observer(),), guests=Guests(),
        diary=tuple(night(evening).night for evening in SEASON.evenings),
    )  # fmt: skip


def with_visit(changed: int, **changes: object) -> Plan:
    """Return the plan with one of its visits changed."""
    sound = plan()
    visits = list(sound.visits)
    visits[changed] = replace(visits[changed], **changes)  # type: ignore[arg-type]
    return replace(sound, visits=tuple(visits))


def with_standby(**changes: object) -> Plan:
    """Return the plan with its standby changed."""
    sound = plan()
    return replace(sound, standbys=(replace(sound.standbys[0], **changes),))  # type: ignore[arg-type]


def with_nights(*nights: FreeNight, **changes: object) -> Plan:
    """Return the plan with other free nights, which the diary tells too."""
    changed = {one.evening: one.night for one in nights}
    season = changes.get("season", SEASON)
    assert isinstance(season, Season)
    diary = tuple(changed.get(evening) or night(evening).night for evening in season.evenings)
    return replace(plan(), **{"nights": nights, "diary": diary, **changes})  # type: ignore[arg-type]
