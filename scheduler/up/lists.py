"""What is up by kind: planets, stars, the wish-list's targets, showpieces, constellations."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache

import numpy as np

from ..catalogue import Entry, look_up
from ..catalogue.sheets import sheet
from ..catalogue.stars import bright_stars
from ..catalogue.tables import doubles, showpieces
from ..domain import SUN_DISTANCE_DEG, Kind, Target
from ..domain.target import full_name
from ..sky import looks_of, places_of, separation_deg
from ..sky.ephemeris import PLANETS
from .look import Look, Up

STAR_DEG, PLANET_DEG, SHOWPIECE_DEG = 10.0, 4.0, 20.0
"""What stands lower is not named. [deg]"""
HIGH_DEG = 55.0
EYE_MAG = 5.0
"""A planet fainter than this is for a telescope. [mag]"""
SAME_PLACE_DEG = 0.02
QUARTERS = ("north", "east", "south", "west")

_IN_THE_SKY = (Kind.DEEP_SKY, Kind.DOUBLE_STAR, Kind.VARIABLE_STAR, Kind.MINOR_BODY)


def brightest_of(seen: Iterable[Up], faintest_mag: float) -> list[Up]:
    """Return what is not fainter than a limit, brightest first; what has no magnitude comes last. [mag]"""
    shown = [one for one in seen if one.magnitude is None or one.magnitude <= faintest_mag]
    return sorted(shown, key=lambda one: 9.9 if one.magnitude is None else one.magnitude)


def planets_up(look: Look) -> Iterator[Up]:
    """Yield the planets that are up, never one near the Sun."""
    looks = looks_of(look.sky, PLANETS)
    targets = [Target(body.capitalize(), Kind.PLANET, body=body) for body in PLANETS]
    places = places_of(look.sky, targets).at(np.arange(len(PLANETS)), 0, look.unix_s)
    magnitudes = [None if np.isnan(value) else float(value) for value in looks.magnitude[:, 0]]
    whats = ["planet" if m is None or m < EYE_MAG else "planet for a telescope" for m in magnitudes]
    seen = look.of_date([target.name for target in targets], whats, *places, magnitudes)
    for one, elongation_deg in zip(seen, looks.elongation_deg[:, 0].tolist(), strict=True):
        if abs(elongation_deg) >= SUN_DISTANCE_DEG and look.clear(one, PLANET_DEG):
            yield one


def stars_up(look: Look) -> list[Up]:
    """Return the bright stars clear of the horizon."""
    stars = bright_stars()
    whats = ["star"] * len(stars.names)
    seen = look.fixed(stars.names, whats, stars.ra_deg, stars.dec_deg, stars.magnitude.tolist())
    return [one for one in seen if look.clear(one, 0.0)]


def wishes_up(look: Look, targets: Sequence[Target]) -> list[Up]:
    """Return the wish-list's targets among the stars that are high enough; planets have their own list."""
    wanted = [target for target in targets if target.kind in _IN_THE_SKY]
    if not wanted:
        return []
    places = places_of(look.sky, wanted).at(np.arange(len(wanted)), 0, look.unix_s)
    whats = [getattr(target.nature, "what", target.kind.value) for target in wanted]
    names = [full_name(target.name, target.also_known_as) for target in wanted]
    seen = look.of_date(names, whats, *places, [target.magnitude for target in wanted])
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


def showpieces_up(look: Look, targets: Sequence[Target]) -> list[Up]:
    """Return the catalogue's showpieces that are up and not on the wish-list."""
    pieces = _best_of_the_sky()
    ra_deg, dec_deg = np.array([(piece.ra_deg, piece.dec_deg) for piece in pieces], np.float64).T
    fixed = [(t.ra_deg, t.dec_deg) for t in targets if t.ra_deg is not None and t.dec_deg is not None]
    wanted = np.array(fixed, np.float64).reshape(-1, 2).T
    apart_deg = separation_deg(ra_deg[:, None], dec_deg[:, None], wanted[0], wanted[1])
    wished = np.any(apart_deg < SAME_PLACE_DEG, axis=1).tolist()
    seen = look.fixed(
        [full_name(piece.name, piece.also_known_as) for piece in pieces], [piece.what for piece in pieces],
        ra_deg, dec_deg, [piece.magnitude for piece in pieces],
    )  # fmt: skip
    return [one for one, own in zip(seen, wished, strict=True) if not own and look.clear(one, SHOWPIECE_DEG)]


def constellations_of(stars: Sequence[Up]) -> tuple[tuple[str, tuple[str, ...]], ...]:
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
