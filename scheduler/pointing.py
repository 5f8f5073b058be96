"""Where to point without knowing the constellations: a direction, a height, and a bright star to start from.

A fist at arm's length counts ten degrees, a finger two. That, which star serves best, how bright it must be
in twilight and how the words round are common practice and our judgement, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .catalogue.stars import BrightStars, bright_stars
from .domain import Pointing
from .domain.opportunity import Floats, Ints
from .domain.plan import direction_of
from .sky import SeasonSky, altitude_azimuth, apparent_altitude_deg, separation_deg, sidereal_deg, sun_at
from .sky.horizon import lowest_clear_deg
from .sky.place import fixed_places_deg

Bools = NDArray[np.bool_]

FIST_DEG = 10.0
FINGER_DEG = 2.0
FAINTEST_MAG = 3.6
"""A guide star must be plain to the eye from a village. [mag]"""
FARTHEST_DEG = 30.0
"""Three fists are as far as a hand carries a direction. [deg]"""
LOWEST_DEG = 5.0
DEG_PER_MAG = 3.0
"""A star one magnitude fainter must be this much nearer to be taken instead. [deg/mag]"""
BRIGHT_MAG = 1.0
"""Brighter stars count as of this magnitude: nobody misses them. [mag]"""
IN_VIEW_DEG = 1.0
"""A star so near shares the lowest power's field with the target and may be fainter (our judgement). [deg]"""
IN_VIEW_MAG = 1.0
"""By how much (our judgement). [mag]"""
ACROSS_ZENITH_DEG = 10.0
"""A star across the zenith must be this much nearer: left and right turn as one leans back. [deg]"""
RIGHT_AT_DEG = 0.3
ITSELF_DEG = 0.02
"""Nearer than this a target is the bright star: a double or a variable. [deg]"""
TWILIGHT = ((-12.0, -6.0), (FAINTEST_MAG, 1.0))
"""Altitudes of the Sun [deg] and the faintest star to be looked for then [mag]; straight between them."""

SIDES = ("above", "upper right", "right", "lower right", "below", "lower left", "left", "upper left")
"""The eight sides of a star as one faces it, clockwise from straight up."""
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
HOURS = (
    "twelve", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
)  # fmt: skip

_AT_ONCE = 500


