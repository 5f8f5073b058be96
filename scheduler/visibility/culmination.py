"""How high targets come from a site, and how well they show there on a dark night with the Moon down."""

from __future__ import annotations

import numpy as np

from ..domain import Kind
from ..domain.opportunity import Floats
from ..sky import apparent_altitude_deg
from .brightness import airmass, dark_sky_nl, to_sky_brightness
from .prospect import Prospect
from .reach import point_merit

HIGH_DEG = 30.0
"""What culminates so high is not lost in the air (common practice, no source). [deg]"""


def culminations_deg(prospect: Prospect, row: int) -> Floats:
    """Return the true altitude at which a target crosses the meridian on each night. (nights,) [deg]"""
    declination_deg = prospect.places.dec_of_date_deg[row]
    return np.asarray(90.0 - np.abs(prospect.sky.site.latitude_deg - declination_deg))


def best_on_high(prospect: Prospect, row: int) -> float:
    """Return a target's merit at its highest in the dark with the Moon down, the best of all nights, 0..1.

    Of what shows by its light alone; anything else has 1, for its light is not what it lacks.
    """
    target, site = prospect.targets[row], prospect.sky.site
    altitude_deg = apparent_altitude_deg(site, culminations_deg(prospect, row))
    air = np.asarray(airmass(altitude_deg))
    sky = to_sky_brightness(dark_sky_nl(site.sky_brightness, site.extinction_mag, altitude_deg))
    if target.kind is Kind.MINOR_BODY:
        taken_mag = site.extinction_mag * air
        return float(point_merit(prospect.magnitude[row], sky, taken_mag, prospect.reach(row)).max())
    if target.kind in (Kind.DEEP_SKY, Kind.DOUBLE_STAR, Kind.VARIABLE_STAR):
        steady = np.maximum(air, 1.0) ** -prospect.settings.blur_per_air
        return float((prospect.table.at(np.array(row), sky, air) * steady).max())
    return 1.0
