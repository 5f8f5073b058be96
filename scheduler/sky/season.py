"""The sky of a season at one site: START READING HERE.

Everything slow is done once, in `sky_of`; what follows reads arrays, one entry per night.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..domain import Darkness, Night, Site, Span
from ..errors import InvalidValue
from .ephemeris import DAY_S, SPEED_OF_LIGHT_KM_S, Floats, check_covered, ephemeris, moment_of, times_of
from .heavens import TURN_DEG_PER_S, Heavens, heavens_between
from .lights import (
    MoonSight,
    SunSight,
    lit_fraction_of,
    moon_limb_deg,
    moon_seen,
    phase_angle_of,
    sun_altitude_deg,
    sun_seen,
)
from .stretches import Ints, sample_times, stretches_of

STAGES = (Darkness.NIGHT, Darkness.DEEP_TWILIGHT, Darkness.ASTRONOMICAL, Darkness.NAUTICAL, Darkness.DAYLIGHT)
"""Darkest first; `SeasonSky.stage` counts along it."""

SUNSET_DEG = -50.0 / 60.0
"""Altitude of the Sun's centre at sunset: semidiameter 16' and refraction 34', as in almanacs. [deg]"""

_LARGEST_CLOCK_ERROR_S = 4.0 * 3600.0
_LONGEST_SEASON = timedelta(days=4018)
"""What lies between the evenings is computed too; beyond this its memory would surprise."""


@dataclass(frozen=True, eq=False)
class SeasonSky:
    """What the sky does on each night of a season; arrays (nights,) unless said otherwise, NaN where none.

    Attributes
    ----------
    site, evenings : Whose sky, and which nights.
    noon_unix_s, midnight_unix_s, next_noon_unix_s : A night runs from noon to noon; midnight is half-way. [s]
    stage : How dark it gets, counted along `STAGES`. int
    dark_start_unix_s, dark_end_unix_s : The dark window of that stage; NaN under the midnight sun. [s]
    twilit_start_unix_s, twilit_end_unix_s : The Sun is below -6 degrees. [s]
    sunset_unix_s, sunrise_unix_s : Upper limb on the ideal horizon; noon to noon in the polar night. [s]
    moon_up_unix_s : When the Moon's upper limb is above the ideal horizon. (nights, 2, 2) [s]
    lit_fraction, phase_angle_deg, waxing : The Moon at midnight, seen from the Earth's centre.
    moonless_min : Minutes of the dark window with the Moon down. [min]
    rotation : Matrices from ICRS to the true equator and equinox of date, at midnight. (3, 3, nights)
    earth_velocity_c : The Earth's velocity as a fraction of the speed of light, ICRS. (3, nights)
    sidereal_at_midnight_deg : Local apparent sidereal time. [deg, 0..360]
    heavens : Sun, Moon and the Earth's turning at any moment of the season.
    """

    site: Site
    evenings: tuple[date, ...]
    noon_unix_s: Floats
    midnight_unix_s: Floats
    next_noon_unix_s: Floats
    stage: Ints
    dark_start_unix_s: Floats
    dark_end_unix_s: Floats
    twilit_start_unix_s: Floats
    twilit_end_unix_s: Floats
    sunset_unix_s: Floats
    sunrise_unix_s: Floats
    moon_up_unix_s: Floats
    lit_fraction: Floats
    phase_angle_deg: Floats
    waxing: NDArray[np.bool_]
    moonless_min: Floats
    rotation: Floats
    earth_velocity_c: Floats
    sidereal_at_midnight_deg: Floats
    heavens: Heavens

    def __len__(self) -> int:
        return len(self.evenings)

    @property
    def nights(self) -> tuple[Night, ...]:
        """The season as nouns, one night per evening."""
        return tuple(self._night(index) for index in range(len(self)))

    def _night(self, index: int) -> Night:
        return Night(
            evening=self.evenings[index],
            darkness=STAGES[self.stage[index]],
            dark=_span(self.dark_start_unix_s[index], self.dark_end_unix_s[index]),
            twilit=_span(self.twilit_start_unix_s[index], self.twilit_end_unix_s[index]),
            moon_lit_fraction=float(self.lit_fraction[index]),
            moon_phase_angle_deg=float(self.phase_angle_deg[index]),
            moon_waxing=bool(self.waxing[index]),
            moon_up=tuple(s for s in (_span(*ends) for ends in self.moon_up_unix_s[index]) if s),
            moonless_min=float(self.moonless_min[index]),
        )


