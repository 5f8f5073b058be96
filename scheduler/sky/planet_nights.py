"""One planet, night by night: whether it shows, at dusk, at dawn, how high and how well."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..domain import SUN_DISTANCE_DEG, Kind, Target
from .ephemeris import Floats
from .horizon import lowest_true_deg
from .horizontal import altitude_azimuth
from .place import places_of
from .planets import looks_of
from .refraction import apparent_altitude_deg
from .season import SeasonSky, sidereal_deg
from .stretches import sample_times

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class PlanetNights:
    """What a planet does on each night of a season; arrays (nights,).

    Attributes
    ----------
    shows : It stands above the lowest altitude and the horizon at some time between civil dusk and dawn, and
        at least 12 degrees from the Sun.
    at_dusk, at_dawn : It does so when the Sun has gone 6 degrees down; when it is about to come up to that.
    highest_deg : Its highest apparent altitude while it shows; -90 where it does not. [deg]
    evening_deg : The same, before the observer's usual finish. [deg]
    disc_arcsec, magnitude, elongation_deg : How it looks at midnight. [arcsec, mag, deg]
    bright : The Sun never gets 6 degrees down.
    low : It never gets to the lowest altitude, day or night.
    """

    shows: Flags
    at_dusk: Flags
    at_dawn: Flags
    highest_deg: Floats
    evening_deg: Floats
    disc_arcsec: Floats
    magnitude: Floats
    elongation_deg: Floats
    bright: Flags
    low: Flags


def planet_nights_of(
    sky: SeasonSky, body: str, lowest_altitude_deg: float, finish_unix_s: ArrayLike | None = None
) -> PlanetNights:
    """Return what a planet does on each night.

    Parameters
    ----------
    sky : SeasonSky
        The season.
    body : str
        Which planet.
    lowest_altitude_deg : float
        Lowest apparent altitude worth looking at. [deg]
    finish_unix_s : float or array (nights,), optional
        When the observer usually stops; None is the middle of the night, NaN counts so too. [s]

    Raises
    ------
    UnknownName
        `body` is no planet.

    Notes
    -----
    Looked at every ten minutes: heights are good to 0.1 degrees, the dates to the night.
    """
    looks = looks_of(sky, [body])
    places = places_of(sky, [Target(body, Kind.PLANET, body=body)])
    moments = sample_times(sky.twilit_start_unix_s, sky.twilit_end_unix_s)
    night = np.arange(len(sky))[:, None]
    ra_deg, dec_deg = places.at(0, night, moments)
    altitude_deg, azimuth_deg = altitude_azimuth(sky.site, ra_deg, dec_deg, sidereal_deg(sky, night, moments))
    lowest_deg = lowest_true_deg(sky.site, azimuth_deg, lowest_altitude_deg, None)
    far = np.abs(looks.elongation_deg[0]) >= SUN_DISTANCE_DEG
    up = (altitude_deg > lowest_deg) & far[:, None]
    finish = sky.midnight_unix_s if finish_unix_s is None else np.asarray(finish_unix_s, np.float64)
    finish = np.where(np.isfinite(finish), finish, sky.midnight_unix_s)[:, None]
    seen_deg = apparent_altitude_deg(sky.site, altitude_deg)
    culmination_deg = 90.0 - np.abs(sky.site.latitude_deg - places.dec_of_date_deg[0])
    return PlanetNights(
        up.any(axis=1), up[:, 0], up[:, -1],
        np.where(up, seen_deg, -90.0).max(axis=1),
        np.where(up & (moments <= finish), seen_deg, -90.0).max(axis=1),
        looks.disc_arcsec[0], looks.magnitude[0], looks.elongation_deg[0],
        ~np.isfinite(sky.twilit_start_unix_s), culmination_deg < lowest_altitude_deg,
    )  # fmt: skip
