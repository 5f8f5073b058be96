"""Why a moment is a good one for a target, in words."""

from __future__ import annotations

from datetime import date, datetime, timedelta, tzinfo

import numpy as np

from ..domain import (
    JUPITER,
    Darkness,
    Kind,
    LightCurve,
    Night,
    Opportunities,
    Orbit,
    Phase,
    Shower,
    Sight,
    Span,
)
from ..domain.opportunity import Ints
from ..figures import percent
from ..sky.eclipses import eclipse_phases_of
from ..sky.ephemeris import moment_of
from ..sky.planets import looks_at as planet_looks_at
from .judgement import AnyFloats
from .occasions import zenithal_rate
from .prospect import Prospect

HALF_A_DAY = timedelta(hours=12)
"""A minimum or maximum farther off than this is told by its date, for no clock times it that well."""
LONG_PERIOD_D = 80.0
"""The maxima of stars this slow come weeks early or late and differ by magnitudes: the least period of Mira
variables in the General Catalogue of Variable Stars (from memory). [d]"""
PLAIN_MAG = 2.0
"""Planets brighter than this need no star to start from and no magnitude (our judgement). [mag]"""
SIDE_SHARE = 0.35
"""A feature this share of the Moon's radius off the middle lies to that side."""


def why_then(
    prospect: Prospect,
    opportunities: Opportunities,
    row: int,
    night: Night,
    time: Span,
    moment: datetime,
    sight: Sight,
    day: Ints | None = None,
) -> str:
    """Return why `time` in this opportunity is a good one: its share of the best, the Moon, what is left.

    Compares the opportunity with all the target has by merit, those of a shower by the meteors an hour;
    "as good" is nine tenths of it or more.
    The sight is that of `moment`, the middle of a visit or the best of a standby's window. Nights of one
    `day` count as one; without it each is its own. (nights,)
    """
    day = np.arange(opportunities.nights) if day is None else day
    own = opportunities.target == opportunities.target[row]
    target, nights = int(opportunities.target[row]), opportunities.night[own]
    shower = isinstance(prospect.targets[target].nature, Shower)
    merits, here = opportunities.merit[own], opportunities.merit[row]
    worth, worth_here = (_meteors(merits), _meteors(here)) if shower else (merits, here)
    share = float(worth_here / worth.max())
    show = "shows at its best from here" if share >= 0.95 else f"shows at {percent(share)} of its best"
    faint = prospect.targets[target].kind.faint
    return "; ".join([
        show,
        *_own_words(prospect, target, prospect.sky.evenings.index(night.evening), moment, sight),
        *(_sky_words(night, time, sight) if faint else ()),
        _left(day[nights[worth >= 0.9 * worth_here]], int(day[opportunities.night[row]])),
    ])  # fmt: skip


def _meteors(merit: AnyFloats) -> AnyFloats:
    """Return how many meteors an hour a merit stands for, over `shower_half_rate`; see `shower_merit`."""
    return np.asarray(merit / np.maximum(1.0 - merit, 1e-3))


def _left(as_good: Ints, today: int) -> str:
    """Return in words how many of the days on which it shows as well are still to come."""
    later = len(np.unique(as_good[as_good > today]))
    chances = {0: "no later free night is as good", 1: "one later free night as good"}
    return chances.get(later, f"{later} later free nights as good")


