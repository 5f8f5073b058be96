"""How chosen targets stand at chosen moments, and why the moment is a good one, in words."""

from __future__ import annotations

import numpy as np

from ..domain import Darkness, Kind, Night, Opportunities, Sight, Span
from ..domain.opportunity import Floats, Ints
from ..sky import constellation_of, separation_deg, sun_at
from .merit import MeritSettings
from .opportunities import Prospect, merit_of
from .outlook import outlook_of


def sights_of(prospect: Prospect, target: Ints, night: Ints, unix_s: Floats) -> tuple[Sight, ...]:
    """Return how targets stand on nights of the season (both by position) at moments, all (sights,).

    Notes
    -----
    Places are ICRS; a planet's still contains aberration, 20" at most.
    """
    outlook = outlook_of(prospect.sky, prospect.places, target, night, unix_s)
    merit = merit_of(prospect, target, night, outlook, MeritSettings())
    ra_deg, dec_deg = _icrs_of(prospect, target, night, outlook.ra_of_date_deg, outlook.dec_of_date_deg)
    constellation = constellation_of(ra_deg, dec_deg)
    sun = sun_at(prospect.sky, unix_s)
    from_sun_deg = separation_deg(
        outlook.ra_of_date_deg, outlook.dec_of_date_deg, sun.ra_of_date_deg, sun.dec_of_date_deg
    )
    figures = np.stack([
        outlook.altitude_deg, outlook.azimuth_deg, outlook.moon_lit_fraction, outlook.moon_altitude_deg,
        outlook.moon_separation_deg, outlook.sun_altitude_deg, from_sun_deg, merit,
    ], axis=-1).tolist()  # fmt: skip
    places = zip(ra_deg.tolist(), dec_deg.tolist(), constellation.tolist(), strict=True)
    return tuple(Sight(*place, *numbers) for place, numbers in zip(places, figures, strict=True))


def why_then(
    prospect: Prospect, opportunities: Opportunities, row: int, night: Night, time: Span, sight: Sight
) -> str:
    """Return why `time` in this opportunity is a good one: its share of the best, the Moon, what is left.

    Compares the sight's merit with all the target's opportunities; "as good" is nine tenths of it or more.
    """
    own = opportunities.target == opportunities.target[row]
    merits, nights = opportunities.merit[own], opportunities.night[own]
    share = sight.merit / merits.max()
    show = "shows at its best" if share >= 0.95 else f"shows at {100 * share:.0f} % of its best"
    later = len(np.unique(nights[(nights > opportunities.night[row]) & (merits >= 0.9 * sight.merit)]))
    chances = {0: "no later free night is as good", 1: "one later free night as good"}
    left = chances.get(later, f"{later} later free nights as good")
    faint = prospect.targets[int(opportunities.target[row])].kind is Kind.DEEP_SKY
    return "; ".join([show, *(_sky_words(night, time, sight) if faint else ()), left])


def _sky_words(night: Night, time: Span, sight: Sight) -> tuple[str, ...]:
    """Return what the Moon and the twilight do during the whole of `time`."""
    up_min = sum(shared.minutes for span in night.moon_up if (shared := span.meet(time)))
    lit, apart = 100 * sight.moon_lit_fraction, sight.moon_separation_deg
    moon = "Moon down" if up_min == 0.0 else f"Moon up, {lit:.0f} % lit and {apart:.0f}° away"
    if 0.0 < up_min < time.minutes - 1.0:
        moon = f"Moon ({lit:.0f} % lit) up for {up_min:.0f} of {time.minutes:.0f} min"
    return (moon,) if night.darkness is Darkness.NIGHT else (moon, f"sky in {night.darkness.value}")


def _icrs_of(
    prospect: Prospect, target: Ints, night: Ints, ra_of_date_deg: Floats, dec_of_date_deg: Floats
) -> tuple[Floats, Floats]:
    """Return ICRS places: a fixed target's own, a planet's turned back from the frame of date."""
    ra, dec = np.radians(ra_of_date_deg), np.radians(dec_of_date_deg)
    of_date = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    x, y, z = np.einsum("jis,js->is", prospect.sky.rotation[:, :, night], of_date)
    own = [prospect.targets[one] for one in target]
    fixed = np.array([one.body is None for one in own], dtype=np.bool_)
    own_ra = np.array([one.ra_deg or 0.0 for one in own])
    own_dec = np.array([one.dec_deg or 0.0 for one in own])
    ra_deg = np.where(fixed, own_ra, np.degrees(np.arctan2(y, x)) % 360.0)
    return ra_deg, np.where(fixed, own_dec, np.degrees(np.arcsin(np.clip(z, -1.0, 1.0))))
