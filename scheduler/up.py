"""What is up at one moment: Moon, planets, bright stars, the wish-list's targets and the sky's showpieces.

How low is too low, and how faint is too faint for the twilight, is our judgement, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from functools import cache

import numpy as np

from .catalogue import Entry, look_up
from .catalogue.sheets import sheet
from .catalogue.stars import bright_stars
from .catalogue.tables import doubles, showpieces
from .diary import MoonNight, diary_of
from .domain import SUN_DISTANCE_DEG, Kind, Scenario, Site, Target
from .domain.opportunity import Floats
from .errors import InvalidValue
from .sky import (
    SeasonSky,
    altitude_azimuth,
    apparent_altitude_deg,
    constellation_of,
    looks_of,
    moon_at,
    places_of,
    separation_deg,
    sidereal_deg,
    sky_of,
    sun_at,
)
from .sky.ephemeris import PLANETS, check_covered
from .sky.horizon import lowest_clear_deg
from .sky.place import fixed_places_deg
from .sky.season import SUNSET_DEG, noons_of

STAR_DEG, PLANET_DEG, SHOWPIECE_DEG = 10.0, 4.0, 20.0
"""What stands lower is not named. [deg]"""
TWILIGHT = ((-12.0, -6.0, SUNSET_DEG), (9.9, 1.0, -2.0))
"""Altitudes of the Sun [deg] and the faintest light worth looking for then [mag]; straight between them."""
DARK_DEG = -12.0
"""With the Sun above this no deep-sky object is named. [deg]"""
HIGH_DEG = 55.0
EYE_MAG = 5.0
"""A planet fainter than this is for a telescope. [mag]"""
SAME_PLACE_DEG = 0.02
QUARTERS = ("north", "east", "south", "west")

_IN_THE_SKY = (Kind.DEEP_SKY, Kind.DOUBLE_STAR, Kind.VARIABLE_STAR, Kind.MINOR_BODY)
_EXPECTED = 'a local date and time such as "2027-03-05T21:00"'


@dataclass(frozen=True, slots=True)
class Up:
    """Something above the horizon: what and where. [deg, mag]"""

    name: str
    what: str
    constellation: str
    altitude_deg: float
    azimuth_deg: float
    magnitude: float | None


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
    sky = _sky_at(scenario.site, moment)
    look = _Look(sky, moment.timestamp())
    moon, sun = moon_at(sky, look.times), sun_at(sky, look.times)
    sun_altitude_deg = float(sun.altitude_deg[0])
    from_sun_deg = separation_deg(
        moon.ra_of_date_deg, moon.dec_of_date_deg, sun.ra_of_date_deg, sun.dec_of_date_deg
    )
    (seen_moon,) = look.at(["Moon"], ["the Moon"], moon.ra_of_date_deg, moon.dec_of_date_deg, [None])
    bare = Overview(
        scenario.site, moment, sun_altitude_deg, seen_moon, float(from_sun_deg[0]),
        diary_of(sky.nights, scenario.site)[0],
    )  # fmt: skip
    if bare.daylight:
        return bare
    faintest_mag = float(np.interp(sun_altitude_deg, *TWILIGHT))
    every_star = _stars(look)
    evening = replace(
        bare,
        planets=tuple(_bright(_planets(look), faintest_mag)),
        stars=tuple(_bright((star for star in every_star if star.altitude_deg >= STAR_DEG), faintest_mag)),
    )
    if sun_altitude_deg > DARK_DEG:
        return evening
    pieces = _bright(_showpieces(look, scenario.targets), faintest_mag=99.0)
    return replace(
        evening,
        wishes=tuple(_wishes(look, scenario.targets)),
        showpieces=tuple(one for one in pieces if one.what != Kind.DOUBLE_STAR.value),
        doubles=tuple(one for one in pieces if one.what == Kind.DOUBLE_STAR.value),
        constellations=_standing(every_star),
    )


def _sky_at(site: Site, moment: datetime) -> SeasonSky:
    """Return the sky of the night, noon to noon, that holds a moment."""
    day = moment.astimezone(site.local).date()
    check_covered(day, day)
    evenings = [day + timedelta(days=step) for step in (-1, 0, 1)]
    noon, next_noon = noons_of(site, evenings)
    within = (noon <= moment.timestamp()) & (moment.timestamp() < next_noon)
    return sky_of(site, [evenings[int(within.argmax())]])


class _Look:
    """One moment of one night, and what stands where then."""

    def __init__(self, sky: SeasonSky, unix_s: float) -> None:
        self.sky, self.unix_s = sky, unix_s
        self.times = np.array([unix_s])
        self._sidereal_deg = float(sidereal_deg(sky, 0, unix_s))

    def at(
        self, names: Sequence[str], whats: Sequence[str], ra_of_date_deg: Floats, dec_of_date_deg: Floats,
        magnitudes: Sequence[float | None],
    ) -> list[Up]:  # fmt: skip
        site = self.sky.site
        true_deg, azimuth_deg = altitude_azimuth(site, ra_of_date_deg, dec_of_date_deg, self._sidereal_deg)
        altitude_deg = apparent_altitude_deg(site, true_deg)
        return [
            Up(*one) for one in zip(
                names, whats, self._constellations(ra_of_date_deg, dec_of_date_deg), altitude_deg.tolist(),
                azimuth_deg.tolist(), magnitudes, strict=True,
            )
        ]  # fmt: skip

    def clear(self, one: Up, lowest_deg: float) -> bool:
        return one.altitude_deg >= max(lowest_deg, float(lowest_clear_deg(self.sky.site, one.azimuth_deg)))

    def _constellations(self, ra_of_date_deg: Floats, dec_of_date_deg: Floats) -> list[str]:
        ra, dec = np.radians(ra_of_date_deg), np.radians(dec_of_date_deg)
        of_date = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
        x, y, z = self.sky.rotation[:, :, 0].T @ of_date
        ra_deg, dec_deg = np.degrees(np.arctan2(y, x)) % 360.0, np.degrees(np.arctan2(z, np.hypot(x, y)))
        return [str(name) for name in constellation_of(ra_deg, dec_deg)]


def _bright(seen: Iterable[Up], faintest_mag: float) -> list[Up]:
    shown = [one for one in seen if one.magnitude is None or one.magnitude <= faintest_mag]
    return sorted(shown, key=lambda one: 9.9 if one.magnitude is None else one.magnitude)


def _planets(look: _Look) -> Iterator[Up]:
    """Yield the planets that are up, never one near the Sun."""
    looks = looks_of(look.sky, PLANETS)
    targets = [Target(body.capitalize(), Kind.PLANET, body=body) for body in PLANETS]
    places = places_of(look.sky, targets).at(np.arange(len(PLANETS)), 0, look.unix_s)
    magnitudes = [None if np.isnan(value) else float(value) for value in looks.magnitude[:, 0]]
    whats = ["planet" if m is None or m < EYE_MAG else "planet for a telescope" for m in magnitudes]
    seen = look.at([target.name for target in targets], whats, *places, magnitudes)
    for one, elongation_deg in zip(seen, looks.elongation_deg[:, 0].tolist(), strict=True):
        if abs(elongation_deg) >= SUN_DISTANCE_DEG and look.clear(one, PLANET_DEG):
            yield one


def _stars(look: _Look) -> list[Up]:
    """Return the bright stars clear of the horizon."""
    stars = bright_stars()
    places = (place[:, 0] for place in fixed_places_deg(look.sky, stars.ra_deg, stars.dec_deg))
    seen = look.at(stars.names, ["star"] * len(stars.names), *places, stars.magnitude.tolist())
    return [one for one in seen if look.clear(one, 0.0)]


def _wishes(look: _Look, targets: Sequence[Target]) -> list[Up]:
    """Return the wish-list's targets among the stars that are high enough; planets have their own list."""
    wanted = [target for target in targets if target.kind in _IN_THE_SKY]
    if not wanted:
        return []
    places = places_of(look.sky, wanted).at(np.arange(len(wanted)), 0, look.unix_s)
    whats = [getattr(target.nature, "what", target.kind.value) for target in wanted]
    names = [_full_name(target.name, target.also_known_as) for target in wanted]
    seen = look.at(names, whats, *places, [target.magnitude for target in wanted])
    both = sorted(zip(seen, wanted, strict=True), key=lambda pair: (-pair[1].priority, -pair[0].altitude_deg))
    return [one for one, target in both if look.clear(one, target.lowest_altitude_deg)]


