"""Merit of a wish-list under every sky and through every depth of air, worked out once and looked up after.

For one optic a threshold depends only on the sky behind the target, and air only shifts a margin. So each
target gets a small table of its best merit and the optic that gives it, over sky brightness and airmass.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..domain import Site, Target
from ..domain.opportunity import Floats, Ints
from .advice import advised, ranks_of, smaller_costs
from .allowed import allowed_of, light_passed
from .appearance import Appearance, Shows, appearance_of
from .axis import Axis
from .contrast import read_rest, table_at
from .judgement import AnyFloats, MeritSettings
from .merit import (
    cluster_cost_dex,
    cluster_merit,
    dark_nebula_merit,
    wide_cost_dex,
)
from .optics import Optic
from .pairs import pair_merit, pair_need_arcsec, seeing_at
from .reach import (
    log_background,
    sky_axis,
    star_reach_mag,
)

AIRS = (*np.geomspace(1.0, 6.0, 11), 7.5, 10.0, 14.0, 22.0, 40.0)
"""Depths of air of every table, closer where one observes."""

CELLS_AT_ONCE = 1_500_000
"""Merits worked out together; keeps the memory small."""

TABLES_KEPT = 40
"""Optics whose contrast tables are kept while a merit table is made; a few megabytes in all."""

NO_OPTIC = -1
CERTAIN, NEVER = 30.0, -30.0
"""Log odds that stand for a merit of 1 and of 0."""

Singles = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class MeritTable:
    """Best merit and advised optic over sky and air. (targets, skies, airs)

    Attributes
    ----------
    sky, air : The table's sky brightnesses and airmasses. [mag/arcsec2]
    log_odds : Natural log odds of the merit: between entries it runs nearly straight. float32
    optic : Which optic is advised, by position in `optics`; -1 where a target does not show by the sky
        behind it alone (planets, Moon, showers, events; its merit here is 1) or nothing may be used
        (its merit is 0). int16
    optics : The ways of looking.
    """

    sky: Axis
    air: Axis
    log_odds: Singles
    optic: NDArray[np.int16]
    optics: tuple[Optic, ...]

    def at(self, target: Ints, sky_brightness: ArrayLike, airmass: ArrayLike) -> Floats:
        """Return the merit of targets, by position, under skies through air, 0..1; the shapes broadcast.

        Notes
        -----
        999 of 1000 are within 0.004 of the direct computation up to an airmass of 6; the worst, 0.015, is
        where two optics change places between entries. Skies and air outside count as the table's edge.
        """
        cell, over_sky, over_air = self._cell(target, sky_brightness, airmass)
        flat, airs = self.log_odds.reshape(-1), len(self.air)
        near = flat.take(cell)
        near += (flat.take(cell + 1) - near) * over_air
        far = flat.take(cell + airs)
        far += (flat.take(cell + airs + 1) - far) * over_air
        near += (far - near) * over_sky
        return np.asarray(1.0 / (1.0 + np.exp(-near)), dtype=np.float64)

    def optic_at(self, target: Ints, sky_brightness: ArrayLike, airmass: ArrayLike) -> Ints:
        """Return the advised optic at the nearest entry, by position; -1 for none. int"""
        cell, over_sky, over_air = self._cell(target, sky_brightness, airmass)
        nearest = cell + (over_sky >= 0.5) * len(self.air) + (over_air >= 0.5)
        return self.optic.reshape(-1).take(nearest).astype(np.int64)

    def _cell(
        self, target: Ints, sky_brightness: ArrayLike, airmass: ArrayLike
    ) -> tuple[Ints, Singles, Singles]:
        """Return the entry before, and how far beyond it in sky and air. [0..1]"""
        row, over_sky = self.sky.place(sky_brightness)
        column, over_air = self.air.place(airmass)
        return (target * len(self.sky) + row) * len(self.air) + column, over_sky, over_air


def merit_table_of(
    targets: Sequence[Target], optics: Sequence[Optic], site: Site, settings: MeritSettings | None = None
) -> MeritTable:
    """Return the merit of every target under every sky through every depth of air, and by which optic.

    Parameters
    ----------
    targets : The wish-list; only deep-sky objects, double stars and variables get entries of their own.
    optics : All that can be looked through.
    site : For its extinction and seeing.
    settings : The judgement.
    """
    settings = settings or MeritSettings()
    looks, allowed = appearance_of(targets, settings), allowed_of(targets, optics, settings)
    work, ranks = _Work(tuple(optics), site, settings), ranks_of(targets, optics)
    smaller = smaller_costs(targets, optics, settings.smaller_cost)
    log_odds = np.full((len(targets), len(work.sky), len(work.air)), CERTAIN, dtype=np.float32)
    optic = np.full(log_odds.shape, NO_OPTIC, dtype=np.int16)
    for rows, usable in _groups(looks, allowed, len(work.sky) * len(work.air)):
        if not len(usable):
            log_odds[rows] = NEVER
            continue
        merit = work.merits(looks.part(rows), usable)
        merit *= allowed[rows][:, usable].T[:, :, None, None]
        best = merit.max(axis=0)
        with np.errstate(divide="ignore"):
            log_odds[rows] = np.clip(np.log(best / (1.0 - best)), NEVER, CERTAIN)
        pairs = looks.shows[rows[0]] == Shows.PAIR
        slack = settings.pair_advice_slack if pairs else settings.advice_slack
        merit -= smaller[rows][:, usable].T[:, :, None, None]
        optic[rows] = usable[advised(merit, ranks[rows][:, usable], slack)]
    return MeritTable(work.sky, work.air, log_odds, optic, tuple(optics))


def _groups(looks: Appearance, allowed: NDArray[np.bool_], cells: int) -> Iterator[tuple[Ints, Ints]]:
    """Yield targets that show by one law, with the optics any of them may use, not too many at once."""
    filtered = looks.both > 0.0
    for shows in (one for one in Shows if one is not Shows.ELSEWHERE):
        for with_lines in (False, True):
            rows = np.flatnonzero((looks.shows == shows) & (filtered == with_lines))
            usable = np.flatnonzero(allowed[rows].any(axis=0))
            at_once = max(1, CELLS_AT_ONCE // (max(len(usable), 1) * cells))
            for first in range(0, len(rows), at_once):
                yield rows[first : first + at_once], usable


class _Work:
    """Margins and merits of targets of one law, (optics, targets, skies, airs)."""

    def __init__(self, optics: tuple[Optic, ...], site: Site, settings: MeritSettings) -> None:
        self.optics, self.site, self.settings = optics, site, settings
        self.sky, self.air = sky_axis(optics), Axis.through(AIRS, 0.02)
        self.dimming_dex = 0.4 * site.extinction_mag * self.air.values
        self.stars_mag = [star_reach_mag(one, self.sky.values) for one in optics]
        self._tables: dict[int, Singles] = {}

    def merits(self, looks: Appearance, usable: Ints) -> Singles:
        """Return the merit of targets through each of the usable optics. float32"""
        law = {Shows.PAIR: self._pairs, Shows.DARK: self._dark}.get(Shows(int(looks.shows[0])), self._faint)
        found = np.empty((len(usable), len(looks.shows), len(self.sky), len(self.air)), dtype=np.float32)
        for row, one in enumerate(usable.tolist()):
            found[row] = law(looks, one)
        return found

    def _faint(self, looks: Appearance, one: int) -> AnyFloats:
        shows = Shows(int(looks.shows[0]))
        if shows is Shows.POINT:
            return self._seen(0.4 * (self.stars_mag[one] - looks.star_mag[:, None]))
        half, best = (self._seen(margin) for margin in self._glow_dex(looks, one))
        glow = 0.5 * (half + best)
        if shows is Shows.GLOW:
            return glow
        cost = cluster_cost_dex(looks.size_deg, self.optics[one].true_field_deg, self.settings)
        margin = 0.4 * (self.stars_mag[one] - looks.star_mag[:, None])
        stars = self._seen(margin, cost[:, None, None])
        return cluster_merit(stars, glow, looks.glow_worth.astype(np.float32)[:, None, None])

    def _glow_dex(self, looks: Appearance, one: int) -> Floats:
        """Return the margins of the half-light and the best ellipse, no air. (2, targets, skies) [dex]"""
        optic = self.optics[one]
        apparent = looks.log_area + 2.0 * np.log10(optic.magnification)
        rest = read_rest(self._table(one), looks.profile, apparent)
        own = looks.log_lux - looks.log_area + np.log10(light_passed(looks, optic) / optic.field_factor)
        own = own - wide_cost_dex(looks.size_deg, optic.true_field_deg, self.settings)
        return np.asarray(rest + own[:, None])

    def _table(self, one: int) -> Singles:
        """Return the contrast table of an optic's skies, kept for as many as a usual kit has."""
        if one in self._tables:
            return self._tables[one]
        table = table_at(log_background(self.optics[one], self.sky.values)).astype(np.float32)
        if len(self._tables) < TABLES_KEPT:
            self._tables[one] = table
        return table

    def _seen(self, margin_dex: Floats, cost_dex: Floats | None = None) -> Singles:
        """Return `star_merit` behind each depth of air, or `framed_merit` where there is a cost. float32

        Air only multiplies the odds against it, so the exponentials are few.
        """
        middle, width = self.settings.seen_dex, self.settings.seen_width_dex
        against = np.exp(np.clip((middle - margin_dex) / width, -40.0, 40.0)).astype(np.float32)[..., None]
        against = against * np.exp(np.minimum(self.dimming_dex / width, 40.0)).astype(np.float32)
        if cost_dex is not None:
            least = np.exp((middle - self.settings.cluster_enough_dex) / width)
            against = (against + np.float32(least)) * np.exp(np.minimum(cost_dex / width, 6.0)).astype(
                np.float32
            )
        return np.asarray(1.0 / (1.0 + against))

    def _pairs(self, looks: Appearance, one: int) -> Floats:
        optic, settings = self.optics[one], self.settings
        need = pair_need_arcsec(
            optic.aperture_mm, optic.magnification, seeing_at(self.site.seeing_arcsec, self.air.values),
            looks.difference_mag[:, None], settings,
        )  # fmt: skip
        apart = np.log10(3600.0 * looks.size_deg)
        apart = apart - cluster_cost_dex(looks.size_deg, optic.true_field_deg, settings)
        split = (apart[:, None] - np.log10(need))[:, None, :]
        light = 0.4 * (self.stars_mag[one] - looks.star_mag[:, None])
        return pair_merit(split, light[..., None] - self.dimming_dex, settings)

    def _dark(self, looks: Appearance, one: int) -> Floats:
        cost = cluster_cost_dex(looks.size_deg, self.optics[one].true_field_deg, self.settings)
        sky = dark_nebula_merit(self.sky.values, self.settings)
        return np.repeat((10.0 ** -cost[:, None] * sky)[..., None], len(self.air), axis=-1)
