"""Merit worked out directly for a few targets, for single questions and to judge the table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from ..domain import Site, Target
from ..domain.opportunity import Floats
from .allowed import allowed_of, light_passed
from .appearance import Appearance, Shows, appearance_of
from .contrast import exact_rest
from .judgement import MeritSettings
from .merit import (
    cluster_cost_dex,
    cluster_merit,
    dark_nebula_merit,
    framed_merit,
    glow_merit,
    star_merit,
    wide_cost_dex,
)
from .optics import Optic
from .pairs import pair_merit, pair_need_arcsec, seeing_at
from .reach import log_background, star_reach_mag


def merits_through(
    targets: Sequence[Target],
    optics: Sequence[Optic],
    sky_brightness: ArrayLike,
    airmass: ArrayLike,
    site: Site,
    settings: MeritSettings | None = None,
) -> Floats:
    """Return the merit of each target through each optic that it may use, else 0. (optics, targets) 0..1

    Parameters
    ----------
    targets, optics : What is looked at, and through what.
    sky_brightness : Behind each target. (targets,) [mag/arcsec2]
    airmass : In front of each. (targets,)
    site : For its extinction and seeing.
    settings : The judgement.

    Notes
    -----
    What does not show by the sky behind it alone (planets, Moon, showers, events) has merit 1, as in the
    table.
    """
    settings = settings or MeritSettings()
    sky, air = np.broadcast_arrays(
        np.asarray(sky_brightness, dtype=float), np.asarray(airmass, dtype=float), np.zeros(len(targets))
    )[:2]
    looks, allowed = appearance_of(targets, settings), allowed_of(targets, optics, settings)
    found = np.ones((len(optics), len(targets)))
    for row, one in enumerate(optics):
        laws = {
            Shows.GLOW: _glow(looks, one, sky, air, site, settings),
            Shows.CLUSTER: _cluster(looks, one, sky, air, site, settings),
            Shows.POINT: star_merit(_light_dex(looks, one, sky, air, site), settings),
            Shows.PAIR: _pair(looks, one, sky, air, site, settings),
            Shows.DARK: dark_nebula_merit(sky, settings)
            * 10.0 ** -cluster_cost_dex(looks.size_deg, one.true_field_deg, settings),
        }
        by_law = np.select([looks.shows == law for law in laws], list(laws.values()), 1.0)
        elsewhere = looks.shows == Shows.ELSEWHERE
        found[row] = np.where(allowed[:, row] | elsewhere, by_law, 0.0)
    return found


def shows_in(
    targets: Sequence[Target],
    optics: Sequence[Optic],
    sky_brightness: ArrayLike,
    airmass: ArrayLike,
    site: Site,
    settings: MeritSettings | None = None,
) -> Floats:
    """Return the best merit of each target through some optics, whatever it asks to be seen with. (targets,)

    With the binoculars alone it answers whether they show it first; with none it is 0.
    """
    if not optics:
        return np.zeros(len(targets))
    free = [_anyhow(target) for target in targets]
    return np.asarray(merits_through(free, optics, sky_brightness, airmass, site, settings).max(axis=0))


def _anyhow(target: Target) -> Target:
    return target if target.instrument is None else replace(target, instrument=None)


def _light_dex(looks: Appearance, one: Optic, sky: Floats, air: Floats, site: Site) -> Floats:
    return np.asarray(0.4 * (star_reach_mag(one, sky) - site.extinction_mag * air - looks.star_mag))


def _glow(
    looks: Appearance, one: Optic, sky: Floats, air: Floats, site: Site, settings: MeritSettings
) -> Floats:
    apparent = looks.log_area + 2.0 * np.log10(one.magnification)
    rest = exact_rest(looks.profile, apparent, log_background(one, sky))
    own = looks.log_lux - looks.log_area + np.log10(light_passed(looks, one) / one.field_factor)
    own = own - wide_cost_dex(looks.size_deg, one.true_field_deg, settings)
    half, best = rest + own - 0.4 * site.extinction_mag * air
    return glow_merit(half, best, settings)


def _cluster(
    looks: Appearance, one: Optic, sky: Floats, air: Floats, site: Site, settings: MeritSettings
) -> Floats:
    cost = cluster_cost_dex(looks.size_deg, one.true_field_deg, settings)
    stars = framed_merit(_light_dex(looks, one, sky, air, site), cost, settings)
    glow = _glow(looks, one, sky, air, site, settings)
    return np.asarray(cluster_merit(stars, glow, looks.glow_worth), dtype=np.float64)


def _pair(
    looks: Appearance, one: Optic, sky: Floats, air: Floats, site: Site, settings: MeritSettings
) -> Floats:
    need = pair_need_arcsec(
        one.aperture_mm, one.magnification, seeing_at(site.seeing_arcsec, air), looks.difference_mag, settings
    )
    split = np.log10(np.maximum(3600.0 * looks.size_deg, 1e-6) / need)
    split = split - cluster_cost_dex(looks.size_deg, one.true_field_deg, settings)
    return pair_merit(split, _light_dex(looks, one, sky, air, site), settings)
