"""A site's horizon as a curve in hour angle and declination, and where targets cross it.

The curve is the same for every target and night: it is drawn once, in steps fine enough to be straight, and a
target crosses it wherever its declination circle does. Walls are ordinary pieces of the curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..domain import Horizon, Site
from .ephemeris import Floats
from .refraction import true_altitude_deg
from .stretches import Ints

_STEP_DEG = 0.1
"""A chord this long strays some 0.1" from its arc."""


@dataclass(frozen=True, eq=False)
class HorizonCurve:
    """The lowest useful altitude all round, as without an atmosphere, closed through north.

    Attributes
    ----------
    nodes : Unit vectors, x to the meridian, y to the west, z to the pole; azimuth rises along them. (3, n)
    latitude_deg : Of the site. [deg]
    north_deg, south_deg : True altitude of the curve due north and south. [deg]
    """

    nodes: Floats
    latitude_deg: float
    north_deg: float
    south_deg: float


def lowest_clear_deg(site: Site, azimuth_deg: ArrayLike) -> Floats:
    """Return the apparent altitude below which something stands in the way, 0 where nothing does. [deg]

    >>> from scheduler.domain import Horizon, Site
    >>> hedge = Horizon(azimuth_deg=(90.0, 180.0), altitude_deg=(10.0, 20.0))
    >>> site = Site("Garden", 50.0, 0.0, 0.0, "UTC", 21.5, 0.2, hedge)
    >>> lowest_clear_deg(site, [135.0, 0.0]).round(2).tolist()
    [15.0, 13.33]
    """
    azimuth = np.asarray(azimuth_deg, np.float64) % 360.0
    return np.asarray(np.interp(azimuth, *_profile(site)))


def lowest_true_deg(
    site: Site, azimuth_deg: ArrayLike, lowest_altitude_deg: ArrayLike, pressure_hpa: float | None
) -> Floats:
    """Return the true altitude to be reached at an azimuth: the higher of limit and profile. [deg]"""
    lowest_deg = np.maximum(lowest_clear_deg(site, azimuth_deg), lowest_altitude_deg)
    return true_altitude_deg(site, lowest_deg, pressure_hpa)


def horizon_curve_of(site: Site, lowest_altitude_deg: float, pressure_hpa: float | None) -> HorizonCurve:
    """Return the curve of a site with a profile for targets wanted above `lowest_altitude_deg`."""
    azimuth_deg, apparent_deg = _fine_profile(site, lowest_altitude_deg)
    altitude = np.radians(true_altitude_deg(site, apparent_deg, pressure_hpa))
    azimuth, latitude = np.radians(azimuth_deg), np.radians(site.latitude_deg)
    north = np.cos(altitude) * np.cos(azimuth)
    nodes = np.stack([
        np.cos(latitude) * np.sin(altitude) - np.sin(latitude) * north,
        -np.cos(altitude) * np.sin(azimuth),
        np.sin(latitude) * np.sin(altitude) + np.cos(latitude) * north,
    ])  # fmt: skip
    nodes[:, -1] = nodes[:, 0]
    north_deg, south_deg = lowest_true_deg(site, [0.0, 180.0], lowest_altitude_deg, pressure_hpa)
    return HorizonCurve(nodes, site.latitude_deg, float(north_deg), float(south_deg))


