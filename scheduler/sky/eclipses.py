"""Lunar eclipses, contact by contact."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime

import numpy as np

from ..domain import Span
from .ephemeris import SPEED_OF_LIGHT_KM_S, Floats, ephemeris, moment_of, times_of
from .events import EventKind, between
from .heavens import aberrated
from .lights import MOON_RADIUS_KM
from .stretches import Margin, stretches_of

_EARTH_RADIUS_KM = 6378.137
_SUN_RADIUS_KM = 959.63 / 206264.806 * 149597870.7
"""A. Auwers, Astronomische Nachrichten 128 (1891) 361: 959.63" at 1 au, as almanacs still use."""

_DANJON = 1.01
"""A. Danjon, L'Astronomie 65 (1951) 51: the air raises the Earth's edge by 1/85 less the flattening at mid
latitudes, 1/594; the rule of NASA's Five Millennium Canon and of the French almanac."""

_REACH_S = 4.0 * 3600.0
_STEP_S = 300.0


@dataclass(frozen=True, slots=True)
class LunarEclipse:
    """The Moon's way through the Earth's shadow; all moments are the same all over the Earth.

    Attributes
    ----------
    kind : Penumbral, partial or total.
    greatest : When the Moon is nearest the shadow's axis, aware UTC.
    umbral_magnitude, penumbral_magnitude : Share of the Moon's diameter inside umbra and penumbra at the
        greatest; negative where it misses the umbra. [1]
    penumbral : From the first touch of the penumbra to the last.
    partial : While some of the Moon is in the umbra, totality included; None where it never is.
    total : While all of it is; None where it never is.
    """

    kind: EventKind
    greatest: datetime
    umbral_magnitude: float
    penumbral_magnitude: float
    penumbral: Span
    partial: Span | None
    total: Span | None


def eclipse_phases_of(first: date, last: date) -> tuple[LunarEclipse, ...]:
    """Return the Moon's eclipses with their contacts, in order of time; UTC dates, both included.

    Notes
    -----
    The shadow is a cone behind a round Earth enlarged by Danjon's rule; lists that enlarge the shadow itself
    by 1/50 stretch the umbral phases by some 20 s at either end and the penumbral by up to two minutes. The
    shadow's edge is soft: the eye places a contact to half a minute at best (common practice, no source).

    References
    ----------
    F. Espenak, J. Meeus, Five Millennium Canon of Lunar Eclipses, NASA/TP-2009-214172, section 1;
    Explanatory Supplement to the Astronomical Almanac, 3rd ed. (2013), section 11.2.3.
    """
    instants = _greatest_of(first, last)
    if not instants:
        return ()
    greatest = np.array([instant.timestamp() for instant in instants])
    moments = greatest[:, None] + np.arange(-_REACH_S, _REACH_S + 1.0, _STEP_S)
    sampled = _depths_deg(moments)
    ends = [stretches_of(moments, sampled[d], _margin(d), keep=1)[:, 0] for d in range(3)]
    magnitudes = _magnitudes(greatest)
    rows = (
        _eclipse(instant, magnitudes[:, row], *(_span(*ends[depth][row]) for depth in range(3)))
        for row, instant in enumerate(instants)
    )
    return tuple(eclipse for eclipse in rows if eclipse is not None)


def _greatest_of(first: date, last: date) -> list[datetime]:
    """Return when the Moon is nearest the axis at every full Moon that may be eclipsed."""
    from skyfield.eclipselib import lunar_eclipses

    times, _, _ = lunar_eclipses(*between(first, last), ephemeris())
    instants = [moment.astimezone(UTC).replace(tzinfo=UTC) for moment in times.utc_datetime()]
    return [instant for instant in instants if first <= instant.date() <= last]


def _eclipse(
    greatest: datetime, magnitudes: Floats, penumbral: Span | None, partial: Span | None, total: Span | None
) -> LunarEclipse | None:
    if penumbral is None:
        return None
    kind = EventKind.PENUMBRAL_ECLIPSE
    if partial:
        kind = EventKind.TOTAL_ECLIPSE if total else EventKind.PARTIAL_ECLIPSE
    return LunarEclipse(kind, greatest, float(magnitudes[0]), float(magnitudes[1]), penumbral, partial, total)


def _shadow_deg(unix_s: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return distance from the axis and radii of umbra, penumbra and Moon, all seen from the Earth. [deg]"""
    kernel = ephemeris()
    times = times_of(unix_s.ravel())
    earth = kernel["earth"].at(times)
    velocity_c = np.asarray(earth.velocity.km_per_s) / SPEED_OF_LIGHT_KM_S
    sun_km = aberrated(np.asarray(earth.observe(kernel["sun"]).xyz.km), velocity_c)
    moon_km = np.asarray((kernel["moon"].at(times) - earth).xyz.km)
    sun, moon = (np.sqrt((v**2).sum(axis=0)) for v in (sun_km, moon_km))
    across = np.sqrt((np.cross(sun_km, moon_km, axis=0) ** 2).sum(axis=0))
    off = np.arctan2(across, -(sun_km * moon_km).sum(axis=0))
    parallax = _DANJON * np.arcsin(_EARTH_RADIUS_KM / moon) + np.arcsin(_EARTH_RADIUS_KM / sun)
    disc = np.arcsin(_SUN_RADIUS_KM / sun)
    angles = (off, parallax - disc, parallax + disc, np.arcsin(MOON_RADIUS_KM / moon))
    off_deg, umbra_deg, penumbra_deg, moon_deg = (np.degrees(a).reshape(unix_s.shape) for a in angles)
    return off_deg, umbra_deg, penumbra_deg, moon_deg


def _depths_deg(unix_s: Floats) -> Floats:
    """Return how deep the Moon is: into the penumbra, into the umbra, wholly in the umbra. [deg]"""
    off_deg, umbra_deg, penumbra_deg, moon_deg = _shadow_deg(unix_s)
    return np.stack([penumbra_deg + moon_deg, umbra_deg + moon_deg, umbra_deg - moon_deg]) - off_deg


def _margin(depth: int) -> Margin:
    return lambda _, unix_s: np.asarray(_depths_deg(unix_s)[depth])


def _magnitudes(unix_s: Floats) -> Floats:
    """Return umbral and penumbral magnitudes, (2, times)."""
    off_deg, umbra_deg, penumbra_deg, moon_deg = _shadow_deg(unix_s)
    return (np.stack([umbra_deg, penumbra_deg]) + moon_deg - off_deg) / (2.0 * moon_deg)


def _span(start_unix_s: float, end_unix_s: float) -> Span | None:
    return Span(moment_of(start_unix_s), moment_of(end_unix_s)) if start_unix_s < end_unix_s else None
