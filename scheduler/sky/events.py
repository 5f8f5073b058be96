"""Instants worth a line in a year's plan: oppositions, elongations, conjunctions, phases, eclipses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from typing import Any

import numpy as np

from .ephemeris import check_covered, ephemeris, planet, timescale

INNER = ("mercury", "venus")


class EventKind(StrEnum):
    """What happens."""

    OPPOSITION = "opposition"
    CONJUNCTION = "conjunction"
    INFERIOR_CONJUNCTION = "inferior conjunction"
    SUPERIOR_CONJUNCTION = "superior conjunction"
    EASTERN_ELONGATION = "greatest eastern elongation"
    WESTERN_ELONGATION = "greatest western elongation"
    NEW_MOON = "new Moon"
    FIRST_QUARTER = "first quarter"
    FULL_MOON = "full Moon"
    LAST_QUARTER = "last quarter"
    PENUMBRAL_ECLIPSE = "penumbral lunar eclipse"
    PARTIAL_ECLIPSE = "partial lunar eclipse"
    TOTAL_ECLIPSE = "total lunar eclipse"


_PHASES = (EventKind.NEW_MOON, EventKind.FIRST_QUARTER, EventKind.FULL_MOON, EventKind.LAST_QUARTER)


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happens at an instant.

    Attributes
    ----------
    kind : What happens.
    body : To which planet, or "moon".
    instant : When, aware UTC.
    value : Angle from the Sun for a planet [deg], ecliptic elongation for a phase of the Moon [deg], umbral
        magnitude for a lunar eclipse [1].
    """

    kind: EventKind
    body: str
    instant: datetime
    value: float


def oppositions_of(body: str, first: date, last: date) -> tuple[Event, ...]:
    """Return when an outer planet stands opposite the Sun in ecliptic longitude, in order of time.

    Empty for Mercury and Venus. Dates are UTC, both included.
    """
    return tuple(e for e in _meetings(body, first, last) if e.kind is EventKind.OPPOSITION)


def conjunctions_of(body: str, first: date, last: date) -> tuple[Event, ...]:
    """Return when a planet has the Sun's ecliptic longitude, in order of time.

    The kind says inferior or superior for Mercury and Venus.
    """
    return tuple(e for e in _meetings(body, first, last) if e.kind is not EventKind.OPPOSITION)


def greatest_elongations_of(body: str, first: date, last: date) -> tuple[Event, ...]:
    """Return when Mercury or Venus stands farthest from the Sun, in order of time; empty for the others."""
    from skyfield.searchlib import find_maxima

    kernel, target = ephemeris(), planet(body)
    if body not in INNER:
        return ()

    def elongation_deg(time: Any) -> Any:
        earth = kernel["earth"].at(time)
        return (
            earth.observe(target).apparent().separation_from(earth.observe(kernel["sun"]).apparent()).degrees
        )

    elongation_deg.step_days = 5.0  # type: ignore[attr-defined]
    times, angles_deg = find_maxima(*between(first, last), elongation_deg)
    leads = _leads(target, times)
    kinds = [EventKind.EASTERN_ELONGATION if east else EventKind.WESTERN_ELONGATION for east in leads]
    return _events(kinds, body, times, angles_deg, first, last)


def moon_phases_of(first: date, last: date) -> tuple[Event, ...]:
    """Return the Moon's four phases in order of time."""
    from skyfield.almanac import moon_phases
    from skyfield.searchlib import find_discrete

    times, phases = find_discrete(*between(first, last), moon_phases(ephemeris()))
    kinds = [_PHASES[phase] for phase in phases]
    return _events(kinds, "moon", times, 90.0 * np.asarray(phases), first, last)


def lunar_eclipses_of(first: date, last: date) -> tuple[Event, ...]:
    """Return the Moon's eclipses, each at its greatest, in order of time; `eclipses` knows their contacts."""
    from .eclipses import eclipse_phases_of

    return tuple(
        Event(eclipse.kind, "moon", eclipse.greatest, eclipse.umbral_magnitude)
        for eclipse in eclipse_phases_of(first, last)
    )


def _meetings(body: str, first: date, last: date) -> tuple[Event, ...]:
    from skyfield.almanac import oppositions_conjunctions
    from skyfield.searchlib import find_discrete

    kernel, target = ephemeris(), planet(body)
    times, opposite = find_discrete(*between(first, last), oppositions_conjunctions(kernel, target))
    if not len(times):
        return ()
    earth = kernel["earth"].at(times)
    seen, sun = earth.observe(target), earth.observe(kernel["sun"])
    nearer = seen.distance().au < sun.distance().au
    if body in INNER:
        kinds = [EventKind.INFERIOR_CONJUNCTION if n else EventKind.SUPERIOR_CONJUNCTION for n in nearer]
    else:
        kinds = [EventKind.OPPOSITION if o else EventKind.CONJUNCTION for o in opposite]
    return _events(kinds, body, times, seen.apparent().separation_from(sun.apparent()).degrees, first, last)


def _leads(target: Any, times: Any) -> list[bool]:
    """Tell where a body stands east of the Sun, and so in the evening sky."""
    from skyfield.framelib import ecliptic_frame

    if not len(times):
        return []
    earth = ephemeris()["earth"].at(times)
    longitude, sun = (
        earth.observe(b).apparent().frame_latlon(ecliptic_frame)[1].degrees
        for b in (target, ephemeris()["sun"])
    )
    return [bool(0.0 < (one - other) % 360.0 < 180.0) for one, other in zip(longitude, sun, strict=True)]


def between(first: date, last: date) -> tuple[Any, Any]:
    """Return times a little outside the dates, so that nothing at their edges is missed."""
    check_covered(first, last)
    scale = timescale()
    edges = (first - timedelta(days=2), last + timedelta(days=3))
    return tuple(scale.utc(edge.year, edge.month, edge.day) for edge in edges)


def _events(
    kinds: list[EventKind], body: str, times: Any, values: Any, first: date, last: date
) -> tuple[Event, ...]:
    if not len(times):
        return ()
    instants = [moment.astimezone(UTC).replace(tzinfo=UTC) for moment in times.utc_datetime()]
    rows = zip(kinds, instants, values, strict=True)
    return tuple(
        Event(kind, body, instant, float(value))
        for kind, instant, value in rows
        if first <= instant.date() <= last
    )