def pointings_of(
    sky: SeasonSky,
    night: Ints,
    unix_s: Floats,
    ra_of_date_deg: Floats,
    dec_of_date_deg: Floats,
    altitude_deg: Floats,
    azimuth_deg: Floats,
    needs_star: Bools,
    binoculars_first: Bools,
    stars: BrightStars | None = None,
) -> tuple[Pointing, ...]:
    """Return where to point for places in the sky at moments, an entry each; all arrays (n,).

    Parameters
    ----------
    night : Nights of the season, by position.
    unix_s : Moments of these nights. [s]
    ra_of_date_deg, dec_of_date_deg : True equator and equinox of date. [deg]
    altitude_deg, azimuth_deg : Refracted altitude; azimuth north through east. [deg]
    needs_star : False for the Moon and for planets plain to the naked eye.
    binoculars_first : Whether binoculars show it, and so help to find it.
    stars : To start from; None for those of the catalogue.

    Notes
    -----
    Of the stars within `FARTHEST_DEG` that stand clear of the horizon and are bright enough for the twilight,
    the one with the least distance plus `DEG_PER_MAG` times its magnitude is taken; one that shares a field
    with the target counts as `IN_VIEW_MAG` brighter.
    """
    stars = bright_stars() if stars is None else stars
    places = np.stack([ra_of_date_deg, dec_of_date_deg, altitude_deg, azimuth_deg])
    star = np.full(len(night), -1)
    distance_deg, side_deg = np.zeros(len(night)), np.zeros(len(night))
    for start in range(0, len(night), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        star[part], distance_deg[part], side_deg[part] = _nearest(
            sky, stars, night[part], unix_s[part], places[:, part]
        )
    star[~np.asarray(needs_star, np.bool_)] = -1
    columns = (star, distance_deg, side_deg, altitude_deg, azimuth_deg, needs_star, binoculars_first)
    return tuple(
        _pointing(stars, *row) for row in zip(*(np.asarray(c).tolist() for c in columns), strict=True)
    )


def _nearest(
    sky: SeasonSky, stars: BrightStars, night: Ints, unix_s: Floats, places: Floats
) -> tuple[Ints, Floats, Floats]:
    """Return the star to start from (-1 for none), the way from it and to which side of it. [deg, deg]"""
    ra_deg, dec_deg, altitude_deg, azimuth_deg = (row[:, None] for row in places)
    nights, where = np.unique(night, return_inverse=True)
    star_ra_deg, star_dec_deg = (
        p.T[nights][where] for p in fixed_places_deg(sky, stars.ra_deg, stars.dec_deg)
    )
    turned_deg = sidereal_deg(sky, night, unix_s)[:, None]
    true_deg, star_azimuth_deg = altitude_azimuth(sky.site, star_ra_deg, star_dec_deg, turned_deg)
    star_altitude_deg = apparent_altitude_deg(sky.site, true_deg)
    distance_deg = separation_deg(ra_deg, dec_deg, star_ra_deg, star_dec_deg)
    faintest_mag = np.interp(sun_at(sky, unix_s).altitude_deg, *TWILIGHT)[:, None]
    lowest_deg = np.maximum(lowest_clear_deg(sky.site, star_azimuth_deg), LOWEST_DEG)
    usable = (
        (distance_deg <= FARTHEST_DEG) & (star_altitude_deg > lowest_deg) & (stars.magnitude <= faintest_mag)
    )
    across = np.cos(np.radians(star_azimuth_deg - azimuth_deg)) < 0.0
    counted_mag = np.maximum(stars.magnitude, BRIGHT_MAG) - IN_VIEW_MAG * (distance_deg <= IN_VIEW_DEG)
    cost = distance_deg + DEG_PER_MAG * counted_mag + ACROSS_ZENITH_DEG * across
    cost = np.where(usable, cost, np.inf)
    rows, best = np.arange(len(night)), cost.argmin(axis=1)
    side_deg = side_of(
        star_altitude_deg[rows, best], star_azimuth_deg[rows, best], altitude_deg[:, 0], azimuth_deg[:, 0]
    )
    return np.where(usable[rows, best], best, -1), distance_deg[rows, best], side_deg


def side_of(
    altitude_deg: Floats, azimuth_deg: Floats, other_altitude_deg: Floats, other_azimuth_deg: Floats
) -> Floats:
    """Return on which side of the first place the other lies as one faces it, 0..360. [deg]

    Counted from straight up to the right: 90 is right of it, 180 below, 270 left.

    Examples
    --------
    >>> float(side_of(np.array(20.0), np.array(350.0), np.array(20.5), np.array(5.0)).round())
    85.0
    """
    here, there = np.radians(altitude_deg), np.radians(other_altitude_deg)
    turn = np.radians(other_azimuth_deg - azimuth_deg)
    right = np.sin(turn) * np.cos(there)
    up = np.cos(here) * np.sin(there) - np.sin(here) * np.cos(there) * np.cos(turn)
    return np.asarray(np.degrees(np.arctan2(right, up)) % 360.0)


def _pointing(
    stars: BrightStars,
    star: int,
    distance_deg: float,
    side_deg: float,
    altitude_deg: float,
    azimuth_deg: float,
    needs_star: bool,
    binoculars_first: bool,
) -> Pointing:
    sentences = [f"{where_in_words(altitude_deg, azimuth_deg)}."]
    known = star >= 0
    itself = known and distance_deg < ITSELF_DEG
    if itself:  # without its magnitude: it may be a variable, visited when it is faint
        sentences.append(f"The bright star {stars.names[star]} marks the place.")
    elif known:
        sentences.append(f"Start from {_named(stars, star)}: {way_in_words(distance_deg, side_deg)}.")
    elif needs_star:
        sentences.append("No bright star shows near enough to start from.")
    else:
        sentences.append("No star is needed to find it there.")
    if binoculars_first and not itself:
        sentences.append("Find it in binoculars first.")
    return Pointing(
        star=stars.names[star] if known else None,
        star_magnitude=float(stars.magnitude[star]) if known else None,
        distance_deg=distance_deg if known else None,
        words=" ".join(sentences),
        binoculars_first=binoculars_first,
    )


def _named(stars: BrightStars, star: int) -> str:
    """Return a star with its magnitude and its constellation, which a designation names already."""
    name, where = stars.names[star], stars.constellations[star]
    place = "" if name == stars.designations[star] else f" in {where}"
    return f"{name}{place} ({stars.magnitude[star]:z.1f} mag)"


def where_in_words(altitude_deg: float, azimuth_deg: float) -> str:
    """Return direction and height in fists and degrees; near the zenith the direction fades out.

    >>> where_in_words(44.0, 160.0)
    'South-south-east, four and a half fists up (44°)'
    >>> where_in_words(3.6, 250.0), where_in_words(87.0, 10.0)
    ('West-south-west, two fingers up (4°)', 'Almost straight overhead (87°)')
    """
    if altitude_deg >= 85.0:
        return f"Almost straight overhead ({altitude_deg:.0f}°)"
    direction = direction_of(azimuth_deg).capitalize()
    if altitude_deg < 0.5 * FINGER_DEG:
        return f"{direction}, at the horizon ({altitude_deg:.0f}°)"
    high = ", nearly overhead" if altitude_deg >= 75.0 else ""
    return f"{direction}, {hands_in_words(altitude_deg)} up{high} ({altitude_deg:.0f}°)"


def way_in_words(distance_deg: float, side_deg: float) -> str:
    """Return how far and to which side of a star one looks on, as one faces it.

    Beyond a fist the side is also given as on the face of a clock, to half an hour: eight sides would miss by
    up to four degrees a fist, the clock misses by less than one and a half.

    >>> way_in_words(14.0, 310.0)
    'one and a half fists (14°) to its upper left, towards half past ten'
    >>> way_in_words(4.2, 178.0), way_in_words(0.2, 10.0)
    ('two fingers (4.2°) below it', 'right at it')
    """
    if distance_deg < RIGHT_AT_DEG:
        return "right at it"
    side = SIDES[round(side_deg / 45.0) % 8]
    towards = f"{side} it" if side in ("above", "below") else f"to its {side}"
    if distance_deg < 0.75 * FIST_DEG:
        return f"{hands_in_words(distance_deg)} ({distance_deg:.1f}°) {towards}"
    return f"{hands_in_words(distance_deg)} ({distance_deg:.0f}°) {towards}, towards {_clock(side_deg)}"


def hands_in_words(angle_deg: float) -> str:
    """Return an angle in half fists, below three quarters of a fist in fingers.

    >>> hands_in_words(44.0), hands_in_words(10.0), hands_in_words(6.0), hands_in_words(0.4)
    ('four and a half fists', 'one fist', 'three fingers', 'a quarter of a finger')
    """
    if angle_deg < 0.75 * FIST_DEG:
        fingers = round(angle_deg / FINGER_DEG)
        if fingers:
            return f"{NUMBERS[fingers]} finger{'s' * (fingers > 1)}"
        return "half a finger" if angle_deg >= 0.375 * FINGER_DEG else "a quarter of a finger"
    whole, half = divmod(round(2.0 * angle_deg / FIST_DEG), 2)
    if whole == 1 and not half:
        return "one fist"
    return f"{NUMBERS[whole]}{' and a half' * half} fists"


def _clock(side_deg: float) -> str:
    hour, half = divmod(round(side_deg / 15.0) % 24, 2)
    return f"half past {HOURS[hour]}" if half else f"{HOURS[hour]} o'clock"
