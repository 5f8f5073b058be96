"""How faint a star, or a comet's coma, each way of looking shows under each sky, air left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..domain import BINOCULARS, NAKED_EYE, TELESCOPE
from ..domain.opportunity import Floats, Ints
from .appearance import LEAST_SIZE_ARCMIN, SQUARE_ARCMIN_SR
from .axis import Axis
from .contrast import read_rest, table_at
from .detect import (
    DARKEST_CD_M2,
    star_threshold_lux,
    to_luminance,
    to_lux,
    to_magnitude,
    to_surface_brightness,
)
from .judgement import MeritSettings
from .merit import glow_merit
from .optics import Optic
from .profile import NAMES

SKIES = (
    *np.arange(8.0, 15.0, 0.35), *np.arange(15.0, 18.0, 0.2), *np.arange(18.0, 22.4, 0.1), 22.4, 22.7, 23.0,
)  # fmt: skip
"""Skies that every table has, from the Moon's own glare and bright dusk to the darkest. [mag/arcsec2]"""

_RISES_AGAIN_CD_M2 = 0.0869
"""Here the star threshold leaves the level of its crest and rises again. [cd/m2]"""

MOST_TURNS = 40
"""Optics whose turns get skies of their own; beyond a usual kit the plain steps do."""


def sky_axis(optics: Sequence[Optic]) -> Axis:
    """Return the skies of a table: closer where it matters, and wherever a threshold turns sharply."""
    some = optics[:MOST_TURNS]
    frozen = [one.light * one.sky_pass / DARKEST_CD_M2 for one in some]
    rising = [one.light / _RISES_AGAIN_CD_M2 for one in some if one.filter is None]
    turns = to_surface_brightness(1.0 / np.array([*frozen, *rising]))
    return Axis.through([*SKIES, *turns[(turns > SKIES[0]) & (turns < SKIES[-1])]], 0.005)


def log_background(optic: Optic, sky_brightness: ArrayLike) -> Floats:
    """Return the sky as the eye gets it through glass and filter. [log cd/m2]"""
    return np.asarray(np.log10(optic.light * optic.sky_pass * to_luminance(sky_brightness)))


def star_reach_mag(optic: Optic, sky_brightness: ArrayLike) -> Floats:
    """Return the faintest star an optic shows under a sky, air left out. [mag]

    Notes
    -----
    The instrument gathers more light by the square of its power times the dimming of surfaces.

    References
    ----------
    A. Crumey, MNRAS 442, 2600 (2014), section 3.2
    """
    need = star_threshold_lux(10.0 ** log_background(optic, sky_brightness), optic.field_factor)
    return to_magnitude(need / (optic.light * optic.sky_pass * optic.magnification**2))


def preference(optics: Sequence[Optic]) -> Ints:
    """Return in which order optics are preferred that show a star alike, by position.

    A telescope first, since it was carried out for more, then binoculars, then the naked eye; without a
    filter, at the lowest power, without the Barlow (common practice, no source).
    """
    family = (TELESCOPE, BINOCULARS, NAKED_EYE)
    keys = [
        (family.index(one.family), one.filter is not None, one.magnification, one.barlow) for one in optics
    ]
    return np.array(sorted(range(len(optics)), key=keys.__getitem__), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Reach:
    """Magnitudes at which a star, or a round coma of one size, is at the threshold. (optics, skies)

    Attributes
    ----------
    optics : The ways of looking.
    sky : Skies of the second axis. [mag/arcsec2]
    half_mag, best_mag : Of the half-light and the best ellipse; alike for a star. [mag]
    settings : The judgement.
    """

    optics: tuple[Optic, ...]
    sky: Axis
    half_mag: Floats
    best_mag: Floats
    settings: MeritSettings

    def merits(self, magnitude: ArrayLike, sky_brightness: ArrayLike, extinction_mag: ArrayLike) -> Floats:
        """Return the merit through each optic, (optics, ...), 0..1; the arguments broadcast."""
        seen_mag = np.asarray(magnitude, dtype=float) + np.asarray(extinction_mag, dtype=float)
        seen_mag, sky = np.broadcast_arrays(seen_mag, np.asarray(sky_brightness, dtype=float))
        before, share = self.sky.place(sky)
        half, best = (
            0.4 * (limit[:, before] * (1.0 - share) + limit[:, before + 1] * share - seen_mag)
            for limit in (self.half_mag, self.best_mag)
        )
        return glow_merit(half, best, self.settings)

    def optic(self, magnitude: ArrayLike, sky_brightness: ArrayLike, extinction_mag: ArrayLike) -> Ints:
        """Return which optic is advised, by position. int"""
        order = preference(self.optics)
        ranked = self.merits(magnitude, sky_brightness, extinction_mag)[order]
        return np.asarray(order[np.argmax(ranked >= ranked.max(axis=0) - self.settings.advice_slack, axis=0)])


def reach_of(
    optics: Sequence[Optic], settings: MeritSettings | None = None, size_arcmin: float | None = None
) -> Reach:
    """Return how faint each optic shows a star, or a round coma of a size.

    Parameters
    ----------
    optics : The ways of looking; filters count, though they only dim stars.
    settings : The judgement.
    size_arcmin : Diameter of the coma; None for a point. [arcmin]
    """
    settings, sky = settings or MeritSettings(), sky_axis(optics)
    if size_arcmin is None or size_arcmin <= LEAST_SIZE_ARCMIN:
        stars = np.array([star_reach_mag(one, sky.values) for one in optics])
        return Reach(tuple(optics), sky, stars, stars, settings)
    log_area = float(np.log10(0.25 * np.pi * size_arcmin**2 * SQUARE_ARCMIN_SR))
    nebula = np.array([NAMES.index("nebula")])
    limits = np.empty((2, len(optics), len(sky)))
    for row, one in enumerate(optics):
        table = table_at(log_background(one, sky.values))
        apparent = np.array([log_area + 2.0 * np.log10(one.magnification)])
        rest = read_rest(table, nebula, apparent)[:, 0]
        gain = np.log10(one.light * one.sky_pass / one.field_factor)
        limits[:, row] = 2.5 * (rest - log_area + gain + float(np.log10(to_lux(0.0))))
    return Reach(tuple(optics), sky, limits[0], limits[1], settings)


def point_merit(
    magnitude: ArrayLike, sky_brightness: ArrayLike, extinction_mag: ArrayLike, reach: Reach
) -> Floats:
    """Return the merit of a star, a minor planet or a coma through the best of the optics, 0..1.

    Parameters
    ----------
    magnitude : Of that night, above the air. [mag]
    sky_brightness : Behind it. [mag/arcsec2]
    extinction_mag : All the air takes: extinction at the zenith times airmass. [mag]
    reach : Of the optics, for its size.
    """
    return np.asarray(reach.merits(magnitude, sky_brightness, extinction_mag).max(axis=0))
