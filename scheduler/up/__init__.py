"""What is up at one moment: Moon, planets, bright stars, the wish-list's targets and the sky's showpieces.

How low is too low, and how faint is too faint for the twilight, is our judgement, no source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, time

import numpy as np

from ..diary import MoonNight, diary_of
from ..domain import Kind, Scenario, Site
from ..errors import InvalidValue
from ..sky import moon_at, separation_deg, sun_at
from ..sky.season import SUNSET_DEG
from .lists import (
    STAR_DEG,
    brightest_of,
    constellations_of,
    planets_up,
    showpieces_up,
    stars_up,
    wishes_up,
)
from .look import Look, Up, sky_at

__all__ = ["DARK_DEG", "Overview", "Up", "moment_from", "overview_of"]

TWILIGHT = ((-12.0, -6.0, SUNSET_DEG), (9.9, 1.0, -2.0))
"""Altitudes of the Sun [deg] and the faintest light worth looking for then [mag]; straight between them."""
DARK_DEG = -12.0
"""With the Sun above this no deep-sky object is named. [deg]"""

_EXPECTED = 'a local date and time such as "2027-03-05T21:00"'


@dataclass(frozen=True)
class Overview:
    """What is up at a moment.

    Attributes
    ----------
    sun_altitude_deg : Of the Sun's centre; in daylight all but the Moon stays empty. [deg]
    moon : Where the Moon is, also when it is down.
    moon_sun_deg : From the Sun. [deg]
    moon_night : Its phase, rise and set that night.
    planets, stars : Brightest first.
    wishes : By priority, then the highest first.
    showpieces, doubles : Brightest first; one on the wish-list counts as a wish only.
    constellations : Names by where they stand: "high", then the quarters of the sky.
    """

    site: Site
    moment: datetime
    sun_altitude_deg: float
    moon: Up
    moon_sun_deg: float
    moon_night: MoonNight
    planets: tuple[Up, ...] = ()
    stars: tuple[Up, ...] = ()
    wishes: tuple[Up, ...] = ()
    showpieces: tuple[Up, ...] = ()
    doubles: tuple[Up, ...] = ()
    constellations: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def daylight(self) -> bool:
        """Whether the Sun is up."""
        return self.sun_altitude_deg > SUNSET_DEG


def moment_from(text: str, site: Site) -> datetime:
    """Return the UTC time of a local date and time; a date alone means ten in the evening.

    Raises
    ------
    InvalidValue
        The text is neither.
    """
    try:
        local = datetime.fromisoformat(text.strip())
        if len(text.strip()) <= len("2027-W01-1"):
            local = datetime.combine(local.date(), time(22))
        return (local if local.tzinfo else local.replace(tzinfo=site.local)).astimezone(UTC)
    except (ValueError, OverflowError) as fault:
        raise InvalidValue("--at", text, _EXPECTED) from fault


def overview_of(scenario: Scenario, moment: datetime) -> Overview:
    """Return what is up at a moment over a scenario's site.

    Raises
    ------
    OutsideEphemeris
        The moment lies outside 1900-2053.
    """
    sky = sky_at(scenario.site, moment)
    look = Look(sky, moment.timestamp())
    moon, sun = moon_at(sky, look.times), sun_at(sky, look.times)
    sun_altitude_deg = float(sun.altitude_deg[0])
    from_sun_deg = separation_deg(
        moon.ra_of_date_deg, moon.dec_of_date_deg, sun.ra_of_date_deg, sun.dec_of_date_deg
    )
    (seen_moon,) = look.of_date(["Moon"], ["the Moon"], moon.ra_of_date_deg, moon.dec_of_date_deg, [None])
    bare = Overview(
        scenario.site, moment, sun_altitude_deg, seen_moon, float(from_sun_deg[0]),
        diary_of(sky.nights, scenario.site)[0],
    )  # fmt: skip
    if bare.daylight:
        return bare
    faintest_mag = float(np.interp(sun_altitude_deg, *TWILIGHT))
    every_star = stars_up(look)
    evening = replace(
        bare,
        planets=tuple(brightest_of(planets_up(look), faintest_mag)),
        stars=tuple(
            brightest_of((star for star in every_star if star.altitude_deg >= STAR_DEG), faintest_mag)
        ),
    )
    if sun_altitude_deg > DARK_DEG:
        return evening
    pieces = brightest_of(showpieces_up(look, scenario.targets), faintest_mag=99.0)
    return replace(
        evening,
        wishes=tuple(wishes_up(look, scenario.targets)),
        showpieces=tuple(one for one in pieces if one.what != Kind.DOUBLE_STAR.value),
        doubles=tuple(one for one in pieces if one.what == Kind.DOUBLE_STAR.value),
        constellations=constellations_of(every_star),
    )
