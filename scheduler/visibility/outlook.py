"""How targets stand before the eye at given moments: altitude, Moon, Sun, and the sky behind them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..sky.place import Places, altitude_azimuth, apparent_altitude_deg, separation_deg
from ..sky.season import SeasonSky, moon_at, sidereal_deg, sun_at
from .brightness import airmass, dark_sky_nl, moonlight_nl, to_sky_brightness, twilight_nl

Ints: TypeAlias = NDArray[np.int64]
Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Outlook:
    """How targets stand at moments; all arrays have the shape of the moments asked about.

    Attributes
    ----------
    ra_of_date_deg, dec_of_date_deg : Apparent place. [deg]
    altitude_deg, azimuth_deg : Refracted altitude; azimuth north through east. [deg]
    moon_altitude_deg, moon_separation_deg : Of the Moon, and from it. [deg]
    moon_lit_fraction : Lit part of its disc. [0..1]
    sun_altitude_deg : Of the Sun's centre. [deg]
    sky_brightness : Behind the target, moonlight and twilight included. [mag/arcsec2]
    contrast_lost_mag : Brightening of that sky over the site's dark zenith, plus dimming of the target
        by air beyond that of the zenith. [mag]
    """

    ra_of_date_deg: Floats
    dec_of_date_deg: Floats
    altitude_deg: Floats
    azimuth_deg: Floats
    moon_altitude_deg: Floats
    moon_separation_deg: Floats
    moon_lit_fraction: Floats
    sun_altitude_deg: Floats
    sky_brightness: Floats
    contrast_lost_mag: Floats


def outlook_of(sky: SeasonSky, places: Places, target: Ints, night: Ints, unix_s: Floats) -> Outlook:
    """Return how targets stand on nights (both by position in `places` and `sky`) at moments.

    `target` and `night` broadcast against `unix_s`.
    """
    site = sky.site
    ra_deg, dec_deg = places.at(target, night, unix_s)
    true_deg, azimuth_deg = altitude_azimuth(site, ra_deg, dec_deg, sidereal_deg(sky, night, unix_s))
    altitude_deg = apparent_altitude_deg(site, true_deg)
    moon, sun = moon_at(sky, unix_s), sun_at(sky, unix_s)
    apart_deg = separation_deg(ra_deg, dec_deg, moon.ra_of_date_deg, moon.dec_of_date_deg)
    behind_nl = (
        dark_sky_nl(site.sky_brightness, site.extinction_mag, altitude_deg)
        + moonlight_nl(moon.phase_angle_deg, apart_deg, moon.altitude_deg, altitude_deg, site.extinction_mag)
        + twilight_nl(sun.altitude_deg)
    )
    sky_brightness = to_sky_brightness(behind_nl)
    dimmed_mag = site.extinction_mag * (airmass(altitude_deg) - 1.0)
    return Outlook(
        ra_deg, dec_deg, altitude_deg, azimuth_deg, moon.altitude_deg, apart_deg, moon.lit_fraction,
        sun.altitude_deg, sky_brightness, site.sky_brightness - sky_brightness + dimmed_mag,
    )  # fmt: skip