def sky_of(site: Site, evenings: Sequence[date]) -> SeasonSky:
    """Return what the sky does on each of these nights at a site.

    Parameters
    ----------
    site : Site
        Where the observer stands.
    evenings : sequence of dates
        Local dates of the evenings, in any order.

    Raises
    ------
    OutsideEphemeris
        An evening lies outside 1900-2053.
    InvalidValue
        There is no evening, or they are more than eleven years apart.

    Notes
    -----
    A night runs from local noon to local noon, which is 23 or 25 hours where clocks change and nothing at
    all on a date the zone skipped. Where the zone's noon is more than four hours off the mean Sun (a clock
    kept on UTC far from Greenwich), the mean Sun's noon nearest to it is taken, so that an evening always
    comes first and its morning after.
    """
    if not evenings:
        raise InvalidValue("evenings", evenings, "at least one evening")
    check_covered(min(evenings), max(evenings))
    if max(evenings) - min(evenings) > _LONGEST_SEASON:
        raise InvalidValue(
            "evenings", f"{min(evenings)} to {max(evenings)}", "evenings of at most eleven years"
        )
    noon, next_noon = noons_of(site, evenings)
    midnight = 0.5 * (noon + next_noon)
    heavens = heavens_between(float(noon.min()), float(next_noon.max()))
    stage, dark, twilit, sun_down = _sun_stages(site, heavens, noon, next_noon)
    moon_up = _moon_up(site, heavens, noon, next_noon)
    sun_km, moon_km = heavens.sun_km(midnight), heavens.moon_km(midnight)
    phase_angle_deg = phase_angle_of(sun_km, moon_km)
    velocity = np.asarray(ephemeris()["earth"].at(times_of(midnight)).velocity.km_per_s)
    sidereal_deg = (heavens.greenwich_sidereal_deg(midnight) + site.longitude_deg) % 360.0
    return SeasonSky(
        site, tuple(evenings), noon, midnight, next_noon, stage, dark[:, 0], dark[:, 1], twilit[:, 0],
        twilit[:, 1], sun_down[:, 0], sun_down[:, 1], moon_up, lit_fraction_of(phase_angle_deg),
        phase_angle_deg, _waxing(sun_km, moon_km), _moonless_min(dark, moon_up),
        heavens.rotation_at(midnight), velocity / SPEED_OF_LIGHT_KM_S, sidereal_deg, heavens,
    )  # fmt: skip


def sidereal_deg(sky: SeasonSky, night: ArrayLike, unix_s: ArrayLike) -> Floats:
    """Return local apparent sidereal time on nights (by position) at times, 0..360. [deg]

    Counted evenly from the night's midnight: nutation turns it by less than 0.2" until noon.
    """
    index = np.asarray(night)
    since_s = np.asarray(unix_s, np.float64) - sky.midnight_unix_s[index]
    return np.asarray((sky.sidereal_at_midnight_deg[index] + since_s * TURN_DEG_PER_S) % 360.0)


def sun_at(sky: SeasonSky, unix_s: ArrayLike) -> SunSight:
    """Return the Sun as seen from the site at times of any shape within the season; NaN gives NaN."""
    return sun_seen(sky.site, sky.heavens, _within_season(sky, unix_s))