def _own_words(
    prospect: Prospect, target: int, night: int, moment: datetime, sight: Sight
) -> tuple[str, ...]:
    """Return what decides for a target of this kind on this night."""
    wish, slot = prospect.targets[target], int(prospect.occasions.slot[target])
    if wish.kind is Kind.PLANET:
        return _disc_words(str(wish.body), moment)
    if wish.kind is Kind.MOON_FEATURE:
        longitude_deg, latitude_deg = prospect.feature_deg[:, target]
        unix_s = np.array(moment.timestamp())
        high_deg = float(prospect.moonface.sun_altitude_deg(longitude_deg, latitude_deg, unix_s))
        where = place_on_the_moon(float(longitude_deg), float(latitude_deg))
        return (f"the Sun stands {round(high_deg)}° high over it", where)
    if isinstance(wish.nature, Orbit):
        return (f"magnitude {prospect.magnitude[target, night]:.1f}",)
    if slot < 0:
        return ()
    if isinstance(wish.nature, Shower):
        rate = float(zenithal_rate(wish.nature, np.array(moment.timestamp())))
        seen = prospect.settings.shower_half_rate * float(_meteors(np.asarray(sight.merit)))
        meteors = f"{seen:.0f} meteors" if seen >= 1.5 else "one meteor"
        return (f"about {meteors} an hour to be seen, zenithal rate {rate:.0f}",)
    peak_s, local = float(prospect.occasions.peak_unix_s[slot, night]), prospect.sky.site.local
    late_min = (moment.timestamp() - peak_s) / 60.0
    if isinstance(wish.nature, LightCurve):
        return (_light_words(wish.nature, moment, moment_of(peak_s), local),)
    if wish.kind is Kind.ECLIPSE and wish.body == JUPITER:
        return ("a moon's shadow on the disc all through",)
    if wish.kind is Kind.ECLIPSE:
        return (eclipse_words(moment_of(peak_s), local), _far_from("the greatest", late_min))
    return ()


def _light_words(curve: LightCurve, moment: datetime, peak: datetime, local: tzinfo) -> str:
    """Return how far a variable star is from its minimum or maximum, when that is, and how bright then.

    Of a slow star only what one can count on: about when, and how bright it mostly gets.
    """
    if curve.phase is Phase.MAXIMUM and (curve.period_d or 0.0) >= LONG_PERIOD_D:
        return _slow_words(curve, peak.astimezone(local))
    faint, bright = f"{curve.faintest_mag:.1f} mag", f"{curve.brightest_mag:.1f} mag"
    far = _far_from(f"its {curve.phase.value}", (moment - peak).total_seconds() / 60.0)
    at = peak.astimezone(local)
    when = f"at {at:%H:%M}" if abs(moment - peak) < HALF_A_DAY else f"on {at.day} {at:%b}"
    if curve.phase is Phase.MINIMUM:
        return f"{far}, {when} near {faint} ({bright} at its brightest)"
    return f"{far}, {when} near {bright} ({faint} at its faintest)"


def _slow_words(curve: LightCurve, at: datetime) -> str:
    mean = "" if curve.mean_maximum_mag is None else f"mostly near {curve.mean_maximum_mag:.1f} mag, "
    return f"maximum about {at.day} {at:%b}, weeks either way, {mean}at best {curve.brightest_mag:.1f} mag"


def eclipse_words(greatest: datetime, local: tzinfo) -> str:
    """Return which eclipse of the Moon is greatest at a moment and from when to when it lasts, by a clock.

    Examples
    --------
    >>> from datetime import UTC
    >>> eclipse_words(datetime(2028, 12, 31, 16, 52, tzinfo=UTC), UTC)
    'total eclipse in the night of 31 Dec 2028 to 1 Jan 2029, from 15:07 to 18:36, total from 16:16 to 17:27'
    """
    (eclipse,) = eclipse_phases_of(greatest.date(), greatest.date())
    during = eclipse.partial or eclipse.penumbral
    on = dates_of_night((eclipse.greatest.astimezone(local) - HALF_A_DAY).date())
    words = f"{eclipse.kind.value.split()[0]} eclipse in the night of {on}, {_clocks(during, local)}"
    if eclipse.partial is None:
        return f"{words}, only a slight shading"
    return words if eclipse.total is None else f"{words}, total {_clocks(eclipse.total, local)}"


