"""Apparent places of targets, night by night."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from ..domain import Site, Target
from .constellation import constellation_of
from .ephemeris import Floats
from .horizontal import altitude_azimuth, separation_deg
from .moving import tracks_of
from .refraction import apparent_altitude_deg, refraction_bennett_deg, true_altitude_deg
from .season import SeasonSky
from .stretches import Ints

__all__ = [
    "Places", "altitude_azimuth", "apparent_altitude_deg", "constellation_of", "places_of",
    "refraction_bennett_deg", "separation_deg", "true_altitude_deg",
]  # fmt: skip


@dataclass(frozen=True, eq=False)
class Places:
    """Apparent places of targets at each night's midnight, and how those that move go on.

    Attributes
    ----------
    site : Where they are seen from.
    midnight_unix_s : Middle of each night. (nights,) [s]
    ra_of_date_deg, dec_of_date_deg : At midnight, seen from the Earth's centre, true equator and equinox of
        date, aberration included. (targets, nights) [deg, 0..360 and -90..90]
    moving : Positions of the targets that move among the stars. int (moving,)
    ra_rate_deg_h, dec_rate_deg_h : Their motion at midnight. (moving, nights) [deg/h]
    ra_bend_deg_h2, dec_bend_deg_h2 : Half their acceleration. (moving, nights) [deg/h^2]
    parallax_deg : Their horizontal parallax. (moving, nights) [deg]
    """

    site: Site
    midnight_unix_s: Floats
    ra_of_date_deg: Floats
    dec_of_date_deg: Floats
    moving: Ints
    ra_rate_deg_h: Floats
    dec_rate_deg_h: Floats
    ra_bend_deg_h2: Floats
    dec_bend_deg_h2: Floats
    parallax_deg: Floats

    def __len__(self) -> int:
        return len(self.ra_of_date_deg)

    def at(self, target: ArrayLike, night: ArrayLike, unix_s: ArrayLike) -> tuple[Floats, Floats]:
        """Return right ascension (0..360) and declination of date at moments of the nights. [deg]

        Parameters
        ----------
        target, night : int or int arrays
            Positions in the wish-list and the season; shapes that broadcast with the times.
        unix_s : float or array
            Moments of those nights. [s]

        Notes
        -----
        For what moves, a parabola through midnight and twelve hours before and after: Mercury keeps within
        1.5" of it, the other planets within 0.4", the Moon within 23" (in 2025, when it goes farthest north
        and south; 11" in 2015 and 2033). Altitude less parallax times the cosine of altitude is then within
        0.02 degrees of the Moon's topocentric altitude. A fixed target stays where it is at midnight.
        """
        rows, columns = np.broadcast_arrays(np.asarray(target), np.asarray(night))
        moments = np.asarray(unix_s, np.float64)
        shape = np.broadcast_shapes(rows.shape, moments.shape)
        ra_deg, dec_deg = self.ra_of_date_deg[rows, columns], self.dec_of_date_deg[rows, columns]
        slot = self._slot[rows]
        if not slot.any():
            return np.array(np.broadcast_to(ra_deg, shape)), np.array(np.broadcast_to(dec_deg, shape))
        hours = (moments - self.midnight_unix_s[columns]) / 3600.0
        ra_rate, ra_bend, dec_rate, dec_bend = self._motion[:, slot, columns]
        ra_deg = ra_deg + hours * (ra_rate + hours * ra_bend)
        dec_deg = dec_deg + hours * (dec_rate + hours * dec_bend)
        return np.asarray(ra_deg % 360.0), np.asarray(np.broadcast_to(dec_deg, shape))

    @cached_property
    def _slot(self) -> Ints:
        """Each target's place among those that move, counted from 1; 0 for what does not. (targets,)"""
        slot = np.zeros(len(self), dtype=np.int64)
        slot[self.moving] = 1 + np.arange(len(self.moving))
        return slot

    @cached_property
    def _motion(self) -> Floats:
        """Rates and bends by slot: ra and its bend, dec and its bend; the first slot rests."""
        moves = np.stack([self.ra_rate_deg_h, self.ra_bend_deg_h2, self.dec_rate_deg_h, self.dec_bend_deg_h2])
        return np.concatenate([np.zeros((4, 1, moves.shape[2])), moves], axis=1)

    def horizontal_parallax_deg(self, target: ArrayLike, night: ArrayLike) -> Floats:
        """Return how much lower a target on the horizon stands for the site than geocentrically. [deg]

        `target` and `night` are positions whose shapes broadcast; 0 for what does not move.
        """
        known = np.vstack([np.zeros(len(self.midnight_unix_s)), self.parallax_deg])
        return np.asarray(known[self._slot[np.asarray(target)], np.asarray(night)])


def places_of(sky: SeasonSky, targets: Sequence[Target]) -> Places:
    """Return the apparent places of targets on every night of the season.

    Parameters
    ----------
    sky : SeasonSky
        The season.
    targets : sequence of Target
        Every kind, in any mix: fixed ones by their ICRS place, planets and the Moon by name, minor bodies by
        their elements.

    Raises
    ------
    UnknownName
        A target's `body` is neither a planet nor the Moon.

    Notes
    -----
    Included: precession, nutation, aberration; for what moves light-time. Left out: proper motion (no target
    carries one), annual parallax, and light deflection (0.01" beyond 45 degrees from the Sun).
    """
    moving = [row for row, target in enumerate(targets) if target.moves]
    fixed = [row for row, target in enumerate(targets) if not target.moves]
    ra_deg = np.empty((len(targets), len(sky)))
    dec_deg = np.empty((len(targets), len(sky)))
    icrs_deg = np.array([[targets[row].ra_deg, targets[row].dec_deg] for row in fixed], np.float64)
    ra_deg[fixed], dec_deg[fixed] = fixed_places_deg(sky, *icrs_deg.reshape(-1, 2).T)
    tracks = tracks_of(sky, [targets[row] for row in moving])
    ra_deg[moving], dec_deg[moving] = tracks[:2]
    return Places(sky.site, sky.midnight_unix_s, ra_deg, dec_deg, np.array(moving, np.int64), *tracks[2:])


def fixed_places_deg(sky: SeasonSky, ra_deg: ArrayLike, dec_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Return right ascension (0..360) and declination of date of ICRS places, (places, nights) each. [deg]

    Aberration in closed form: to the place's direction add the Earth's velocity in units of light's, then
    turn into the frame of date; both are one matrix product for the whole season.
    """
    ra, dec = np.radians(np.asarray(ra_deg, np.float64)), np.radians(np.asarray(dec_deg, np.float64))
    direction = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)], axis=-1)
    turned = np.einsum("ijn,jn->in", sky.rotation, sky.earth_velocity_c)
    nights = sky.rotation.shape[2]
    x, y, z = (direction @ sky.rotation[axis] + turned[axis] for axis in range(3))
    length = np.sqrt(x * x + y * y + z * z)
    east_deg = np.degrees(np.arctan2(y, x))
    east_deg += np.where(east_deg < 0.0, 360.0, 0.0)
    dec_of_date_deg = np.degrees(np.arcsin(np.divide(z, length, out=length)))
    return east_deg.reshape(-1, nights), dec_of_date_deg.reshape(-1, nights)