def moon_at(sky: SeasonSky, unix_s: ArrayLike) -> MoonSight:
    """Return the Moon as seen from the site at times of any shape within the season; NaN gives NaN."""
    return moon_seen(sky.site, sky.heavens, _within_season(sky, unix_s))


def _within_season(sky: SeasonSky, unix_s: ArrayLike) -> Floats:
    times = np.asarray(unix_s, np.float64)
    low, high = sky.heavens.start_unix_s - DAY_S, sky.heavens.end_unix_s + DAY_S
    if bool(((times < low) | (times > high)).any()):
        raise InvalidValue("unix_s", "a time outside the season", "times of the season's nights")
    return times


def noons_of(site: Site, evenings: Sequence[date]) -> tuple[Floats, Floats]:
    """Return noon before and after each evening. [unix s]"""
    both = [[_noon(site, evening + timedelta(days=day)) for day in (0, 1)] for evening in evenings]
    noons = np.asarray(both, np.float64)
    return noons[:, 0].copy(), noons[:, 1].copy()


def _noon(site: Site, day: date) -> float:
    clock_s = datetime.combine(day, time(12), tzinfo=site.local).timestamp()
    mean_sun_s = 0.5 * DAY_S - site.longitude_deg * 240.0
    early_s = (clock_s - mean_sun_s + 0.5 * DAY_S) % DAY_S - 0.5 * DAY_S
    return clock_s if abs(early_s) <= _LARGEST_CLOCK_ERROR_S else clock_s - early_s


def _sun_stages(
    site: Site, heavens: Heavens, noon: Floats, next_noon: Floats
) -> tuple[Ints, Floats, Floats, Floats]:
    """Return the stage, its dark window, the twilit part and the Sun-down part, (nights, 2) each."""
    moments = sample_times(noon, next_noon)
    altitude_deg = sun_altitude_deg(site, heavens, moments)

    def below(limit_deg: float) -> Floats:
        return stretches_of(
            moments, limit_deg - altitude_deg,
            lambda _, unix_s: limit_deg - sun_altitude_deg(site, heavens, unix_s), keep=1,
        )[:, 0]  # fmt: skip

    windows = np.stack([below(s.sun_altitude_deg) for s in STAGES[:-1]])
    reached = np.isfinite(windows[:, :, 0])
    stage = np.where(reached.any(axis=0), reached.argmax(axis=0), len(STAGES) - 1)
    dark = windows[np.minimum(stage, len(STAGES) - 2), np.arange(len(noon))]
    return stage, dark, windows[-1], below(SUNSET_DEG)


def _moon_up(site: Site, heavens: Heavens, noon: Floats, next_noon: Floats) -> Floats:
    moments = sample_times(noon, next_noon)
    limb_deg = moon_limb_deg(site, heavens, moments)
    return stretches_of(moments, limb_deg, lambda _, unix_s: moon_limb_deg(site, heavens, unix_s), keep=2)


def _waxing(sun_km: Floats, moon_km: Floats) -> NDArray[np.bool_]:
    """Tell whether the Moon is east of the Sun; the ecliptic's pole is near enough of 2000."""
    obliquity = np.radians(23.4393)
    pole = np.array([0.0, -np.sin(obliquity), np.cos(obliquity)])
    return np.asarray(pole @ np.cross(sun_km, moon_km, axis=0) > 0.0)


def _moonless_min(dark: Floats, moon_up: Floats) -> Floats:
    shared_s = np.minimum(dark[:, None, 1], moon_up[:, :, 1]) - np.maximum(dark[:, None, 0], moon_up[:, :, 0])
    moonlit_s = np.clip(np.nan_to_num(shared_s), 0.0, None).sum(axis=1)
    return np.asarray(np.clip(np.nan_to_num(dark[:, 1] - dark[:, 0]) - moonlit_s, 0.0, None) / 60.0)


def _span(start_unix_s: float, end_unix_s: float) -> Span | None:
    return Span(moment_of(start_unix_s), moment_of(end_unix_s)) if start_unix_s < end_unix_s else None
