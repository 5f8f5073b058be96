"""Merit: how well a target shows, 0..1, from how far it stands above what the eye can tell.

One function a kind, on arrays of shapes that broadcast. A margin is in decades (dex) of contrast or light
above the threshold; `detect` has the thresholds, `merit_table` and `reach` work the margins out, `judgement`
holds every constant here that is ours.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..domain.opportunity import Floats
from .judgement import AnyFloats, LineLight, MeritSettings

__all__ = [
    "LineLight", "MeritSettings", "cluster_cost_dex", "cluster_merit", "dark_nebula_merit", "detail_merit",
    "eclipse_merit", "framed_merit", "glow_merit", "hourly_rate", "moon_feature_merit", "planet_merit",
    "shower_merit", "star_merit", "steady_merit", "step", "wide_cost_dex",
]  # fmt: skip


def step(value: ArrayLike, middle: float, width: float) -> Floats:
    """Return a logistic step from 0 to 1, half-way at `middle`.

    Examples
    --------
    >>> step([0.0, 1.0, 100.0], 0.0, 1.0).round(2)
    array([0.5 , 0.73, 1.  ])
    """
    steps = np.clip((np.asarray(value, dtype=float) - middle) / width, -60.0, 60.0)
    return np.asarray(1.0 / (1.0 + np.exp(-steps)))


def glow_merit(half_dex: ArrayLike, best_dex: ArrayLike, settings: MeritSettings) -> Floats:
    """Return the merit of a galaxy, a globular cluster or a nebula, 0..1.

    Parameters
    ----------
    half_dex : Margin of the ellipse that holds half the light. [dex]
    best_dex : Margin of the nested ellipse that stands out best. [dex]

    Examples
    --------
    >>> glow_merit([-0.5, 0.35, 1.5], [0.35, 0.9, 1.6], MeritSettings()).round(2)
    array([0.26, 0.72, 1.  ])
    """
    return np.asarray(0.5 * (star_merit(half_dex, settings) + star_merit(best_dex, settings)))


def star_merit(margin_dex: ArrayLike, settings: MeritSettings) -> Floats:
    """Return the merit of stars that stand this far above the faintest seen, 0..1.

    Examples
    --------
    >>> star_merit([-0.4, 0.0, 0.35, 1.0], MeritSettings()).round(2)
    array([0.02, 0.15, 0.5 , 0.96])
    """
    return step(margin_dex, settings.seen_dex, settings.seen_width_dex)


def framed_merit(margin_dex: ArrayLike, cost_dex: ArrayLike, settings: MeritSettings) -> Floats:
    """Return the merit of a cluster's stars in a field that may not frame it, 0..1.

    Parameters
    ----------
    margin_dex : Of its typical star above the faintest seen. [dex]
    cost_dex : From `cluster_cost_dex`. [dex]

    Notes
    -----
    The margin counts up to `cluster_enough_dex`, softly: stars that are bright anyway frame nothing.

    Examples
    --------
    >>> framed_merit([0.35, 3.0, 3.0], [0.0, 0.0, 0.8], MeritSettings()).round(2)
    array([0.5 , 0.99, 0.68])
    """
    width, enough = settings.seen_width_dex, settings.cluster_enough_dex
    margin = -width * np.logaddexp(-np.asarray(margin_dex, dtype=float) / width, -enough / width)
    return star_merit(margin - np.asarray(cost_dex, dtype=float), settings)


def cluster_merit(stars: AnyFloats, glow: AnyFloats, glow_worth: AnyFloats) -> AnyFloats:
    """Return the merit of a cluster, 0..1: by its stars or, for less, by the glow of those unresolved.

    Parameters
    ----------
    stars, glow : Merit as single stars and as a glow. [0..1]
    glow_worth : What the glow alone is worth of a resolved cluster. [0..1]

    Examples
    --------
    >>> cluster_merit(np.array([0.0, 0.5, 1.0]), np.array(1.0), np.array(0.5))
    array([0.5 , 0.75, 1.  ])
    """
    return np.asarray(1.0 - (1.0 - stars) * (1.0 - glow_worth * glow))


def wide_cost_dex(size_deg: ArrayLike, true_field_deg: ArrayLike, settings: MeritSettings) -> Floats:
    """Return what an object loses by filling, or overflowing, the field. [dex, at most `wide_cost_dex`]

    Examples
    --------
    >>> wide_cost_dex([0.3, 1.0, 3.0], 1.0, MeritSettings()).round(3)
    array([0.001, 0.25 , 0.499])
    """
    over = np.log10(np.maximum(size_deg, 1e-6) / np.asarray(true_field_deg, dtype=float))
    return np.asarray(settings.wide_cost_dex * step(over, 0.0, settings.wide_width_dex))


def cluster_cost_dex(size_deg: ArrayLike, true_field_deg: ArrayLike, settings: MeritSettings) -> Floats:
    """Return what a cluster, or a wide pair, loses in a field that does not frame it. [dex]

    Examples
    --------
    >>> cluster_cost_dex([0.3, 0.8, 8.0], 1.0, MeritSettings()).round(2)
    array([0.  , 0.07, 2.  ])
    """
    over = np.log10(
        settings.cluster_room * np.maximum(size_deg, 1e-6) / np.asarray(true_field_deg, dtype=float)
    )
    edge = settings.cluster_edge_dex
    return np.asarray(settings.cluster_cost * edge * np.logaddexp(0.0, over / edge))


def dark_nebula_merit(sky_brightness: ArrayLike, settings: MeritSettings) -> Floats:
    """Return the merit of a dark nebula, 0..1: only the sky behind it counts, the Moon's light in it.

    Examples
    --------
    >>> dark_nebula_merit([19.0, 21.0, 21.8], MeritSettings()).round(2)
    array([0.  , 0.5 , 0.96])
    """
    return step(sky_brightness, settings.dark_nebula_sky, settings.dark_nebula_width)


def steady_merit(altitude_deg: ArrayLike, settings: MeritSettings) -> Floats:
    """Return how steadily a fine detail shows at an altitude, 0..1; moonlight does not matter.

    Examples
    --------
    >>> steady_merit([8.0, 18.0, 28.0, 60.0], MeritSettings()).round(2)
    array([0.12, 0.5 , 0.88, 1.  ])
    """
    return step(altitude_deg, settings.steady_altitude_deg, settings.steady_width_deg)


def detail_merit(
    size_arcsec: ArrayLike, resolution_arcsec: ArrayLike, steps: float, settings: MeritSettings
) -> Floats:
    """Return how much of its detail something shows, 0..1: half of it at so many resolved steps across.

    Examples
    --------
    >>> detail_merit([6.0, 12.0, 45.0], 1.0, 12.0, MeritSettings()).round(2)
    array([0.12, 0.5 , 0.98])
    """
    across = np.asarray(size_arcsec, dtype=float) / np.asarray(resolution_arcsec, dtype=float)
    return step(np.log10(np.maximum(across, 1e-6) / steps), 0.0, settings.disc_width_dex)


def planet_merit(
    altitude_deg: ArrayLike,
    disc_arcsec: ArrayLike,
    disc_of_best: ArrayLike,
    resolution_arcsec: ArrayLike,
    settings: MeritSettings,
) -> Floats:
    """Return the merit of a planet, 0..1: detail, steadiness, and its disc over the season's largest.

    Parameters
    ----------
    altitude_deg : Apparent altitude. [deg]
    disc_arcsec : Apparent diameter. [arcsec]
    disc_of_best : The same over the largest of the season. [0..1]
    resolution_arcsec : Finest detail of the instrument. [arcsec]

    Notes
    -----
    A planet too small for any detail keeps `dot` of the merit: to find it is what many want of Neptune.

    Examples
    --------
    >>> planet_merit(60.0, [45.0, 18.0, 2.3], 1.0, 0.58, MeritSettings()).round(2)
    array([1.  , 0.96, 0.33])
    """
    detail = detail_merit(disc_arcsec, resolution_arcsec, settings.disc_steps, settings)
    share = np.clip(np.asarray(disc_of_best, dtype=float), 0.0, 1.0)
    worth = settings.dot + (1.0 - settings.dot) * detail
    return np.asarray(worth * steady_merit(altitude_deg, settings) * share)


def moon_feature_merit(
    sun_altitude_deg: ArrayLike, moon_altitude_deg: ArrayLike, settings: MeritSettings
) -> Floats:
    """Return the merit of a crater, mountain or sea, 0..1: its shadows, and the Moon's height here.

    Parameters
    ----------
    sun_altitude_deg : Of the Sun as seen from the feature, in its morning or its evening alike. [deg]
    moon_altitude_deg : Apparent altitude of the Moon. [deg]

    Examples
    --------
    >>> moon_feature_merit([-1.0, 1.0, 2.0, 5.0, 8.0, 20.0], 50.0, MeritSettings()).round(2)
    array([0.  , 0.5 , 0.98, 0.99, 0.98, 0.  ])
    """
    risen = step(sun_altitude_deg, settings.ridge_deg, settings.ridge_width_deg)
    noon = step(sun_altitude_deg, settings.noon_deg, settings.noon_width_deg)
    high = step(moon_altitude_deg, settings.moon_altitude_deg, settings.moon_width_deg)
    return np.asarray(risen * (1.0 - noon) * high)


def shower_merit(
    zenithal_rate: ArrayLike,
    population_index: ArrayLike,
    altitude_deg: ArrayLike,
    limiting_magnitude: ArrayLike,
    settings: MeritSettings,
) -> Floats:
    """Return the merit of a meteor shower, 0..1, from the meteors an hour that one observer sees.

    Parameters
    ----------
    zenithal_rate : At this moment, radiant overhead, stars to 6.5 mag seen. [1/h]
    population_index : How many times more meteors one magnitude deeper.
    altitude_deg : Of the radiant. [deg]
    limiting_magnitude : Of the naked eye, under this sky. [mag]

    References
    ----------
    International Meteor Organization, Handbook for Meteor Observers: the zenithal hourly rate, solved for the
    rate seen, HR = ZHR sin h / r^(6.5 - lm)

    Examples
    --------
    >>> shower_merit(100.0, 2.2, [90.0, 30.0, -5.0], 6.5, MeritSettings()).round(2)
    array([0.87, 0.77, 0.  ])
    """
    return _of_rate(hourly_rate(zenithal_rate, population_index, altitude_deg, limiting_magnitude), settings)


def hourly_rate(
    zenithal_rate: ArrayLike,
    population_index: ArrayLike,
    altitude_deg: ArrayLike,
    limiting_magnitude: ArrayLike,
) -> Floats:
    """Return how many meteors of a shower one observer sees in an hour. [1/h]

    References
    ----------
    International Meteor Organization, Handbook for Meteor Observers: HR = ZHR sin h / r^(6.5 - lm)

    Examples
    --------
    >>> hourly_rate(100.0, 2.0, [90.0, 30.0], [6.5, 5.5])
    array([100.,  25.])
    """
    sine = np.maximum(np.sin(np.radians(np.asarray(altitude_deg, dtype=float))), 0.0)
    deeper = np.asarray(limiting_magnitude, dtype=float) - 6.5
    per_magnitude = np.asarray(population_index, dtype=float)
    return np.asarray(np.asarray(zenithal_rate, dtype=float) * sine * per_magnitude**deeper)


def _of_rate(rate: Floats, settings: MeritSettings) -> Floats:
    return np.asarray(rate / (rate + settings.shower_half_rate))


def eclipse_merit(moon_altitude_deg: ArrayLike, settings: MeritSettings) -> Floats:
    """Return the merit of a lunar eclipse, 0..1: how high the Moon stands.

    Examples
    --------
    >>> eclipse_merit([0.0, 6.0, 30.0], MeritSettings()).round(2)
    array([0.05, 0.5 , 1.  ])
    """
    return step(moon_altitude_deg, settings.eclipse_altitude_deg, settings.eclipse_width_deg)