def dates_of_night(evening: date) -> str:
    """Return which night begins on an evening, by the dates of both its ends.

    Examples
    --------
    >>> [dates_of_night(date(2027, *day)) for day in ((2, 20), (2, 28), (12, 31))]
    ['20 to 21 Feb 2027', '28 Feb to 1 Mar 2027', '31 Dec 2027 to 1 Jan 2028']
    """
    morning = evening + timedelta(days=1)
    month = "" if morning.month == evening.month else f" {evening:%b}"
    year = "" if morning.year == evening.year else f" {evening.year}"
    return f"{evening.day}{month}{year} to {morning.day} {morning:%b %Y}"


def _clocks(span: Span, local: tzinfo) -> str:
    start, end = (moment.astimezone(local) for moment in (span.start, span.end))
    return f"from {start:%H:%M} to {end:%H:%M}"


def _disc_words(body: str, moment: datetime) -> tuple[str, ...]:
    """Return how a planet looks: a faint one's magnitude, its disc, Saturn's rings, a phase that shows."""
    looks = planet_looks_at(body, np.array([moment.timestamp()]))[:, 0]
    disc_arcsec, magnitude, _, _, lit_fraction, tilt_deg = looks.tolist()
    said = [f"magnitude {magnitude:.1f}"] if magnitude > PLAIN_MAG else []
    said.append(f"disc {disc_arcsec:.0f}″")
    if np.isfinite(tilt_deg):
        said.append(f"rings open {abs(tilt_deg):.0f}°")
    if lit_fraction < 0.95:
        said.append(f"{percent(lit_fraction)} lit")
    return tuple(said)


def place_on_the_moon(longitude_deg: float, latitude_deg: float) -> str:
    """Return where on the disc a feature lies, as a chart with north up and Mare Crisium at the right has it.

    Examples
    --------
    >>> place_on_the_moon(-9.3, 51.6), place_on_the_moon(-43.3, -11.1), place_on_the_moon(2.0, -1.0)
    ('top of the disc, north up', 'left side of the disc, north up', 'middle of the disc, north up')
    """
    latitude, longitude = np.radians(latitude_deg), np.radians(longitude_deg)
    right, up = float(np.cos(latitude) * np.sin(longitude)), float(np.sin(latitude))
    high = "upper" if up > SIDE_SHARE else "lower" if up < -SIDE_SHARE else ""
    side = "right" if right > SIDE_SHARE else "left" if right < -SIDE_SHARE else ""
    plain = {("upper", ""): "top", ("lower", ""): "bottom", ("", ""): "middle"}
    where = plain.get((high, side), f"{high} {side}" if high else f"{side} side")
    return f"{where} of the disc, north up"


def _far_from(what: str, late_min: float) -> str:
    """Return how long before or after something a moment lies.

    Examples
    --------
    >>> [_far_from("its minimum", minutes) for minutes in (2.0, -90.0, 200.0, -4320.0)]
    ['at its minimum', '90 min before its minimum', '3 h after its minimum', '3 days before its minimum']
    """
    away_min = abs(late_min)
    if away_min < 3.0:
        return f"at {what}"
    far = f"{away_min / 1440.0:.0f} days"
    if away_min < 2880.0:
        far = f"{away_min:.0f} min" if away_min < 180.0 else f"{away_min / 60.0:.0f} h"
    return f"{far} {'after' if late_min > 0 else 'before'} {what}"


def _sky_words(night: Night, time: Span, sight: Sight) -> tuple[str, ...]:
    """Return what the Moon and the twilight do during the whole of `time`."""
    up_min = sum(shared.minutes for span in night.moon_up if (shared := span.meet(time)))
    lit, apart = percent(sight.moon_lit_fraction), sight.moon_separation_deg
    moon = "Moon down" if up_min == 0.0 else f"Moon up, {lit} lit and {apart:.0f}° away"
    if 0.0 < up_min < time.minutes - 1.0:
        moon = f"Moon ({lit} lit) up for {up_min:.0f} of {time.minutes:.0f} min"
    return (moon,) if night.darkness is Darkness.NIGHT else (moon, f"sky in {night.darkness.value}")
