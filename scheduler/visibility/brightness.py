"""How bright the sky is behind a target: dark sky, moonlight, twilight, and what the air takes away.

Every function takes arrays of any shapes that broadcast together. Sky brightness is in visual
magnitudes per square arcsecond, and in nanolamberts where contributions are added.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..domain.opportunity import Floats


def airmass(altitude_deg: ArrayLike) -> Floats:
    """Return the air looked through, relative to the zenith, 1..38.

    Parameters
    ----------
    altitude_deg : Apparent altitude; below the horizon counts as the horizon. [deg]

    Notes
    -----
    Fits the tables to 0.5 % from the zenith to the horizon.

    References
    ----------
    F. Kasten & A. T. Young, Revised optical air mass tables and approximation formula,
    Applied Optics 28, 4735 (1989), doi:10.1364/AO.28.004735

    Examples
    --------
    >>> airmass([90.0, 30.0, 5.0]).round(3)
    array([ 1.   ,  1.994, 10.306])
    """
    high_deg = np.maximum(np.asarray(altitude_deg, dtype=float), 0.0)
    sine = np.sin(np.radians(high_deg))
    return np.asarray(1.0 / (sine + 0.50572 * (high_deg + 6.07995) ** -1.6364))


def pickering_airmass(altitude_deg: ArrayLike) -> Floats:
    """Return the air looked through by a second published formula, 1..39.

    Parameters
    ----------
    altitude_deg : Apparent altitude; below the horizon counts as the horizon. [deg]

    Notes
    -----
    Kept beside `airmass` to judge it: the two differ by 0.3 % at 5 deg and by 2 % at the horizon.

    References
    ----------
    K. A. Pickering, The southern limits of the ancient star catalog, DIO 12, 3 (2002)

    Examples
    --------
    >>> pickering_airmass([90.0, 30.0, 5.0]).round(3)
    array([ 1.   ,  1.993, 10.334])
    """
    high_deg = np.maximum(np.asarray(altitude_deg, dtype=float), 0.0)
    return np.asarray(1.0 / np.sin(np.radians(high_deg + 244.0 / (165.0 + 47.0 * high_deg**1.1))))


def to_nanolamberts(sky_brightness: ArrayLike) -> Floats:
    """Return the luminance of a sky given in mag/arcsec2. [nL]

    References
    ----------
    K. Krisciunas & B. E. Schaefer, PASP 103, 1033 (1991), eq. 27, doi:10.1086/132921

    Examples
    --------
    >>> float(to_nanolamberts(21.587).round(1))
    79.0
    """
    return np.asarray(34.08 * np.exp(20.7233 - 0.92104 * np.asarray(sky_brightness, dtype=float)))


def to_sky_brightness(luminance_nl: ArrayLike) -> Floats:
    """Return the sky brightness of a luminance in nanolamberts. [mag/arcsec2]

    Examples
    --------
    >>> float(to_sky_brightness(79.0).round(2))
    21.59
    """
    return np.asarray((20.7233 - np.log(np.asarray(luminance_nl, dtype=float) / 34.08)) / 0.92104)


def dimmed(loss_mag: ArrayLike) -> Floats:
    """Return the share of light left after a loss in magnitudes, by definition.

    Examples
    --------
    >>> dimmed([0.0, 2.5, 5.0]).round(6)
    array([1.  , 0.1 , 0.01])
    """
    return np.asarray(np.exp(-0.4 * np.log(10.0) * np.asarray(loss_mag, dtype=float)))


def scattering_airmass(altitude_deg: ArrayLike) -> Floats:
    """Return the path of scattered light through the air, 1..5.

    References
    ----------
    K. Krisciunas & B. E. Schaefer, PASP 103, 1033 (1991), eq. 3

    Examples
    --------
    >>> scattering_airmass([90.0, 30.0, 0.0]).round(3)
    array([1.  , 1.89, 5.  ])
    """
    cosine = np.cos(np.radians(np.maximum(np.asarray(altitude_deg, dtype=float), 0.0)))
    return np.asarray(1.0 / np.sqrt(1.0 - 0.96 * cosine**2))


def dark_sky_nl(sky_brightness: ArrayLike, extinction_mag: ArrayLike, altitude_deg: ArrayLike) -> Floats:
    """Return the moonless sky at an altitude, from the zenith sky of the site. [nL]

    Parameters
    ----------
    sky_brightness : At the zenith. [mag/arcsec2]
    extinction_mag : At the zenith. [mag/airmass]
    altitude_deg : Where one looks. [deg]

    References
    ----------
    K. Krisciunas & B. E. Schaefer, PASP 103, 1033 (1991), eq. 2

    Examples
    --------
    >>> float(to_sky_brightness(dark_sky_nl(21.587, 0.172, 30.0)).round(2))
    21.05
    """
    path = scattering_airmass(altitude_deg)
    loss = dimmed(np.asarray(extinction_mag, dtype=float) * (path - 1.0))
    return np.asarray(to_nanolamberts(sky_brightness) * loss * path)


def moonlight_nl(
    phase_angle_deg: ArrayLike,
    separation_deg: ArrayLike,
    moon_altitude_deg: ArrayLike,
    altitude_deg: ArrayLike,
    extinction_mag: ArrayLike,
) -> Floats:
    """Return moonlight scattered into the line of sight; zero with the Moon down. [nL]

    Parameters
    ----------
    phase_angle_deg : Sun-Moon-Earth angle, 0 at full Moon. [deg]
    separation_deg : Between the Moon and where one looks. [deg]
    moon_altitude_deg, altitude_deg : Of the Moon and of where one looks. [deg]
    extinction_mag : At the zenith. [mag/airmass]

    Notes
    -----
    The authors state 8 to 23 % accuracy. The least scattering is near 93 deg from the Moon. Within
    0.25 deg of the Moon the separation is taken as 0.25 deg.

    References
    ----------
    K. Krisciunas & B. E. Schaefer, A model of the brightness of moonlight, PASP 103, 1033 (1991),
    eqs. 15, 18-21, doi:10.1086/132921

    Examples
    --------
    >>> nl = moonlight_nl(45.0, 50.0, 20.0, 70.0, 0.15)
    >>> float(to_sky_brightness(nl).round(3))
    19.855
    """
    phase = np.abs(np.asarray(phase_angle_deg, dtype=float))
    apart = np.maximum(np.asarray(separation_deg, dtype=float), 0.25)
    extinction = np.asarray(extinction_mag, dtype=float)
    moon_up = np.asarray(moon_altitude_deg, dtype=float)
    illuminance = dimmed(3.84 + 0.026 * phase + 4e-9 * np.square(np.square(phase)))
    rayleigh = 10.0**5.36 * (1.06 + np.cos(np.radians(apart)) ** 2)
    mie = np.where(apart < 10.0, 6.2e7 / apart**2, 10.0 ** (6.15 - apart / 40.0))
    arriving = dimmed(extinction * scattering_airmass(moon_up))
    scattered = 1.0 - dimmed(extinction * scattering_airmass(altitude_deg))
    return np.asarray(np.where(moon_up > 0.0, (rayleigh + mie) * illuminance * arriving * scattered, 0.0))


def twilight_nl(sun_altitude_deg: ArrayLike) -> Floats:
    """Return what twilight adds to the zenith sky; nothing with the Sun below -18.3 deg. [nL]

    Parameters
    ----------
    sun_altitude_deg : Of the Sun's centre; brighter than civil dusk counts as the Sun at -5 deg. [deg]

    Notes
    -----
    A parabola in the Sun's depth fitted at Paranal from -5 to -15 deg, less its own darkest value, so
    that the addition ends smoothly. Its coefficients are from memory, unverified. From -15 deg on
    the addition is small (0.4 mag at a dark site), a cost rather than a wall.

    References
    ----------
    F. Patat, O. S. Ugolnikov & O. V. Postylyakov, UBVRI twilight sky brightness at ESO-Paranal,
    A&A 455, 385 (2006), doi:10.1051/0004-6361:20064992

    Examples
    --------
    >>> to_sky_brightness(twilight_nl([-6.0, -12.0])).round(1)
    array([13.3, 19.8])
    >>> float(twilight_nl(-19.0))
    0.0
    """
    darkest_deg = 1.518 / (2 * 0.057)
    depth_deg = np.clip(-np.asarray(sun_altitude_deg, dtype=float) - 5.0, 0.0, darkest_deg)
    magnitude = 11.84 + 1.518 * depth_deg - 0.057 * depth_deg**2
    darkest = 11.84 + 1.518 * darkest_deg - 0.057 * darkest_deg**2
    return np.asarray(to_nanolamberts(magnitude) - to_nanolamberts(darkest))
