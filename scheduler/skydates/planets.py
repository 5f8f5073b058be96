"""The planets' dates: opposition, greatest elongation, and the first evening back in the evening sky."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import numpy as np

from ..domain import Kind, Scenario, Target
from ..planets import lowest_planets_deg
from ..pointing import where_in_words
from ..sky import places_of, planet_season_of
from ..sky.apparitions import Apparition
from ..sky.events import INNER, Event, EventKind
from ..sky.planets import looks_at
from .above import Above, Stretch, stretch_of
from .date import SkyDate, SkySort, whole_day

SUN_CAUTION = "Never point a telescope or binoculars near the Sun: look while it is below the horizon."


def planets_over(here: Above, scenario: Scenario) -> Iterator[SkyDate]:
    """Yield the dates of planets, of those apparitions in which they stand high enough at the site."""
    for body, lowest_deg in lowest_planets_deg(scenario).items():
        season = planet_season_of(here.sky, body, lowest_altitude_deg=lowest_deg)
        for apparition in season.apparitions:
            if apparition.peak is not None:
                yield _peak(here, apparition.peak, lowest_deg)
            if _comes_back(apparition):
                yield _return(here, apparition, lowest_deg)


def _comes_back(one: Apparition) -> bool:
    """Tell whether its first evening in the evening sky is known, and is not just where the sky begins."""
    if one.first_evening is None or (one.body in INNER and one.best.mornings):
        return False
    return not (one.under_way and one.first_evening <= one.first + timedelta(days=1))


def _peak(here: Above, peak: Event, lowest_deg: float) -> SkyDate:
    name, day, clock = peak.body.capitalize(), here.day_of(peak.instant), here.clock(peak.instant)
    morning = peak.kind is EventKind.WESTERN_ELONGATION
    night = here.night_of(day - timedelta(days=1) if morning else day)
    shown = _shown(here, peak.body, night, lowest_deg)
    if peak.kind is EventKind.OPPOSITION:
        lines = (f"Opposite the Sun at {clock}: up all night, near its largest and brightest.", *shown)
        return whole_day(SkySort.OPPOSITION, day, here.site, f"{name} at opposition", lines)
    half = "before sunrise" if morning else "after sunset"
    lines = (f"Farthest from the Sun at {clock}, {peak.value:.0f}° away; it shows {half}.", *shown,
             SUN_CAUTION)  # fmt: skip
    return whole_day(SkySort.ELONGATION, day, here.site, f"{name} at {peak.kind.value}", lines)


def _return(here: Above, one: Apparition, lowest_deg: float) -> SkyDate:
    assert one.first_evening is not None
    lines = (
        f"From now on it stands {lowest_deg:.0f}° high or higher when dusk has fallen (Sun 6° down).",
        *_shown(here, one.body, here.night_of(one.first_evening), lowest_deg),
        *([SUN_CAUTION] if one.body in INNER else []),
    )
    title = f"{one.body.capitalize()} back in the evening sky"
    return whole_day(SkySort.RETURN, one.first_evening, here.site, title, lines)


def _shown(here: Above, body: str, night: int, lowest_deg: float) -> tuple[str, ...]:
    """Return how a planet looks on a night, and from when to when it stands high enough."""
    disc_arcsec, magnitude = looks_at(body, np.array([here.sky.midnight_unix_s[night]]))[:2, 0].tolist()
    bright = f", {magnitude:z.1f} mag" if np.isfinite(magnitude) else ""
    looks = f"{disc_arcsec:.1f}″ across{bright}."
    places = places_of(here.sky, [Target(body, Kind.PLANET, body=body)])
    twilit = float(here.sky.twilit_start_unix_s[night]), float(here.sky.twilit_end_unix_s[night])
    up = stretch_of(here, places, night, twilit, lowest_deg)
    low = f"On this day it does not stand {lowest_deg:.0f}° high between dusk and dawn."
    return (looks, low if up is None else _when(here, up, lowest_deg), here.moon_words(night))


def _when(here: Above, up: Stretch, lowest_deg: float) -> str:
    where = where_in_words(up.top_deg, up.azimuth_deg)
    return (
        f"{lowest_deg:.0f}° high or higher from {here.clock(up.start_unix_s)} to {here.clock(up.end_unix_s)},"
        f" highest at {here.clock(up.top_unix_s)}: {where[:1].lower()}{where[1:]}."
    )
