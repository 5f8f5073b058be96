"""Our own small tables, each row with its source, as they stand in `data`."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from ..domain import Extended, Kind, Pair
from .entry import Entry
from .sheets import full_name, in_full, latin, sheet


@dataclass(frozen=True, slots=True)
class Piece:
    """An entry of our own, where its figures are from, its names worth printing, and other spellings."""

    entry: Entry
    source: str
    names: tuple[str, ...]
    aliases: tuple[str, ...] = ()


def showpieces() -> Iterator[Piece]:
    """Yield clusters and nebulae outside the open catalogue."""
    for row in sheet("showpieces.csv"):
        entry = Entry(
            name=row["designation"], identity=row["designation"], kind=Kind.DEEP_SKY, what=row["what"],
            ra_deg=15.0 * _sexagesimal(row["ra"]), dec_deg=_sexagesimal(row["dec"]),
            constellation=constellation_name(row["constellation"]),
            magnitude=_number(row["magnitude"]), size_arcmin=float(row["major_arcmin"]),
            nature=Extended(row["what"], _number(row["minor_arcmin"]),
                            stars=int(row["stars"]) if row["stars"] else None),
        )  # fmt: skip
        yield Piece(entry, row["source"], tuple(row["names"].split("|")) if row["names"] else ())


def doubles() -> Iterator[Piece]:
    """Yield double stars; magnitude is that of both stars together, size their separation."""
    for row in sheet("doubles.csv"):
        stars = [row["designation"], *(row["names"].split("|") if row["names"] else ())]
        entry = Entry(
            name=row["designation"], identity=row["designation"], kind=Kind.DOUBLE_STAR, what="double star",
            ra_deg=15.0 * _sexagesimal(row["ra"]), dec_deg=_sexagesimal(row["dec"]),
            constellation=constellation_name(row["constellation"]),
            magnitude=round(_together(float(row["bright_mag"]), float(row["faint_mag"])), 2),
            size_arcmin=round(float(row["separation_arcsec"]) / 60.0, 3),
            nature=Pair(float(row["bright_mag"]), float(row["faint_mag"]), float(row["separation_arcsec"]),
                        _number(row["position_angle_deg"])),
        )  # fmt: skip
        yield Piece(entry, row["source"], tuple(stars), tuple(in_full(star) for star in stars))


def also() -> Iterator[tuple[str, str]]:
    """Yield more names for objects the open catalogue knows, with the designation each means."""
    for row in sheet("also.csv"):
        yield row["name"], row["designation"]


@cache
def globular_magnitudes() -> dict[str, float]:
    """Return the integrated V of Harris by designation. [mag]"""
    return {row["designation"]: float(row["magnitude"]) for row in sheet("globulars.csv")}


@dataclass(frozen=True, slots=True)
class Seen:
    """What replaces the open catalogue's figures for one object; None where they stand."""

    what: str | None = None
    magnitude: float | None = None
    major_arcmin: float | None = None
    minor_arcmin: float | None = None
    stars: int | None = None
    source: str = ""


@cache
def seen() -> dict[str, Seen]:
    """Return the figures of showpieces as the eye meets them, by designation."""
    return {
        row["designation"]: Seen(
            what=row["what"] or None, magnitude=_number(row["magnitude"]),
            major_arcmin=_number(row["major_arcmin"]), minor_arcmin=_number(row["minor_arcmin"]),
            stars=int(row["stars"]) if row["stars"] else None, source=row["source"],
        )
        for row in sheet("visual.csv")
    }  # fmt: skip


def constellation_name(abbreviation: str) -> str | None:
    """Return the full IAU name; the open catalogue's two parts of Serpens are one constellation."""
    abbreviation = "Ser" if abbreviation in ("Se1", "Se2") else abbreviation
    return full_name(abbreviation) if abbreviation in latin() else None


def _number(text: str) -> float | None:
    return float(text) if text else None


def _sexagesimal(text: str) -> float:
    units, minutes, seconds = text.split()
    value = abs(float(units)) + float(minutes) / 60.0 + float(seconds) / 3600.0
    return math.copysign(value, -1.0) if text.startswith("-") else value


def _together(bright_mag: float, faint_mag: float) -> float:
    """Return the magnitude of two stars seen as one."""
    return bright_mag - 2.5 * math.log10(1.0 + 10.0 ** (-0.4 * (faint_mag - bright_mag)))