@cache
def _best_of_the_sky() -> tuple[Entry, ...]:
    lists = [*(f"M {number}" for number in range(1, 111)), *(f"C {number}" for number in range(1, 110))]
    inside = [row["designation"] for row in sheet("visual.csv")]
    outside = [piece.entry.name for piece in (*showpieces(), *doubles())]
    found: dict[str, Entry] = {}
    for entry in map(look_up, (*lists, *inside, *outside)):
        found.setdefault(entry.identity, entry)
    return tuple(found.values())


def _showpieces(look: _Look, targets: Sequence[Target]) -> list[Up]:
    """Return the catalogue's showpieces that are up and not on the wish-list."""
    pieces = _best_of_the_sky()
    ra_deg, dec_deg = (
        np.array(v, np.float64) for v in zip(*((p.ra_deg, p.dec_deg) for p in pieces), strict=True)
    )
    fixed = [(t.ra_deg, t.dec_deg) for t in targets if t.ra_deg is not None and t.dec_deg is not None]
    wanted = np.array(fixed, np.float64).reshape(-1, 2).T
    apart_deg = separation_deg(ra_deg[:, None], dec_deg[:, None], wanted[0], wanted[1])
    places = (place[:, 0] for place in fixed_places_deg(look.sky, ra_deg, dec_deg))
    names = [_full_name(piece.name, piece.also_known_as) for piece in pieces]
    seen = look.at(names, [piece.what for piece in pieces], *places, [piece.magnitude for piece in pieces])
    unwanted = ~(apart_deg < SAME_PLACE_DEG).any(axis=1)
    return [one for one, free in zip(seen, unwanted, strict=True) if free and look.clear(one, SHOWPIECE_DEG)]


def _full_name(name: str, also: str | None) -> str:
    return f"{name}, {also}" if also else name


def _standing(stars: Sequence[Up]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return constellations by where the middle of their bright stars stands, the highest first."""
    of: dict[str, list[Up]] = {}
    for star in stars:
        of.setdefault(star.constellation, []).append(star)
    middles = []
    for name, members in of.items():
        height, turn = (np.radians([getattr(m, a) for m in members]) for a in ("altitude_deg", "azimuth_deg"))
        north, east, up = np.cos(height) * np.cos(turn), np.cos(height) * np.sin(turn), np.sin(height)
        x, y, z = (float(axis.mean()) for axis in (north, east, up))
        altitude_deg = float(np.degrees(np.arctan2(z, np.hypot(x, y))))
        quarter = QUARTERS[round(float(np.degrees(np.arctan2(y, x))) / 90.0) % 4]
        if altitude_deg >= STAR_DEG:
            middles.append((altitude_deg, name, "high" if altitude_deg >= HIGH_DEG else quarter))
    middles.sort(reverse=True)
    return tuple(
        (where, names)
        for where in ("high", *QUARTERS)
        if (names := tuple(n for _, n, w in middles if w == where))
    )