def hour_angles_of(curve: HorizonCurve, dec_of_date_deg: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return from which to which hour angle targets stand above the curve. [deg]

    Parameters
    ----------
    dec_of_date_deg : array (targets, nights)
        Declinations that change little from night to night. [deg]

    Returns
    -------
    rises, sets : arrays (stretches, targets, nights)
        Rises from -180 to 180, each set up to a turn after its rise; NaN where there are fewer stretches.
    always : array (targets, nights)
        Whether the target stands above the curve all the time.
    """
    height = np.sin(np.radians(dec_of_date_deg))
    z, following = curve.nodes[2, :-1], curve.nodes[2, 1:]
    low, high = np.minimum(z, following), np.maximum(z, following)
    near = (low <= height.max(axis=1)[:, None]) & (high > height.min(axis=1)[:, None]) & (z != following)
    rises = _crossings(curve, height, *np.nonzero(near & (z > following)))
    sets = _crossings(curve, height, *np.nonzero(near & (z < following)))
    rises, sets = _paired(rises, sets)
    latitude = curve.latitude_deg
    limit = np.where(dec_of_date_deg < latitude, curve.south_deg, curve.north_deg)
    above = 90.0 - np.abs(latitude - dec_of_date_deg) > limit
    always = np.isnan(rises).all(axis=0) & above
    return rises, sets, np.asarray(always)


def _crossings(curve: HorizonCurve, height: Floats, target: Ints, piece: Ints) -> Floats:
    """Return the hour angles at which targets cross pieces of the curve, (crossings, targets, nights)."""
    begin, end = curve.nodes[:, piece], curve.nodes[:, piece + 1]
    rise = end[2] - begin[2]
    share = (height[target] - begin[2][:, None]) / rise[:, None]
    above_begin = begin[2][:, None] > height[target]
    crossed = above_begin != (end[2][:, None] > height[target])
    x, y = (begin[i][:, None] + share * (end[i] - begin[i])[:, None] for i in (0, 1))
    hour_angle_deg = np.where(crossed, np.degrees(np.arctan2(y, x)), np.nan)
    count = np.bincount(target, minlength=len(height))
    found = np.full((max(1, int(count.max(initial=1))), *height.shape), np.nan)
    rank = np.arange(len(target)) - np.repeat(np.cumsum(count) - count, count)
    found[rank, target] = hour_angle_deg
    found.sort(axis=0)
    most = int(np.isfinite(found).any(axis=(1, 2)).sum())
    return found[: max(1, most)]


def _paired(rises: Floats, sets: Floats) -> tuple[Floats, Floats]:
    """Give every rise the first set after it, across the turn of the clock where needed."""
    depth = max(len(rises), len(sets))
    rises, sets = (
        np.concatenate([a, np.full((depth - len(a), *a.shape[1:]), np.nan)]) for a in (rises, sets)
    )
    following = np.concatenate([sets[1:], np.full((1, *sets.shape[1:]), np.nan)])
    following = np.where(np.isnan(following), sets[0] + 360.0, following)
    paired = np.where(sets[0] > rises[0], sets, following)
    return rises, np.asarray(np.where(np.isnan(rises), np.nan, paired))


def _profile(site: Site) -> tuple[Floats, Floats]:
    """Return the profile's points from azimuth 0 to 360, closed through north."""
    horizon = site.horizon or Horizon((0.0,), (0.0,))
    azimuth_deg, altitude_deg = np.asarray(horizon.azimuth_deg), np.asarray(horizon.altitude_deg)
    gap_deg = azimuth_deg[0] + 360.0 - azimuth_deg[-1]
    share = (360.0 - azimuth_deg[-1]) / gap_deg if gap_deg > 0.0 else 0.0
    at_north = altitude_deg[-1] + share * (altitude_deg[0] - altitude_deg[-1])
    return (
        np.concatenate([[0.0], azimuth_deg, [360.0]]),
        np.concatenate([[at_north], altitude_deg, [at_north]]),
    )


def _fine_profile(site: Site, lowest_altitude_deg: float) -> tuple[Floats, Floats]:
    """Return the profile, not below the limit, in short pieces that end at every corner."""
    azimuth_deg, altitude_deg = _profile(site)
    pieces = []
    for a0, a1, h0, h1 in zip(azimuth_deg, azimuth_deg[1:], altitude_deg, altitude_deg[1:], strict=False):
        corners = [0.0, 1.0]
        if (h0 - lowest_altitude_deg) * (h1 - lowest_altitude_deg) < 0.0:
            corners.insert(1, (lowest_altitude_deg - h0) / (h1 - h0))
        for c0, c1 in pairwise(corners):
            longest_deg = max(a1 - a0, abs(h1 - h0)) * (c1 - c0)
            share = np.linspace(c0, c1, int(np.ceil(longest_deg / _STEP_DEG)) + 1)[:-1]
            pieces.append(np.stack([a0 + share * (a1 - a0), h0 + share * (h1 - h0)]))
    pieces.append(np.array([[360.0], [altitude_deg[-1]]]))
    joined = np.concatenate(pieces, axis=1)
    return joined[0], np.maximum(joined[1], lowest_altitude_deg)
