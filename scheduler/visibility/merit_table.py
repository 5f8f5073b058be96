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
from .allowed import allowed_of, light_passed
from .appearance import Appearance, Shows, appearance_of
from .contrast import read_rest, table_at
from .judgement import MeritSettings
from .merit import (
    cluster_cost_dex,
    dark_nebula_merit,
    pair_merit,
    pair_need_arcsec,
    seeing_at,
    wide_cost_dex,
)
from .optics import Optic
from .reach import (
    SKY,
    SKY_LOW,
    SKY_STEP,
    SKY_STEPS,
    AnyFloats,
    advised,
    log_background,
    preference,
    star_reach_mag,
)

AIR_STEPS = 13
MOST_AIR = 40.0
DIMMEST_DEX = 4.0
"""Air beyond that which dims by so much beyond the zenith's is not tabulated. [dex]"""

CELLS_AT_ONCE = 1_500_000
"""Merits worked out together; keeps the memory small."""

NO_OPTIC = -1
CERTAIN, NEVER = 30.0, -30.0
"""Log odds that stand for a merit of 1 and of 0."""

Singles = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class MeritTable:
    """Best merit and advised optic over sky and air. (targets, skies, airs)

    Attributes
    ----------
    airmass : Of the table's last axis; the skies are `reach.SKY`. (airs,)
    log_odds : Natural log odds of the merit: between entries it runs nearly straight. float32
    optic : Which optic is advised, by position in `optics`; -1 where a target does not show by the sky
        behind it alone (planets, Moon, showers, events; its merit here is 1) or nothing may be used
        (its merit is 0). int16
    optics : The ways of looking.
    """

    airmass: Floats
    log_odds: Singles
    optic: NDArray[np.int16]
    optics: tuple[Optic, ...]

    def at(self, target: Ints, sky_brightness: ArrayLike, airmass: ArrayLike) -> Floats:
        """Return the merit of targets, by position, under skies through air, 0..1; the shapes broadcast.

        Notes
        -----
        Within 0.004 of the direct computation under skies darker than 13 mag/arcsec2 and up to an extinction
        of 0.4 mag; skies and air beyond the table count as its edge.
        """
        cell, over_sky, over_air = self._cell(target, sky_brightness, airmass)
        flat, airs = self.log_odds.reshape(-1), len(self.airmass)
        near = flat.take(cell)
        near += (flat.take(cell + 1) - near) * over_air
        far = flat.take(cell + airs)
        far += (flat.take(cell + airs + 1) - far) * over_air
        near += (far - near) * over_sky
        return np.asarray(1.0 / (1.0 + np.exp(-near)), dtype=np.float64)

    def optic_at(self, target: Ints, sky_brightness: ArrayLike, airmass: ArrayLike) -> Ints:
        """Return the advised optic at the nearest entry, by position; -1 for none. int"""
        cell, over_sky, over_air = self._cell(target, sky_brightness, airmass)
        nearest = cell + (over_sky >= 0.5) * len(self.airmass) + (over_air >= 0.5)
        return self.optic.reshape(-1).take(nearest).astype(np.int64)

    def _cell(
        self, target: Ints, sky_brightness: ArrayLike, airmass: ArrayLike
    ) -> tuple[Ints, Singles, Singles]:
        """Return the entry before, and how far beyond it in sky and air. [0..1]"""
        target, sky, air = np.broadcast_arrays(target, sky_brightness, airmass)
        airs = len(self.airmass)
        steps = np.clip((sky - SKY_LOW) / SKY_STEP, 0.0, SKY_STEPS - 1.0)
        row = np.minimum(steps.astype(np.int64), SKY_STEPS - 2)
        air = np.clip(air, 1.0, self.airmass[-1])
        column = np.minimum((np.log(air) * (1.0 / np.log(self.airmass[1]))).astype(np.int64), airs - 2)
        over_air = (air - self.airmass[column]) * (1.0 / np.diff(self.airmass))[column]
        cell = (target * SKY_STEPS + row) * airs + column
        return cell, (steps - row).astype(np.float32), over_air.astype(np.float32)


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
    work = _Work(tuple(optics), site, settings)
    log_odds = np.full((len(targets), SKY_STEPS, AIR_STEPS), CERTAIN, dtype=np.float32)
    optic = np.full(log_odds.shape, NO_OPTIC, dtype=np.int16)
    for rows, usable in _groups(looks, allowed):
        if not len(usable):
            log_odds[rows] = NEVER
            continue
        merit = work.merits(looks.part(rows), usable)
        merit *= allowed[rows][:, usable].T[:, :, None, None]
        best = merit.max(axis=0)
        with np.errstate(divide="ignore"):
            log_odds[rows] = np.clip(np.log(best / (1.0 - best)), NEVER, CERTAIN)
        order = preference([optics[one] for one in usable])
        optic[rows] = usable[advised(merit, order, settings.advice_slack)]
    return MeritTable(work.airmass, log_odds, optic, tuple(optics))


