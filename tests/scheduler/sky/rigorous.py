"""The judges of the sky's accuracy: pyerfa for places, plain sampling for windows. Nothing here is ours."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import erfa
import numpy as np
from astropy.utils import iers

from scheduler.domain import Kind, Site, Target
from scheduler.sky.ephemeris import Floats, times_of

JD_OF_1970 = 2440587.5

SITES = (
    Site("North", 55.0, -3.2, 100.0, "Europe/London", 21.0, 0.2),
    Site("South", -32.0, 116.1, 300.0, "Australia/Perth", 21.5, 0.15),
    Site("Equator", 0.0, -78.5, 2800.0, "America/Guayaquil", 21.5, 0.15),
    Site("Arctic", 69.6, 18.9, 50.0, "Europe/Oslo", 21.0, 0.2),
    Site("Antarctic", -77.8, 166.7, 30.0, "Antarctica/McMurdo", 22.0, 0.12),
)


def year_from(first: date, nights: int = 365) -> list[date]:
    return [first + timedelta(days=day) for day in range(nights)]


def random_targets(count: int, seed: int) -> tuple[list[Target], Floats, Floats]:
    """Fixed targets spread evenly over the whole sphere."""
    dice = np.random.default_rng(seed)
    ra_deg = dice.uniform(0.0, 360.0, count)
    dec_deg = np.degrees(np.arcsin(dice.uniform(-1.0, 1.0, count)))
    return fixed_targets(ra_deg.tolist(), dec_deg.tolist()), ra_deg, dec_deg


def fixed_targets(ra_deg: Sequence[float], dec_deg: Sequence[float]) -> list[Target]:
    pairs = enumerate(zip(ra_deg, dec_deg, strict=True))
    return [Target(f"target {i}", Kind.DEEP_SKY, ra, dec) for i, (ra, dec) in pairs]


def our_ut1_less_utc_s(unix_s: Floats) -> Floats:
    """The universal time our own chain uses."""
    return np.asarray(times_of(unix_s).dut1, np.float64)


def measured_ut1_less_utc_s(unix_s: Floats) -> Floats:
    """Universal time as measured, from the tables bundled with astropy; nothing is fetched."""
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        table = iers.IERS_Auto.open()
        return np.asarray(table.ut1_utc(unix_s / 86400.0 + JD_OF_1970, 0).to_value("s"), np.float64)


def erfa_altitude_azimuth_deg(
    site: Site, ra_deg: Floats, dec_deg: Floats, unix_s: Floats, ut1_less_utc_s: Floats, pressure_hpa: float
) -> tuple[Floats, Floats]:
    """Observed altitude and azimuth by the full IAU 2006/2000A chain, light deflection included."""
    azimuth, zenith, *_ = erfa.atco13(
        np.radians(ra_deg), np.radians(dec_deg), 0.0, 0.0, 0.0, 0.0, JD_OF_1970, unix_s / 86400.0,
        ut1_less_utc_s, np.radians(site.longitude_deg), np.radians(site.latitude_deg), site.elevation_m,
        0.0, 0.0, pressure_hpa, 10.0, 0.0, 0.55,
    )  # fmt: skip
    return 90.0 - np.degrees(zenith), np.degrees(azimuth) % 360.0
