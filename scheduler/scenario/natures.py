"""From a row's own cells and what the catalogue knows to the nature of a target."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from ..domain import Extended, Kind, LightCurve, MoonFeature, Nature, Occasion, Pair, Shower
from ..domain.target import NATURES
from .columns import OF_KIND
from .notes import Notes

FIELDS = {"moon_longitude_deg": "longitude_deg", "moon_latitude_deg": "latitude_deg"}
"""Columns that go by another name inside the nature."""

SIZE_KM = 50.0  # of a Moon feature of one's own that gives none

_Figures = dict[str, Any]


def nature_of(
    kind: Kind,
    read: Mapping[str, Any],
    known: Nature | None,
    notes: Notes,
    *,
    row: int,
    written: Mapping[str, str],
    zone: tzinfo = UTC,
) -> Nature | None:
    """Return the nature of a row's target, or None where it has none; faults go to `notes`.

    Parameters
    ----------
    kind : What the target is.
    read : The row's readable values, by column.
    known : What the catalogue says; the row's own cells win over it.
    notes, row, written : Where faults go, their row, and the text that stood there.
    zone : In which `start` and `end` of an event are told.
    """
    _note_strange_columns(kind, written, notes, row)
    own = {FIELDS.get(column, column): read[column] for column in OF_KIND[kind] if column in read}
    if kind is Kind.MINOR_BODY:
        return own.get("elements", known if isinstance(known, NATURES[kind]) else None)
    if kind not in _MAKE:
        return None
    facts = asdict(known) if known is not None and isinstance(known, NATURES[kind]) else {}
    make, needed = _MAKE[kind]
    figures = {**facts, **own}
    if kind is Kind.EVENT:
        figures = _event(own, zone)
    if not figures:
        return None  # the target itself says whether it can do without
    absent = [field for field in needed if field not in figures]
    columns = {field: column for column, field in FIELDS.items()}
    for field in absent:
        column = columns.get(field, field)
        if column not in written:
            expected = f"a value, as every {kind.value} of one's own needs"
            notes.add("nothing", expected, column=column, row=row)
    if absent:
        return None
    if ("epoch_hjd" in figures) != ("period_d" in figures) and kind is Kind.VARIABLE_STAR:
        lacking = "period_d" if "epoch_hjd" in figures else "epoch_hjd"
        if lacking not in written:
            notes.add("nothing", "an epoch and a period, or neither", column=lacking, row=row)
        return None
    told = {FIELDS.get(column, column): text for column, text in written.items()}
    return notes.build(make, figures, _spare(kind, figures), row=row, written=told)


def _note_strange_columns(kind: Kind, written: Mapping[str, str], notes: Notes, row: int) -> None:
    """Note filled cells that say something about targets of another kind."""
    if notes.has("kind", row):
        return  # nobody knows what the other cells should speak of
    for other, columns in OF_KIND.items():
        for column in columns:
            if other is not kind and column in written and not notes.has(column, row):
                notes.add(written[column], f"blank: only {other.with_article} has it", column=column, row=row)


def _event(own: _Figures, zone: tzinfo) -> _Figures:
    return {
        field: moment.replace(tzinfo=zone).astimezone(UTC)
        for field in ("start", "end")
        if isinstance(moment := own.get(field), datetime)
    }


def _spare(kind: Kind, figures: _Figures) -> _Figures:
    """Return legal stand-ins for figures without a default, so that one bad figure hides no other."""
    if kind is Kind.EVENT:
        return {"end": figures["start"] + timedelta(hours=1)}
    elements = {"epoch_hjd": 2_450_000.0, "period_d": 1.0} if "period_d" in figures else {}
    return {
        Kind.DOUBLE_STAR: {"bright_mag": 5.0, "faint_mag": 19.0, "separation_arcsec": 10.0},
        Kind.VARIABLE_STAR: {"brightest_mag": -1.0, "faintest_mag": 19.0, **elements},
        Kind.MOON_FEATURE: {"longitude_deg": 0.0, "latitude_deg": 0.0},
        Kind.METEOR_SHOWER: {"peak_longitude_deg": 0.0, "zenithal_rate": 100.0},
    }.get(kind, {})


def _feature(longitude_deg: float, latitude_deg: float, size_km: float = SIZE_KM) -> MoonFeature:
    return MoonFeature(longitude_deg, latitude_deg, size_km)


def _extended(what: str = "deep-sky object", **figures: Any) -> Extended:
    return Extended(what, **figures)


_MAKE: dict[Kind, tuple[Callable[..., Nature], tuple[str, ...]]] = {
    Kind.DEEP_SKY: (_extended, ()),
    Kind.DOUBLE_STAR: (Pair, ("bright_mag", "faint_mag", "separation_arcsec")),
    Kind.VARIABLE_STAR: (LightCurve, ("brightest_mag", "faintest_mag")),
    Kind.MOON_FEATURE: (_feature, ("longitude_deg", "latitude_deg")),
    Kind.METEOR_SHOWER: (Shower, ("peak_longitude_deg", "zenithal_rate")),
    Kind.EVENT: (Occasion, ("start", "end")),
}
