"""How targets stand before the eye at given moments: altitude, Moon, Sun, and the sky behind them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ..domain import Site
from ..domain.opportunity import Floats, Ints
from ..sky import (
    Places,
    SeasonSky,
    altitude_azimuth,
    apparent_altitude_deg,
    moon_at,
    sidereal_deg,
    sun_at,
)
from .brightness import airmass, dark_sky_nl, moonlight_nl, to_sky_brightness, twilight_nl


@dataclass(frozen=True, eq=False)
class Outlook:
    """How targets stand at moments; all arrays have the shape of the moments asked about.

    Attributes
    ----------
    ra_of_date_deg, dec_of_date_deg : Apparent place. [deg]
    altitude_deg : Refracted. [deg]
    moon_altitude_deg, moon_separation_deg : Of the Moon, and from it. [deg]
    moon_lit_fraction : Lit part of its disc. [0..1]
    sun_altitude_deg : Of the Sun's centre. [deg]
    sky_brightness : Behind the target, moonlight and twilight included. [mag/arcsec2]
    airmass : Air looked through, relative to the zenith.
    """

    ra_of_date_deg: Floats
    dec_of_date_deg: Floats
    altitude_deg: Floats
    moon_altitude_deg: Floats
    moon_separation_deg: Floats
    moon_lit_fraction: Floats
    sun_altitude_deg: Floats
    sky_brightness: Floats
    airmass: Floats

    def part(self, chosen: NDArray[np.bool_]) -> Outlook:
        """Return the outlook of some rows of the first axis."""
        return Outlook(*(getattr(self, field.name)[chosen] for field in fields(self)))


@dataclass(frozen=True, eq=False)
class Lights:
    """Sun and Moon at moments; all arrays have the shape of the moments asked about.

    Attributes
    ----------
    moon_ra_deg, moon_dec_deg : Apparent topocentric place of date. [deg]
    moon_altitude_deg, sun_altitude_deg : Of the centres. [deg]
    moon_phase_angle_deg : Sun-Moon-Earth. [deg]
    moon_lit_fraction : Lit part of its disc. [0..1]
    """

    moon_ra_deg: Floats
    moon_dec_deg: Floats
    moon_altitude_deg: Floats
    sun_altitude_deg: Floats
    moon_phase_angle_deg: Floats
    moon_lit_fraction: Floats


def lights_at(sky: SeasonSky, unix_s: Floats) -> Lights:
    """Return Sun and Moon at moments of the season, of any shape."""
    moon, sun = moon_at(sky, unix_s), sun_at(sky, unix_s)
    return Lights(
        moon.ra_of_date_deg, moon.dec_of_date_deg, moon.altitude_deg, sun.altitude_deg,
        moon.phase_angle_deg, moon.lit_fraction,
    )  # fmt: skip


class LightTable:
    """Sun and Moon of a season every four minutes, read between for millions of moments.

    Straight lines between the entries keep altitudes below 60 deg within 0.004 deg of `lights_at`; only at
    the zenith, where it matters least, do they cut the corner by up to 0.5 deg.
    """

    STEP_S = 240.0

    def __init__(self, sky: SeasonSky) -> None:
        self.noon_unix_s = sky.noon_unix_s
        steps = int(np.ceil((sky.next_noon_unix_s - sky.noon_unix_s).max() / self.STEP_S)) + 2
        moments = np.minimum(
            sky.noon_unix_s[:, None] + self.STEP_S * np.arange(steps), sky.next_noon_unix_s.max()
        )
        exact = lights_at(sky, moments)
        moon_ra_deg = np.unwrap(exact.moon_ra_deg, period=360.0, axis=1)
        self.table = np.stack([
            moon_ra_deg, exact.moon_dec_deg, exact.moon_altitude_deg, exact.sun_altitude_deg,
            exact.moon_phase_angle_deg, exact.moon_lit_fraction,
        ], axis=-1)  # fmt: skip

    def at(self, night: Ints, unix_s: Floats) -> Lights:
        """Return Sun and Moon on nights (by position) at moments of these nights; shapes that broadcast."""
        steps = (unix_s - self.noon_unix_s[night]) / self.STEP_S
        before = np.clip(steps.astype(np.int64), 0, self.table.shape[1] - 2)
        share = (steps - before)[..., None]
        read = self.table[night, before] * (1.0 - share) + self.table[night, before + 1] * share
        return Lights(*np.moveaxis(read, -1, 0))


class AirTable:
    """What a site's air does at every altitude, by fiftieths of a degree, to be read millions of times.

    Straight lines between the entries keep the apparent altitude within 0.0001 deg of the functions
    themselves, and the airmass within 0.001 above 1 deg and 0.02 down to the horizon.
    """

    LOWEST_DEG, STEP_DEG = -6.0, 0.02

    def __init__(self, site: Site) -> None:
        true_deg = np.arange(self.LOWEST_DEG, 90.0 + 2.5 * self.STEP_DEG, self.STEP_DEG)
        apparent_deg = apparent_altitude_deg(site, np.minimum(true_deg, 90.0))
        self.table = np.stack([apparent_deg, airmass(apparent_deg)])

    def at(self, true_deg: Floats) -> tuple[Floats, Floats]:
        """Return apparent altitude [deg] and airmass at true altitudes; lower ones count as -6 deg."""
        steps = (np.maximum(true_deg, self.LOWEST_DEG) - self.LOWEST_DEG) * (1.0 / self.STEP_DEG)
        before = steps.astype(np.int64)
        share = steps - before
        first, second = self.table
        return (
            first[before] + (first[before + 1] - first[before]) * share,
            second[before] + (second[before + 1] - second[before]) * share,
        )


def outlook_of(
    sky: SeasonSky,
    places: Places,
    target: Ints,
    night: Ints,
    unix_s: Floats,
    lights: Lights | None = None,
    air: AirTable | None = None,
) -> Outlook:
    """Return how targets stand on nights (both by position in `places` and `sky`) at moments.

    `target` and `night` broadcast against `unix_s`; without `lights` and `air` Sun, Moon, refraction and
    airmass are computed afresh.
    """
    site, lights = sky.site, lights or lights_at(sky, unix_s)
    ra_deg, dec_deg = places.at(target, night, unix_s)
    dec, latitude = np.radians(dec_deg), np.radians(site.latitude_deg)
    sin_dec, cos_dec = np.sin(dec), np.cos(dec)
    hour_angle = np.radians(sidereal_deg(sky, night, unix_s) - ra_deg)
    true_deg = _arc_deg(
        np.arcsin, np.sin(latitude) * sin_dec + np.cos(latitude) * cos_dec * np.cos(hour_angle)
    )
    if len(places.moving):  # the Moon stands up to a degree lower for the site than for the Earth's centre
        true_deg = true_deg - places.horizontal_parallax_deg(target, night) * np.cos(np.radians(true_deg))
    if air is None:
        altitude_deg = apparent_altitude_deg(site, true_deg)
        airmasses = airmass(altitude_deg)
    else:
        altitude_deg, airmasses = air.at(true_deg)
    moon_dec = np.radians(lights.moon_dec_deg)
    towards = cos_dec * np.cos(moon_dec) * np.cos(np.radians(ra_deg - lights.moon_ra_deg))
    apart_deg = _arc_deg(np.arccos, sin_dec * np.sin(moon_dec) + towards)
    behind_nl = (
        dark_sky_nl(site.sky_brightness, site.extinction_mag, altitude_deg)
        + _moonlight_nl(lights, apart_deg, altitude_deg, site.extinction_mag)
        + twilight_nl(lights.sun_altitude_deg)
    )
    return Outlook(
        ra_deg, dec_deg, altitude_deg, lights.moon_altitude_deg, apart_deg,
        lights.moon_lit_fraction, lights.sun_altitude_deg, to_sky_brightness(behind_nl),
        airmasses,
    )  # fmt: skip


def _moonlight_nl(lights: Lights, apart_deg: Floats, altitude_deg: Floats, extinction_mag: float) -> Floats:
    """Return the moonlight, worked out only where the Moon is up. [nL]"""
    found = np.zeros(apart_deg.shape)
    moon_deg = np.broadcast_to(lights.moon_altitude_deg, found.shape)
    phase_deg = np.broadcast_to(lights.moon_phase_angle_deg, found.shape)
    up = moon_deg > 0.0
    found[up] = moonlight_nl(phase_deg[up], apart_deg[up], moon_deg[up], altitude_deg[up], extinction_mag)
    return found


def azimuth_of(sky: SeasonSky, places: Places, target: Ints, night: Ints, unix_s: Floats) -> Floats:
    """Return the azimuth of targets on nights (both by position) at moments, north through east. [deg]"""
    ra_deg, dec_deg = places.at(target, night, unix_s)
    return altitude_azimuth(sky.site, ra_deg, dec_deg, sidereal_deg(sky, night, unix_s))[1]


def _arc_deg(arc: Callable[[Floats], Floats], ratio: Floats) -> Floats:
    """Return an angle from its sine or cosine; good to 0.000001 deg even where that hardly changes."""
    return np.asarray(np.degrees(arc(np.clip(ratio, -1.0, 1.0))))
