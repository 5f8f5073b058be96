"""What the eye can tell from the sky: the least contrast at which a patch or a star is seen.

Every function takes arrays that broadcast. Luminances are in cd/m2, areas in steradians, light from a star
in lux. A field factor of 1 is a trained eye in a laboratory, 2 a usual one under the sky.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ..domain.opportunity import Floats

STERADIANS_PER_ARCSEC2 = float(np.radians(1.0 / 3600.0) ** 2)

DARKEST_CD_M2 = 1e-5
"""A darker sky is as good as none to the eye. Crumey 2014, section 2.3. [cd/m2]"""

_SURELY_NIGHT = 1e-3
"""Darker than this the law of night vision holds, whatever the full-range law says. [cd/m2]"""

_CREST_CD_M2 = (6.505e-4 / (2 * 8.461e-4)) ** 4
"""Here, at 16.74 mag/arcsec2, the law of night vision has stars at their hardest. [cd/m2]"""


def to_luminance(sky_brightness: ArrayLike) -> Floats:
    """Return the luminance of a sky given in mag/arcsec2. [cd/m2]

    References
    ----------
    A. Crumey, MNRAS 442, 2600 (2014), section 1.3: mu = 12.584 - 2.5 log B

    Examples
    --------
    >>> float(to_luminance(21.83).round(6))
    0.0002
    """
    return np.asarray(10.0 ** (0.4 * (12.584 - np.asarray(sky_brightness, dtype=float))))


def to_surface_brightness(luminance_cd_m2: ArrayLike) -> Floats:
    """Return the surface brightness of a luminance. [mag/arcsec2]

    Examples
    --------
    >>> float(to_surface_brightness(2e-4).round(2))
    21.83
    """
    return np.asarray(12.584 - 2.5 * np.log10(np.asarray(luminance_cd_m2, dtype=float)))


def to_lux(magnitude: ArrayLike) -> Floats:
    """Return the light a star or a whole nebula sends to the eye, above the air. [lux]

    Examples
    --------
    >>> float(to_lux(0.0).round(8))
    2.54e-06
    """
    return np.asarray(to_luminance(magnitude) * STERADIANS_PER_ARCSEC2)


def to_magnitude(light_lux: ArrayLike) -> Floats:
    """Return the magnitude of a star that sends this light. [mag]

    Examples
    --------
    >>> float(to_magnitude(to_lux(6.5)).round(6))
    6.5
    """
    return to_surface_brightness(np.asarray(light_lux, dtype=float) / STERADIANS_PER_ARCSEC2)


def small_patch_sr(luminance_cd_m2: ArrayLike) -> Floats:
    """Return R, the contrast times area a small patch needs against a background. [sr]

    Parameters
    ----------
    luminance_cd_m2 : Of the background as the eye gets it, 1e-5 to 3e4. [cd/m2]

    Notes
    -----
    The law of night vision up to where the full-range law meets it (0.049 cd/m2, 15.9 mag/arcsec2), and the
    full-range law from there on. The full-range law alone would show stars up to 0.08 mag fainter at night.

    References
    ----------
    A. Crumey, Human contrast threshold and astronomical visibility, MNRAS 442, 2600 (2014), eqs. 23 and 26
    (night), 25 and 28 (full range), doi:10.1093/mnras/stu992

    Examples
    --------
    >>> float(small_patch_sr(1e-5).round(6))
    0.000115
    """
    x = np.asarray(luminance_cd_m2, dtype=float) ** -0.25
    night = 6.505e-4 * x - 8.461e-4
    full = np.sqrt(5.949e-8 * x**2 - 2.389e-7 * x + 2.459e-7) + 4.120e-4 * x - 4.225e-4
    return np.asarray(_night_first(x, night, full) ** 2)


def large_patch_contrast(luminance_cd_m2: ArrayLike) -> Floats:
    """Return the contrast that even a very large patch needs against a background.

    Parameters
    ----------
    luminance_cd_m2 : Of the background as the eye gets it, 1e-5 to 3e4. [cd/m2]

    Notes
    -----
    The law of night vision up to where the full-range law meets it (0.17 cd/m2), and the full-range law
    from there on.

    References
    ----------
    A. Crumey, MNRAS 442, 2600 (2014), eqs. 35 and 37 (night), 39 and 40 (full range)

    Examples
    --------
    >>> float(large_patch_contrast(1e-5).round(4))
    0.1286
    """
    x = np.asarray(luminance_cd_m2, dtype=float) ** -0.25
    night = 7.633e-3 * x - 7.174e-3
    full = np.sqrt(9.606e-6 * x**2 - 4.112e-5 * x + 5.019e-5) + 4.837e-3 * x - 4.884e-3
    return _night_first(x, night, full)


def _night_first(x: Floats, night: Floats, full: Floats) -> Floats:
    """Return the night law to where the full-range law overtakes it; x falls as the sky brightens."""
    return np.asarray(np.where(x > _SURELY_NIGHT**-0.25, night, np.maximum(night, full)))


def joint_exponent(luminance_cd_m2: ArrayLike) -> Floats:
    """Return how sharply the laws for small and large patches meet, 0.6 to 1.1.

    Notes
    -----
    The three published pieces leave steps of 0.0004 and 0.0008; here they meet.

    References
    ----------
    A. Crumey, MNRAS 442, 2600 (2014), eqs. 41 to 44

    Examples
    --------
    >>> joint_exponent([1e-3, 1.0, 100.0]).round(4)
    array([0.6   , 0.8861, 0.969 ])
    """
    log_b = np.log10(np.asarray(luminance_cd_m2, dtype=float))
    return np.asarray(np.maximum(0.6, np.minimum(0.8861 + 0.4 * log_b, 1.146 - 0.0885 * log_b)))


def star_threshold_lux(luminance_cd_m2: ArrayLike, field_factor: ArrayLike = 2.0) -> Floats:
    """Return the least light of a star that is seen against a background. [lux]

    Parameters
    ----------
    luminance_cd_m2 : Of the background as the eye gets it; below 1e-5 counts as 1e-5. [cd/m2]
    field_factor : 1 in a laboratory, 2 for a usual eye under the sky.

    Notes
    -----
    Never falls as the background brightens: where the published fit dips, by 10 % between 16.7 and 15.2
    mag/arcsec2, it is bridged at the height of its crest.

    References
    ----------
    A. Crumey, MNRAS 442, 2600 (2014), eqs. 33 and 53

    Examples
    --------
    >>> to_magnitude(star_threshold_lux([2e-4, 3e-3])).round(2)
    array([6.18, 5.13])
    """
    background = np.maximum(np.asarray(luminance_cd_m2, dtype=float), DARKEST_CD_M2)
    crest = _CREST_CD_M2 * small_patch_sr(_CREST_CD_M2)
    light = background * small_patch_sr(background)
    light = np.where(background > _CREST_CD_M2, np.maximum(light, crest), light)
    return np.asarray(np.asarray(field_factor, dtype=float) * light)


def star_limit(luminance_cd_m2: ArrayLike, field_factor: ArrayLike = 2.0) -> Floats:
    """Return the magnitude of the faintest star seen against a background, no air and no telescope. [mag]

    Examples
    --------
    >>> star_limit(to_luminance([21.83, 18.5])).round(2)
    array([6.18, 5.03])
    """
    return to_magnitude(star_threshold_lux(luminance_cd_m2, field_factor))


def increment_threshold(
    luminance_cd_m2: ArrayLike, area_sr: ArrayLike, field_factor: ArrayLike = 2.0
) -> Floats:
    """Return how much brighter than its background a patch must be to be seen. [cd/m2]

    Parameters
    ----------
    luminance_cd_m2 : Of the background as the eye gets it; below 1e-5 counts as 1e-5. [cd/m2]
    area_sr : Apparent area of the patch, magnified. [sr]
    field_factor : 1 in a laboratory, 2 for a usual eye under the sky.

    References
    ----------
    A. Crumey, MNRAS 442, 2600 (2014), eq. 41

    Examples
    --------
    >>> half_degree = 6e-5
    >>> float(to_surface_brightness(increment_threshold(2e-4, half_degree, 1.0)).round(2))
    22.43
    """
    background = np.maximum(np.asarray(luminance_cd_m2, dtype=float), DARKEST_CD_M2)
    small = star_threshold_lux(background, 1.0) / np.asarray(area_sr, dtype=float)
    large = background * large_patch_contrast(background)
    power = joint_exponent(background)
    # the larger of the two is taken out of the sum, so that no power overflows
    most = np.maximum(small, large)
    joint = (1.0 + (np.minimum(small, large) / most) ** power) ** (1.0 / power)
    return np.asarray(np.asarray(field_factor, dtype=float) * most * joint)


def contrast_threshold(
    luminance_cd_m2: ArrayLike, area_sr: ArrayLike, field_factor: ArrayLike = 2.0
) -> Floats:
    """Return the least contrast at which a patch is seen against a background.

    Examples
    --------
    >>> contrast_threshold(2e-4, [1e-6, 1e-4, 1e-2], 1.0).round(2)
    array([22.41,  0.4 ,  0.07])
    """
    increment = increment_threshold(luminance_cd_m2, area_sr, field_factor)
    return np.asarray(increment / np.asarray(luminance_cd_m2, dtype=float))
