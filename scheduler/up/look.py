"""One moment of one night, and what stands where then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from ..domain import Site
from ..domain.opportunity import Floats
from ..sky import SeasonSky, altitude_azimuth, apparent_altitude_deg, constellation_of, sidereal_deg, sky_of
from ..sky.ephemeris import check_covered
from ..sky.horizon import lowest_clear_deg
from ..sky.place import fixed_places_deg
from ..sky.season import noons_of


@dataclass(frozen=True, slots=True)
class Up:
    """Something above the horizon: what and where. [deg, mag]"""

    name: str
    what: str
    constellation: str
    altitude_deg: float
    azimuth_deg: float
    magnitude: float | None


def sky_at(site: Site, moment: datetime) -> SeasonSky:
    """Return the sky of the night, noon to noon, that holds a moment."""
    day = moment.astimezone(site.local).date()
    check_covered(day, day)
    evenings = [day + timedelta(days=step) for step in (-1, 0, 1)]
    noon, next_noon = noons_of(site, evenings)
    within = (noon <= moment.timestamp()) & (moment.timestamp() < next_noon)
    return sky_of(site, [evenings[int(within.argmax())]])


class Look:
    """One moment of one night, and what stands where then."""

    def __init__(self, sky: SeasonSky, unix_s: float) -> None:
        self.sky, self.unix_s = sky, unix_s
        self.times = np.array([unix_s])
        self._sidereal_deg = float(sidereal_deg(sky, 0, unix_s))

    def of_date(
        self, names: Sequence[str], whats: Sequence[str], ra_of_date_deg: Floats, dec_of_date_deg: Floats,
        magnitudes: Sequence[float | None],
    ) -> list[Up]:  # fmt: skip
        """Return what stands at places of date, above the horizon or below, an entry each. [deg, mag]"""
        site = self.sky.site
        true_deg, azimuth_deg = altitude_azimuth(site, ra_of_date_deg, dec_of_date_deg, self._sidereal_deg)
        altitude_deg = apparent_altitude_deg(site, true_deg)
        return [
            Up(*one) for one in zip(
                names, whats, self._constellations(ra_of_date_deg, dec_of_date_deg), altitude_deg.tolist(),
                azimuth_deg.tolist(), magnitudes, strict=True,
            )
        ]  # fmt: skip

    def fixed(
        self, names: Sequence[str], whats: Sequence[str], ra_deg: Floats, dec_deg: Floats,
        magnitudes: Sequence[float | None],
    ) -> list[Up]:  # fmt: skip
        """Return what stands at ICRS places, an entry each. [deg, mag]"""
        ra_of_date_deg, dec_of_date_deg = fixed_places_deg(self.sky, ra_deg, dec_deg)
        return self.of_date(names, whats, ra_of_date_deg[:, 0], dec_of_date_deg[:, 0], magnitudes)

    def clear(self, one: Up, lowest_deg: float) -> bool:
        """Tell whether something stands at least so high, and above what is in the way there."""
        return one.altitude_deg >= max(lowest_deg, float(lowest_clear_deg(self.sky.site, one.azimuth_deg)))

    def _constellations(self, ra_of_date_deg: Floats, dec_of_date_deg: Floats) -> list[str]:
        ra, dec = np.radians(ra_of_date_deg), np.radians(dec_of_date_deg)
        of_date = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
        x, y, z = self.sky.rotation[:, :, 0].T @ of_date
        ra_deg, dec_deg = np.degrees(np.arctan2(y, x)) % 360.0, np.degrees(np.arctan2(z, np.hypot(x, y)))
        return [str(name) for name in constellation_of(ra_deg, dec_deg)]