def _groups(looks: Appearance, allowed: NDArray[np.bool_]) -> Iterator[tuple[Ints, Ints]]:
    """Yield targets that show by one law, with the optics any of them may use, not too many at once."""
    filtered = looks.both > 0.0
    for shows in (one for one in Shows if one is not Shows.ELSEWHERE):
        for with_lines in (False, True):
            rows = np.flatnonzero((looks.shows == shows) & (filtered == with_lines))
            usable = np.flatnonzero(allowed[rows].any(axis=0))
            at_once = max(1, CELLS_AT_ONCE // (max(len(usable), 1) * SKY_STEPS * AIR_STEPS))
            for first in range(0, len(rows), at_once):
                yield rows[first : first + at_once], usable


class _Work:
    """Margins and merits of targets of one law, (optics, targets, skies, airs)."""

    def __init__(self, optics: tuple[Optic, ...], site: Site, settings: MeritSettings) -> None:
        self.optics, self.site, self.settings = optics, site, settings
        most = min(MOST_AIR, 1.0 + DIMMEST_DEX / (0.4 * site.extinction_mag))
        self.airmass = np.geomspace(1.0, most, AIR_STEPS)
        self.dimming_dex = 0.4 * site.extinction_mag * self.airmass
        self.stars_mag = [star_reach_mag(one, SKY) for one in optics]
        self.tables = [table_at(log_background(one, SKY)) for one in optics]

    def merits(self, looks: Appearance, usable: Ints) -> Singles:
        """Return the merit of targets through each of the usable optics. float32"""
        law = {Shows.PAIR: self._pairs, Shows.DARK: self._dark}.get(Shows(int(looks.shows[0])), self._faint)
        found = np.empty((len(usable), len(looks.shows), SKY_STEPS, AIR_STEPS), dtype=np.float32)
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
        stars = self._seen(0.4 * (self.stars_mag[one] - looks.star_mag[:, None]) - cost[:, None])
        return np.maximum(stars, looks.glow_worth.astype(np.float32)[:, None, None] * glow)

    def _glow_dex(self, looks: Appearance, one: int) -> Floats:
        """Return the margins of the half-light and the best ellipse, no air. (2, targets, skies) [dex]"""
        optic = self.optics[one]
        apparent = looks.log_area + 2.0 * np.log10(optic.magnification)
        rest = read_rest(self.tables[one], looks.profile, apparent)
        own = looks.log_lux - looks.log_area + np.log10(light_passed(looks, optic) / optic.field_factor)
        own = own - wide_cost_dex(looks.size_deg, optic.true_field_deg, self.settings)
        return np.asarray(rest + own[:, None])

    def _seen(self, margin_dex: Floats) -> Singles:
        """Return `star_merit` of a margin behind each depth of air, its exponential taken apart. float32"""
        settings = self.settings
        steps = np.clip((margin_dex - settings.seen_dex) / settings.seen_width_dex, -40.0, 40.0)
        odds_against = np.exp(-steps).astype(np.float32)[..., None]
        through_air = np.exp(np.minimum(self.dimming_dex / settings.seen_width_dex, 40.0)).astype(np.float32)
        return np.asarray(1.0 / (1.0 + odds_against * through_air))

    def _pairs(self, looks: Appearance, one: int) -> Floats:
        optic, settings = self.optics[one], self.settings
        need = pair_need_arcsec(
            optic.aperture_mm, optic.magnification, seeing_at(self.site.seeing_arcsec, self.airmass),
            looks.difference_mag[:, None], settings,
        )  # fmt: skip
        apart = np.log10(3600.0 * looks.size_deg)
        apart = apart - cluster_cost_dex(looks.size_deg, optic.true_field_deg, settings)
        split = (apart[:, None] - np.log10(need))[:, None, :]
        light = 0.4 * (self.stars_mag[one] - looks.star_mag[:, None])
        return pair_merit(split, light[..., None] - self.dimming_dex, settings)

    def _dark(self, looks: Appearance, one: int) -> Floats:
        cost = cluster_cost_dex(looks.size_deg, self.optics[one].true_field_deg, self.settings)
        sky = dark_nebula_merit(SKY, self.settings)
        return np.repeat((10.0 ** -cost[:, None] * sky)[..., None], AIR_STEPS, axis=-1)
