"""A wish-list as the eye meets it: the figures merit asks for, as columns, with cautious stand-ins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np

from ..domain import Extended, Kind, LightCurve, Lines, Pair, Phase, Target
from ..domain.opportunity import Floats, Ints
from .detect import to_lux
from .judgement import MeritSettings
from .profile import NAMES, galaxy_profile, typical_of

SQUARE_ARCMIN_SR = float(np.radians(1.0 / 60.0) ** 2)
LEAST_SIZE_ARCMIN = 0.02
"""Nothing in the table is smaller: the air and the glass blur a star to about an arcsecond. [arcmin]"""

CLOSEST_ARCSEC = 0.1
"""No amateur's telescope splits a closer pair; a bare size below this counts as this. [arcsec]"""
PAIR_MAG, PAIR_DIFFERENCE_MAG, PAIR_ARCSEC = 8.0, 1.5, 3.0
"""A double star about which nothing is known: combined light, difference, separation. [mag, mag, arcsec]"""
VARIABLE_MAG, VARIABLE_RANGE_MAG = 9.0, 1.5
"""A variable star about which nothing is known: faintest, and fainter than the catalogue says. [mag]"""


BELOW_BEST = 0.2
"""A usual maximum falls short of the brightest on record by this share of the range (our judgement)."""


class Shows(IntEnum):
    """By which law a target shows."""

    ELSEWHERE = -1  # planets, the Moon, showers, events: not by the sky behind it alone
    GLOW = 0
    CLUSTER = 1
    POINT = 2
    PAIR = 3
    DARK = 4


@dataclass(frozen=True, eq=False)
class Appearance:
    """Targets as columns. (targets,)

    Attributes
    ----------
    shows : By which law, as in `Shows`. int
    profile : By position in `profile.PROFILES`. int
    log_lux : Its whole light. [log lux]
    log_area : Area of the catalogue's ellipse. [log sr]
    size_deg : Larger diameter, or a pair's separation. [deg]
    star_mag : A cluster's typical star, a variable at its faintest, the fainter of a pair. [mag]
    glow_worth : Merit as a glow counts for so much where the stars stay unresolved. [0..1]
    difference_mag : Between the stars of a pair. [mag]
    oxygen, hydrogen, both : Share of the light in the lines of the three sorts of filter. [0..1]
    """

    shows: Ints
    profile: Ints
    log_lux: Floats
    log_area: Floats
    size_deg: Floats
    star_mag: Floats
    glow_worth: Floats
    difference_mag: Floats
    oxygen: Floats
    hydrogen: Floats
    both: Floats

    def part(self, chosen: Ints) -> Appearance:
        """Return some of the targets, by position."""
        return Appearance(*(getattr(self, one.name)[chosen] for one in fields(self)))

    def in_lines(self, lines: Lines) -> Floats:
        """Return the share of light in a filter's lines. (targets,)"""
        return {Lines.OXYGEN: self.oxygen, Lines.HYDROGEN: self.hydrogen, Lines.BOTH: self.both}[lines]


@dataclass(slots=True)
class _Row:
    shows: Shows = Shows.ELSEWHERE
    profile: int = 0
    magnitude: float = 99.0
    size_arcmin: float = 1.0
    minor_arcmin: float = 1.0
    star_mag: float = 99.0
    glow_worth: float = 1.0
    difference_mag: float = 0.0
    lines: tuple[float, float, float] = (0.0, 0.0, 0.0)


def appearance_of(targets: Sequence[Target], settings: MeritSettings) -> Appearance:
    """Return how targets meet the eye; where figures are unknown, faint but not hopeless ones stand in."""
    lines = {one.what: tuple(one.through(passed) for passed in Lines) for one in settings.line_light}
    rows = [_row_of(target, settings, lines) for target in targets]
    whole = np.array([
        (row.shows, row.profile, row.magnitude, row.size_arcmin, row.minor_arcmin, row.star_mag,
         row.glow_worth, row.difference_mag, *row.lines) for row in rows
    ], dtype=float).reshape(-1, 11).T  # fmt: skip
    shows, profile, magnitude, major, minor, *rest = whole
    area_sr = 0.25 * np.pi * major * minor * SQUARE_ARCMIN_SR
    return Appearance(
        shows.astype(np.int64), profile.astype(np.int64), np.log10(to_lux(magnitude)), np.log10(area_sr),
        major / 60.0, *rest,
    )  # fmt: skip


