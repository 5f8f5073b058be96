"""How well any target shows at any moment: each kind asks the law it follows."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from ..domain import JUPITER, Kind, Shower
from ..domain.opportunity import Floats, Ints
from .merit import (
    detail_merit,
    eclipse_merit,
    moon_feature_merit,
    planet_merit,
    shower_merit,
    steady_merit,
)
from .occasions import zenithal_rate
from .optics import resolution_arcsec
from .outlook import Outlook
from .prospect import KINDS, Prospect
from .reach import point_merit, star_reach_mag

SHADOW_ARCSEC = float(resolution_arcsec(70.0))
"""Detail that must show for a moon's shadow on Jupiter to: a 70 mm telescope's (common practice, no source).
[arcsec]"""

LEFT_AT_THE_ENDS = 0.2
"""Merit of a variable star or an eclipse at the ends of its own stretch, over its peak's (our judgement)."""


def merit_of(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    """Return the merit of targets on nights (by position) at moments under an outlook, 0..1.

    `target` and `night` hold a number for each row of the moments' first axis; the outlook has the shape of
    the moments.
    """
    column = (-1, *(1,) * (unix_s.ndim - 1))
    kinds = prospect.kind[target.ravel()]
    merit = np.zeros(unix_s.shape)
    for law, of_kinds in _LAWS:
        chosen = np.isin(kinds, [KINDS.index(kind) for kind in of_kinds])
        if chosen.any():
            rows, on = target.ravel()[chosen].reshape(column), night.ravel()[chosen].reshape(column)
            part = outlook if chosen.all() else outlook.part(chosen)
            merit[chosen] = law(prospect, rows, on, unix_s[chosen], part)
    merit[~prospect.usable[target.ravel()]] = 0.0
    return merit


def best_ever(prospect: Prospect, row: int) -> float:
    """Return a target's merit overhead in the darkest sky of the site: what the kit alone sets, 0..1."""
    target, kind, site = prospect.targets[row], prospect.targets[row].kind, prospect.sky.site
    if not prospect.usable[row]:
        return 0.0
    if kind is Kind.MINOR_BODY:
        brightest_mag = float(prospect.magnitude[row].min())
        seen = point_merit(brightest_mag, site.sky_brightness, site.extinction_mag, prospect.reach(row))
        return float(seen)
    if kind in (Kind.DEEP_SKY, Kind.DOUBLE_STAR, Kind.VARIABLE_STAR):
        return float(prospect.table.at(np.array(row), np.array(site.sky_brightness), np.array(1.0)))
    if kind is Kind.MOON_FEATURE:
        return float(_feature_detail(prospect, np.array(row)))
    if kind is Kind.ECLIPSE and target.body == JUPITER:
        return float(prospect.finest_arcsec[row] <= SHADOW_ARCSEC)
    return 1.0


def _by_the_table(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    """Return the table's merit, a little less through more air: what shows well low shows best high up."""
    blur = np.maximum(outlook.airmass, 1.0) ** -prospect.settings.blur_per_air
    return np.asarray(prospect.table.at(target, outlook.sky_brightness, outlook.airmass) * blur)


def _variable(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    shown = _by_the_table(prospect, target, night, unix_s, outlook)
    return np.asarray(shown * _near_the_peak(prospect, target, night, unix_s))


def _near_the_peak(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats) -> Floats:
    """Return 1 at a moment of its own, less towards the ends of its stretch; 1 where any moment will do."""
    occasions = prospect.occasions
    if not len(occasions.targets):
        return np.ones(unix_s.shape)
    slot = occasions.slot[target]
    peak = np.where(slot >= 0, occasions.peak_unix_s[slot, night], np.nan)
    start, end = (occasions.span_unix_s[slot, night, side] for side in (0, 1))
    half_s = np.where(unix_s < peak, peak - start, end - peak)
    off = np.clip(np.abs(unix_s - peak) / np.maximum(half_s, 1.0), 0.0, 1.0)
    return np.asarray(np.where(np.isfinite(peak), 1.0 - (1.0 - LEFT_AT_THE_ENDS) * off**2, 1.0))


def _planet(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    return planet_merit(
        outlook.altitude_deg, prospect.disc_arcsec[target, night], prospect.disc_share[target, night],
        prospect.finest_arcsec[target], prospect.settings,
    )  # fmt: skip


def _moon_feature(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    longitude_deg, latitude_deg = prospect.feature_deg[:, target]
    sun_deg = prospect.moonface.sun_altitude_deg(longitude_deg, latitude_deg, unix_s)
    shown = moon_feature_merit(sun_deg, outlook.altitude_deg, prospect.settings)
    return np.asarray(shown * _feature_detail(prospect, target))


def _feature_detail(prospect: Prospect, target: Ints) -> Floats:
    """Return how much of a Moon feature the kit shows, whatever the Sun does there, 0..1."""
    settings = prospect.settings
    return detail_merit(
        prospect.feature_arcsec[target], prospect.finest_arcsec[target], settings.feature_steps, settings
    )


def _minor_body(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    merit = np.zeros(unix_s.shape)
    magnitude = np.broadcast_to(prospect.magnitude[target, night], unix_s.shape)
    extinction_mag = prospect.sky.site.extinction_mag * outlook.airmass
    for row in np.unique(target).tolist():
        own = np.broadcast_to(target == row, unix_s.shape)
        seen = magnitude[own], outlook.sky_brightness[own], extinction_mag[own]
        merit[own] = point_merit(*seen, prospect.reach(row)) if prospect.usable[row] else 0.0
    return merit


def _shower(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    rate, index = np.zeros(unix_s.shape), np.ones(unix_s.shape)
    for row in np.unique(target).tolist():
        shower, own = prospect.targets[row].nature, np.broadcast_to(target == row, unix_s.shape)
        assert isinstance(shower, Shower)
        rate[own], index[own] = zenithal_rate(shower, unix_s[own]), shower.population_index
    faintest = star_reach_mag(prospect.naked_eye, outlook.sky_brightness)
    faintest = faintest - prospect.sky.site.extinction_mag * outlook.airmass
    return shower_merit(rate, index, outlook.altitude_deg, faintest, prospect.settings)


def _eclipse(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    occasions = prospect.occasions
    share = occasions.strength[occasions.slot[target], night]
    of_jupiter = np.array([one.body == JUPITER for one in prospect.targets], dtype=np.bool_)[target]
    shown = np.where(
        of_jupiter & (prospect.finest_arcsec[target] <= SHADOW_ARCSEC),
        steady_merit(outlook.altitude_deg, prospect.settings),
        np.where(of_jupiter, 0.0, eclipse_merit(outlook.altitude_deg, prospect.settings)),
    )
    return np.asarray(share * shown * _near_the_peak(prospect, target, night, unix_s))


def _event(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook) -> Floats:
    return np.ones(unix_s.shape)


_Law: TypeAlias = Callable[[Prospect, Ints, Ints, Floats, Outlook], Floats]
_LAWS: tuple[tuple[_Law, tuple[Kind, ...]], ...] = (
    (_by_the_table, (Kind.DEEP_SKY, Kind.DOUBLE_STAR)), (_variable, (Kind.VARIABLE_STAR,)),
    (_planet, (Kind.PLANET,)), (_moon_feature, (Kind.MOON_FEATURE,)), (_minor_body, (Kind.MINOR_BODY,)),
    (_shower, (Kind.METEOR_SHOWER,)), (_eclipse, (Kind.ECLIPSE,)), (_event, (Kind.EVENT,)),
)  # fmt: skip
