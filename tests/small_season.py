"""Small scenarios on a real sky, quick enough for ordinary tests."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

from scheduler.domain import (
    Availability,
    ClearOdds,
    EveningRule,
    Extended,
    Eyepiece,
    FreeNight,
    Kind,
    Kit,
    LightCurve,
    MoonFeature,
    Opportunities,
    Pair,
    Phase,
    Routine,
    Scenario,
    Season,
    Shower,
    Site,
    Target,
    Telescope,
)
from scheduler.sky import sky_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.opportunities import opportunities_of
from scheduler.visibility.prospect import Prospect, prospect_for

LARKMOOR = Site("Larkmoor", 55.2, -2.4, 240.0, "Europe/London", 21.2, 0.26)
FLATS = Site("Quiver Flat", -32.4, 20.8, 1200.0, "Africa/Johannesburg", 21.7, 0.18)
POINT = Site("Aurora Point", 69.6, 18.9, 20.0, "Europe/Oslo", 21.4, 0.28)
KIT = Kit((Telescope("200 mm f/6", 200.0, 1200.0, 50.0),), (Eyepiece("25 mm", 25.0),))


def star(name: str, ra_deg: float, dec_deg: float, **more: object) -> Target:
    """Return a small bright cluster in that place; nobody misses it in a dark sky."""
    compact = Extended("globular cluster", 8.0)
    return replace(
        Target(name, Kind.DEEP_SKY, ra_deg, dec_deg, magnitude=6.5, size_arcmin=8.0, nature=compact),
        **more,  # type: ignore[arg-type]
    )


# Places from memory, to a tenth of a degree: enough to say where in the sky these stand; figures invented.
ORION = star("M 42", 83.8, -5.4)
ANDROMEDA = star("M 31", 10.7, 41.3, magnitude=9.0, size_arcmin=6.0, nature=Extended("galaxy", 4.0, "Sb"))
HERCULES = star("M 13", 250.4, 36.5)
OMEGA = star("NGC 5139", 201.7, -47.5)
ALBIREO = Target("Albireo", Kind.DOUBLE_STAR, 292.7, 27.96, nature=Pair(3.2, 4.7, 34.6), minutes=10)
JUPITER = Target("Jupiter", Kind.PLANET, body="jupiter", minutes=15, lowest_altitude_deg=15.0)
MERCURY = Target("Mercury", Kind.PLANET, body="mercury", minutes=10, lowest_altitude_deg=8.0)


ALGOL = Target(
    "Algol", Kind.VARIABLE_STAR, 47.04, 40.96, minutes=10,
    nature=LightCurve(2.1, 3.4, 2445641.5135, 2.86732, Phase.MINIMUM, 6.0),
)  # fmt: skip
PLATO = Target("Plato", Kind.MOON_FEATURE, body="moon", nature=MoonFeature(-9.3, 51.6, 101.0), minutes=10)
ECLIPSE = Target("Lunar eclipse", Kind.ECLIPSE, body="moon", minutes=30, lowest_altitude_deg=5.0)
PERSEIDS = Target("Perseids", Kind.METEOR_SHOWER, 48.0, 58.0, nature=Shower(140.0, 100.0, 2.2), minutes=60)


def scenario(
    *targets: Target,
    site: Site = LARKMOOR,
    start: date = date(2027, 1, 1),
    nights: int = 30,
    rule: EveningRule | None = None,
    **changes: object,
) -> Scenario:
    """Return a scenario of these targets, free every evening from 18:00 to 02:00 unless said otherwise."""
    rule = rule or EveningRule(start=time(18), finish=time(2))
    made = Scenario(
        "small", site, KIT, Season(start, nights), Availability((rule,)),
        ClearOdds((0.4,) * 12, 0.3), targets or (ORION, ANDROMEDA, JUPITER), Routine(20, 30, 4),
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def season_of(of: Scenario) -> tuple[Prospect, tuple[FreeNight, ...], Opportunities]:
    """Return a scenario's prospect, its free nights and its opportunities, every night clear at even odds."""
    sky = sky_of(of.site, of.season.evenings)
    free = free_nights_of(of, sky.nights, [0.5] * len(sky))
    prospect = prospect_for(sky, of)
    return prospect, free, opportunities_of(prospect, free, of.routine, of.guests)
