"""How chosen targets stand at chosen moments, what to look through, and where to point."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..domain import BINOCULARS, JUPITER, MOON, NAKED_EYE, Kind, Pointing, Sight, View
from ..domain.opportunity import Floats, Ints
from ..pointing import pointings_of
from ..sky import constellation_of, separation_deg, sun_at
from .merits import merit_of
from .outlook import Outlook, azimuth_of, outlook_of
from .prospect import Prospect
from .views import seen_in_binoculars, views_of
from .words import PLAIN_MAG


@dataclass(frozen=True, slots=True)
class Look:
    """One target at one moment: how it stands, what to look through, where to point."""

    sight: Sight
    view: View
    pointing: Pointing


def looks_at(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats) -> tuple[Look, ...]:
    """Return how targets are met on nights of the season (both by position) at moments, all (looks,)."""
    if not len(target):
        return ()
    outlook = outlook_of(prospect.sky, prospect.places, target, night, unix_s)
    azimuth_deg = azimuth_of(prospect.sky, prospect.places, target, night, unix_s)
    sights = _sights(prospect, target, night, unix_s, outlook, azimuth_deg)
    views = views_of(prospect, target, night, outlook)
    binoculars = {optic.instrument for optic in prospect.optics if optic.family == BINOCULARS}
    in_telescope = np.array([view.instrument not in (NAKED_EYE, *binoculars) for view in views], np.bool_)
    pointings = pointings_of(
        prospect.sky, night, unix_s, outlook.ra_of_date_deg, outlook.dec_of_date_deg, outlook.altitude_deg,
        azimuth_deg, ~_plain(prospect, target, night),
        seen_in_binoculars(prospect, target, outlook) & in_telescope,
    )  # fmt: skip
    meteors = [prospect.targets[row].kind is Kind.METEOR_SHOWER for row in target.tolist()]
    pointed = [
        _for_meteors(pointing, moon_up=sight.moon_altitude_deg > 0.0) if shower else pointing
        for shower, pointing, sight in zip(meteors, pointings, sights, strict=True)
    ]
    return tuple(Look(*parts) for parts in zip(sights, views, pointed, strict=True))


def _for_meteors(radiant: Pointing, *, moon_up: bool) -> Pointing:
    """Return where to look for meteors, which is not at their radiant (common practice, no source)."""
    watch = "Lie back and look half-way up, some four fists from the radiant"
    watch += " and away from the Moon" if moon_up else ""
    return replace(radiant, words=f"{watch}. Radiant: {radiant.words[:1].lower()}{radiant.words[1:]}")


def sights_of(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats) -> tuple[Sight, ...]:
    """Return how targets stand on nights of the season (both by position) at moments, all (sights,).

    Notes
    -----
    Places are ICRS; those of what moves still contain aberration, 20" at most, and the Moon's is the one seen
    from the Earth's centre.
    """
    outlook = outlook_of(prospect.sky, prospect.places, target, night, unix_s)
    azimuth_deg = azimuth_of(prospect.sky, prospect.places, target, night, unix_s)
    return _sights(prospect, target, night, unix_s, outlook, azimuth_deg)


def _sights(
    prospect: Prospect, target: Ints, night: Ints, unix_s: Floats, outlook: Outlook, azimuth_deg: Floats
) -> tuple[Sight, ...]:
    merit = merit_of(prospect, target, night, unix_s, outlook)
    ra_deg, dec_deg = _icrs_of(prospect, target, night, outlook.ra_of_date_deg, outlook.dec_of_date_deg)
    constellation = constellation_of(ra_deg, dec_deg)
    sun = sun_at(prospect.sky, unix_s)
    from_sun_deg = separation_deg(
        outlook.ra_of_date_deg, outlook.dec_of_date_deg, sun.ra_of_date_deg, sun.dec_of_date_deg
    )
    from_moon_deg = np.where(_on_the_moon(prospect, target), 0.0, outlook.moon_separation_deg)
    figures = np.stack([
        outlook.altitude_deg, azimuth_deg, outlook.moon_lit_fraction, outlook.moon_altitude_deg,
        from_moon_deg, outlook.sun_altitude_deg, from_sun_deg, merit,
    ], axis=-1).tolist()  # fmt: skip
    places = zip(ra_deg.tolist(), dec_deg.tolist(), constellation.tolist(), strict=True)
    return tuple(Sight(*place, *numbers) for place, numbers in zip(places, figures, strict=True))


def _plain(prospect: Prospect, target: Ints, night: Ints) -> NDArray[np.bool_]:
    """Tell which targets nobody can miss: what is on the Moon or Jupiter, and bright planets. (looks,)"""
    planets = np.array([one.kind is Kind.PLANET for one in prospect.targets], dtype=np.bool_)
    on_jupiter = np.array([one.on_a_planet and one.body == JUPITER for one in prospect.targets], np.bool_)
    bright = planets[target] & (prospect.magnitude[target, night] < PLAIN_MAG)
    return np.asarray(_on_the_moon(prospect, target) | on_jupiter[target] | bright)


def _on_the_moon(prospect: Prospect, target: Ints) -> NDArray[np.bool_]:
    """Tell which targets are on the Moon: features, and its eclipses. (looks,)"""
    return np.array([one.body == MOON for one in prospect.targets], dtype=np.bool_)[target]


def _icrs_of(
    prospect: Prospect, target: Ints, night: Ints, ra_of_date_deg: Floats, dec_of_date_deg: Floats
) -> tuple[Floats, Floats]:
    """Return ICRS places: a fixed target's own, those of what moves turned back from the frame of date."""
    ra, dec = np.radians(ra_of_date_deg), np.radians(dec_of_date_deg)
    of_date = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    x, y, z = np.einsum("jis,js->is", prospect.sky.rotation[:, :, night], of_date)
    own = [prospect.targets[one] for one in target]
    fixed = np.array([not one.moves for one in own], dtype=np.bool_)
    own_ra = np.array([one.ra_deg or 0.0 for one in own])
    own_dec = np.array([one.dec_deg or 0.0 for one in own])
    ra_deg = np.where(fixed, own_ra, np.degrees(np.arctan2(y, x)) % 360.0)
    return ra_deg, np.where(fixed, own_dec, np.degrees(np.arcsin(np.clip(z, -1.0, 1.0))))