def _row_of(target: Target, settings: MeritSettings, lines: dict[str, tuple[float, ...]]) -> _Row:
    if target.kind is Kind.DEEP_SKY:
        nature = target.nature if isinstance(target.nature, Extended) else Extended("unknown")
        return _deep_sky(target, nature, settings, lines)
    if target.kind is Kind.DOUBLE_STAR:
        return _pair(target)
    if target.kind is Kind.VARIABLE_STAR:
        return _variable(target)
    return _Row()


def _deep_sky(
    target: Target, nature: Extended, settings: MeritSettings, lines: dict[str, tuple[float, ...]]
) -> _Row:
    usual = typical_of(nature.what)
    major = max(target.size_arcmin or nature.minor_arcmin or usual.size_arcmin, LEAST_SIZE_ARCMIN)
    minor = min(max(nature.minor_arcmin or major, LEAST_SIZE_ARCMIN, 0.1 * major), major)
    area_arcmin2 = 0.25 * np.pi * major * minor
    typical_mag = usual.surface - 2.5 * float(np.log10(max(area_arcmin2, 0.5)))
    magnitude = target.magnitude if target.magnitude is not None else typical_mag
    oxygen, hydrogen, both = lines.get(nature.what, (0.0, 0.0, 0.0))
    row = _Row(
        Shows.GLOW, NAMES.index(usual.profile or galaxy_profile(nature.hubble)), magnitude, major, minor,
        lines=(oxygen, hydrogen, both),
    )  # fmt: skip
    if nature.what == "dark nebula":
        row.shows = Shows.DARK
    elif usual.stars == 1:
        row.shows, row.star_mag = Shows.POINT, magnitude
    elif usual.stars is not None:
        row.shows = Shows.CLUSTER
        row.star_mag = magnitude + 2.5 * float(np.log10(nature.stars or usual.stars))
        row.glow_worth = 1.0 if nature.what == "cluster with nebula" else settings.cluster_as_glow
    return row


def _pair(target: Target) -> _Row:
    if isinstance(target.nature, Pair):
        bright, faint = target.nature.bright_mag, target.nature.faint_mag
        apart_arcmin = target.nature.separation_arcsec / 60.0
    else:
        combined = PAIR_MAG if target.magnitude is None else target.magnitude
        bright, faint = combined, combined + PAIR_DIFFERENCE_MAG
        apart_arcmin = max(target.size_arcmin or PAIR_ARCSEC / 60.0, CLOSEST_ARCSEC / 60.0)
    return _Row(
        Shows.PAIR, 0, bright, apart_arcmin, apart_arcmin, faint, difference_mag=max(faint - bright, 0.0)
    )


def _variable(target: Target) -> _Row:
    if isinstance(target.nature, LightCurve):
        faintest = _faintest_mag(target.nature)
    else:
        faintest = VARIABLE_MAG if target.magnitude is None else target.magnitude + VARIABLE_RANGE_MAG
    return _Row(Shows.POINT, 0, faintest, LEAST_SIZE_ARCMIN, LEAST_SIZE_ARCMIN, faintest)


def _faintest_mag(curve: LightCurve) -> float:
    """Return the faintest a variable star gets while it is watched: at its minimum, or about its maximum."""
    if curve.period_d is None or curve.phase is Phase.MINIMUM:
        return curve.faintest_mag
    return curve.brightest_mag + BELOW_BEST * (curve.faintest_mag - curve.brightest_mag)
