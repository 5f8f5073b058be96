"""Double stars: how far apart two stars must be to be split, and how well a pair shows."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..domain.opportunity import Floats
from .judgement import MeritSettings
from .merit import step
from .optics import resolution_arcsec


def pair_need_arcsec(
    aperture_mm: ArrayLike,
    magnification: ArrayLike,
    seeing_arcsec: ArrayLike,
    difference_mag: ArrayLike,
    settings: MeritSettings,
) -> Floats:
    """Return how far apart two stars must be to be split, air, glass and eye together. [arcsec]

    Parameters
    ----------
    aperture_mm : What gathers the light. [mm]
    magnification : 1 for the naked eye.
    seeing_arcsec : Full width at half maximum where one looks. [arcsec]
    difference_mag : Between the two stars. [mag]

    Notes
    -----
    Dawes's limit, wider for an unequal pair whose fainter star drowns in the brighter one's rings, a share of
    the seeing, and what the eye can tell at this power, added as squares. How much wider is from memory of
    T. Lewis's limits, The Observatory 37 (1914) 378, which are multiples of the aperture's alone.

    Examples
    --------
    >>> pair_need_arcsec(100.0, 100.0, 2.0, [0.0, 3.0], MeritSettings()).round(2)
    array([2.1 , 3.81])
    """
    glass = resolution_arcsec(aperture_mm)
    air = settings.seeing_share * np.asarray(seeing_arcsec, dtype=float)
    eye = settings.eye_arcsec / np.asarray(magnification, dtype=float)
    unequal = 10.0 ** (settings.unequal_dex_per_mag * np.asarray(difference_mag, dtype=float))
    return np.asarray(np.hypot(np.hypot(glass * unequal, air), eye))


def seeing_at(seeing_arcsec: ArrayLike, airmass: ArrayLike) -> Floats:
    """Return the seeing through more air than at the zenith. [arcsec]

    References
    ----------
    D. L. Fried, JOSA 56, 1372 (1966), from memory: turbulent air blurs as the 0.6th power of its depth

    Examples
    --------
    >>> seeing_at(2.0, [1.0, 2.0]).round(2)
    array([2.  , 3.03])
    """
    return np.asarray(np.asarray(seeing_arcsec, dtype=float) * np.asarray(airmass, dtype=float) ** 0.6)


def pair_merit(split_dex: ArrayLike, light_dex: ArrayLike, settings: MeritSettings) -> Floats:
    """Return the merit of a double star, 0..1: the lesser of two margins counts.

    Parameters
    ----------
    split_dex : Separation over what is needed. [dex]
    light_dex : Margin of the fainter star. [dex]

    Examples
    --------
    >>> pair_merit([-0.2, 0.1, 0.5, 0.5], [2.0, 2.0, 2.0, 0.0], MeritSettings()).round(2)
    array([0.08, 0.5 , 0.97, 0.3 ])
    """
    soft = settings.pair_softness_dex
    lesser = -soft * np.logaddexp(
        -np.asarray(split_dex, dtype=float) / soft, -np.asarray(light_dex, dtype=float) / soft
    )
    return step(lesser, settings.pair_dex, settings.pair_width_dex)
