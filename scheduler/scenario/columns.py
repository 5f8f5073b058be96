"""The columns a wish-list may have, and what blank cells mean."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..domain import MOON, Kind
from . import values
from .elements import orbit_of
from .notes import Unreadable


def one_line(text: str) -> str:
    """Return a short printable text, its spaces tidied."""
    if "\n" in text or "\r" in text:
        raise Unreadable("text on one line; is a quote left open?")
    tidy = " ".join(text.split())
    if len(tidy) > 200 or not tidy.isprintable():
        raise Unreadable("a printable text of at most 200 characters")
    return tidy


def anything(text: str) -> str:
    """Return the text as it stands."""
    return text


COLUMNS: dict[str, Callable[[str], Any]] = {
    "target": one_line,
    "kind": values.kind,
    "minutes": values.whole_number,
    "priority": values.whole_number,
    "visits": values.whole_number,
    "spacing_days": values.whole_number,
    "longest_spacing_days": values.whole_number,
    "earliest": values.day,
    "latest": values.day,
    "lowest_altitude_deg": values.number,
    "instrument": one_line,
    "observer": one_line,
    "ra_deg": values.right_ascension_deg,
    "dec_deg": values.declination_deg,
    "magnitude": values.number,
    "size_arcmin": values.number,
    "name": one_line,
    "notes": anything,
    "what": one_line,
    "minor_arcmin": values.number,
    "stars": values.whole_number,
    "bright_mag": values.number,
    "faint_mag": values.number,
    "separation_arcsec": values.number,
    "position_angle_deg": values.number,
    "brightest_mag": values.number,
    "faintest_mag": values.number,
    "epoch_hjd": values.number,
    "period_d": values.number,
    "phase": values.phase,
    "wide_h": values.number,
    "moon_longitude_deg": values.number,
    "moon_latitude_deg": values.number,
    "size_km": values.number,
    "elements": orbit_of,
    "peak_longitude_deg": values.number,
    "zenithal_rate": values.number,
    "population_index": values.number,
    "at": one_line,
    "start": values.local_moment,
    "end": values.local_moment,
}

OF_KIND: dict[Kind, tuple[str, ...]] = {
    Kind.DEEP_SKY: ("what", "minor_arcmin", "stars"),
    Kind.DOUBLE_STAR: ("bright_mag", "faint_mag", "separation_arcsec", "position_angle_deg"),
    Kind.VARIABLE_STAR: ("brightest_mag", "faintest_mag", "epoch_hjd", "period_d", "phase", "wide_h"),
    Kind.PLANET: (),
    Kind.MOON_FEATURE: ("moon_longitude_deg", "moon_latitude_deg", "size_km"),
    Kind.MINOR_BODY: ("elements",),
    Kind.METEOR_SHOWER: ("peak_longitude_deg", "zenithal_rate", "population_index"),
    Kind.ECLIPSE: (),
    Kind.EVENT: ("at", "start", "end"),
}
"""Columns that say something about targets of one kind only."""

# Common practice, no source.
MINUTES = {
    Kind.PLANET: 15, Kind.DOUBLE_STAR: 10, Kind.DEEP_SKY: 20, Kind.VARIABLE_STAR: 10, Kind.MOON_FEATURE: 10,
    Kind.MINOR_BODY: 15, Kind.METEOR_SHOWER: 60, Kind.ECLIPSE: 60, Kind.EVENT: 20,
}  # fmt: skip
LOWEST_ALTITUDE_DEG = {
    Kind.PLANET: 15.0, Kind.DOUBLE_STAR: 20.0, Kind.DEEP_SKY: 20.0, Kind.VARIABLE_STAR: 20.0,
    Kind.MOON_FEATURE: 15.0, Kind.MINOR_BODY: 20.0, Kind.METEOR_SHOWER: 15.0, Kind.ECLIPSE: 5.0,
    Kind.EVENT: 5.0,
}  # fmt: skip
LOWEST_NEAR_THE_SUN_DEG = {"mercury": 8.0, "venus": 10.0}


def lowest_deg_of(kind: Kind, body: str | None) -> float:
    """Return the lowest altitude worth looking at where the wish-list does not say. [deg]

    >>> lowest_deg_of(Kind.PLANET, "mars"), lowest_deg_of(Kind.PLANET, "mercury")
    (15.0, 8.0)
    """
    return LOWEST_NEAR_THE_SUN_DEG.get(body or "", LOWEST_ALTITUDE_DEG[kind])


BODY_OF_KIND = {Kind.MOON_FEATURE: MOON, Kind.ECLIPSE: MOON}
"""What a target of this kind belongs to, where its own cells name no catalogued one."""
