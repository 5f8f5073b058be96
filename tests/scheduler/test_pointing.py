"""Where to point: the geometry against erfa, the words by following them to where they lead."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime

import erfa
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.catalogue.stars import BrightStars
from scheduler.domain import Horizon, Pointing, Site
from scheduler.domain.opportunity import Floats
from scheduler.domain.plan import POINTS
from scheduler.pointing import (
    FARTHEST_DEG,
    HOURS,
    NUMBERS,
    SIDES,
    hands_in_words,
    pointings_of,
    side_of,
    way_in_words,
    where_in_words,
)
from scheduler.sky import altitude_azimuth, apparent_altitude_deg, separation_deg, sidereal_deg, sky_of
from scheduler.sky.place import fixed_places_deg
from tests.scheduler.sky.rigorous import erfa_altitude_azimuth_deg, our_ut1_less_utc_s
from tests.small_season import FLATS, LARKMOOR

# Places and magnitudes from memory.
STARS = BrightStars(
    ("Aldebaran", "Alcyone", "Rigel", "Capella", "Polaris", "Canopus", "Elnath"),
    ("",) * 7,
    ("Taurus", "Taurus", "Orion", "Auriga", "Ursa Minor", "Carina", "Taurus"),
    np.array([68.98, 56.87, 78.63, 79.17, 37.95, 95.99, 81.57]),
    np.array([16.51, 24.11, -8.20, 46.00, 89.26, -52.70, 28.61]),
    np.array([0.87, 2.87, 0.18, 0.08, 1.98, -0.74, 1.65]),
)
CRAB = (83.633, 22.014)
EVENING = date(2027, 1, 8)
NIGHT_TIME = datetime(2027, 1, 8, 22, 20, tzinfo=UTC).timestamp()


def pointed(
    place: tuple[float, float] = CRAB,
    unix_s: float = NIGHT_TIME,
    site: Site = LARKMOOR,
    needs_star: bool = True,
    binoculars_first: bool = False,
    stars: BrightStars = STARS,
) -> Pointing:
    sky, night, moment = sky_of(site, [EVENING]), np.zeros(1, np.int64), np.array([unix_s])
    ra_deg, dec_deg = (p[:, 0] for p in fixed_places_deg(sky, [place[0]], [place[1]]))
    altitude_deg, azimuth_deg = altitude_azimuth(site, ra_deg, dec_deg, sidereal_deg(sky, night, moment))
    return pointings_of(
        sky, night, moment, ra_deg, dec_deg, apparent_altitude_deg(site, altitude_deg), azimuth_deg,
        np.array([needs_star]), np.array([binoculars_first]), stars,
    )[0]  # fmt: skip


def only(*names: str) -> BrightStars:
    rows = [STARS.names.index(name) for name in names]
    columns = (column[rows] for column in (STARS.ra_deg, STARS.dec_deg, STARS.magnitude))
    return BrightStars(names, ("",) * len(rows), tuple(STARS.constellations[row] for row in rows), *columns)


def without(name: str) -> BrightStars:
    return only(*(star for star in STARS.names if star != name))


def test_the_whole_way_is_told() -> None:
    found = pointed()
    assert found.star == "Elnath"
    assert found.words == (
        "South, five and a half fists up (57°). "
        "Start from Elnath in Taurus (1.6 mag): three fingers (6.9°) below it."
    )


def test_a_star_called_by_its_designation_has_its_constellation_once() -> None:
    named = replace(only("Elnath"), names=("Beta Tauri",), designations=("Beta Tauri",))
    assert "Start from Beta Tauri (1.6 mag): " in pointed(stars=named).words


def test_the_brighter_star_is_taken_while_it_is_near_enough() -> None:
    # From the Crab: Aldebaran 15 degrees and 0.87 mag, Alcyone 24 and 2.87, Elnath 7 and 1.65.
    assert pointed(stars=without("Elnath")).star == "Aldebaran"
    fainter = replace(STARS, magnitude=STARS.magnitude + np.eye(7)[6])
    assert pointed(stars=fainter).star == "Elnath"  # a magnitude outweighs three degrees, not eight
    too_faint = replace(STARS, magnitude=STARS.magnitude + 2.3 * np.eye(7)[6])
    assert pointed(stars=too_faint).star == "Aldebaran"


@given(*[st.floats(1.0, 89.0), st.floats(0.0, 360.0)] * 2)
def test_the_side_is_the_position_angle_of_erfa(up: float, round_: float, up2: float, round2: float) -> None:
    # erfa counts from the pole through growing longitude; facing a star, azimuth grows to the right.
    here, there = np.radians([round_, up]), np.radians([round2, up2])
    expected = np.degrees(erfa.pas(*here, *there)) % 360.0
    found = float(side_of(*(np.array(v) for v in (up, round_, up2, round2))))
    apart = abs((found - expected + 180.0) % 360.0 - 180.0)
    assert apart * np.sin(erfa.seps(*here, *there)) < 1e-6


@pytest.mark.parametrize("site", [LARKMOOR, FLATS])
def test_star_distance_and_side_follow_erfa_from_the_catalogue_to_the_eye(site: Site) -> None:
    target, rigel = (84.05, -1.20), (78.63, -8.20)
    moment = np.array([datetime(2027, 1, 8, 20, 30, tzinfo=UTC).timestamp()])
    ra_deg, dec_deg = np.array([target, rigel]).T
    altitude_deg, azimuth_deg = erfa_altitude_azimuth_deg(
        site, ra_deg, dec_deg, moment, our_ut1_less_utc_s(moment), 0.0
    )
    there, here = np.radians([azimuth_deg, altitude_deg]).T
    apart_deg = np.degrees(erfa.seps(*here, *there))
    side_deg = np.degrees(erfa.pas(*here, *there)) % 360.0
    found = pointed(target, float(moment[0]), site)
    assert found.star == "Rigel"
    assert found.distance_deg == pytest.approx(apart_deg, abs=0.01)
    assert way_in_words(float(apart_deg), float(side_deg)) in found.words


def test_what_is_upper_left_in_the_north_is_lower_right_in_the_south() -> None:
    # Orion stands on its head south of the equator.
    sword, earlier = (83.8, -5.4), datetime(2027, 1, 8, 20, 47, tzinfo=UTC).timestamp()
    rigel = only("Rigel")
    north = pointed(sword, stars=rigel).words
    south = pointed(sword, earlier, FLATS, stars=rigel).words
    assert ("upper left" in north, "lower right" in south) == (True, True)


def directions(text: str) -> tuple[float, float]:
    """Follow the words that say how far and to which side: degrees, and degrees from straight up."""
    if text == "right at it":
        return 0.0, 0.0
    found = re.fullmatch(r"(.+) \((\d+\.?\d*)°\) (?:to its )?([a-z ]+?)(?: it)?(?:, towards (.+))?", text)
    assert found is not None
    hands, figure, side, clock = found.groups()
    assert eyed(hands) == pytest.approx(float(figure), abs=2.6 if "fist" in hands else 1.05)
    if clock is None:
        return float(figure), 45.0 * SIDES.index(side)
    hour = HOURS.index(clock.removeprefix("half past ").removesuffix(" o'clock"))
    return float(figure), 30.0 * hour + 15.0 * clock.startswith("half past")


def eyed(hands: str) -> float:
    """Measure out fists and fingers."""
    if hands in ("half a finger", "a quarter of a finger"):
        return 1.0 if hands.startswith("half") else 0.5
    half = 0.5 * (" and a half" in hands)
    count = NUMBERS.index(hands.split()[0]) + half
    return count * (10.0 if "fist" in hands else 2.0)


@given(st.floats(0.0, FARTHEST_DEG), st.floats(0.0, 360.0), st.floats(5.0, 70.0))
def test_who_follows_the_words_lands_near_the_target(
    distance_deg: float, side_deg: float, altitude_deg: float
) -> None:
    far, side = directions(way_in_words(distance_deg, side_deg))
    ends = [landing(altitude_deg, *way) for way in ((distance_deg, side_deg), (far, side))]
    # Half a degree of rounding, and half a side (22.5 degrees) below a fist, half a step of the clock beyond.
    off_deg = float(separation_deg(*ends[0], *ends[1]))
    assert off_deg <= 0.5 + distance_deg * np.radians(22.6 if distance_deg < 7.5 else 7.6)


def landing(altitude_deg: float, distance_deg: float, side_deg: float) -> tuple[Floats, Floats]:
    """Walk from azimuth 0 and an altitude so far towards that side; azimuth and altitude of the end."""
    up, far, side = np.radians([altitude_deg, distance_deg, side_deg])
    height = np.sin(up) * np.cos(far) + np.cos(up) * np.sin(far) * np.cos(side)
    turn = np.arctan2(np.sin(side) * np.sin(far) * np.cos(up), np.cos(far) - np.sin(up) * height)
    return np.degrees(turn), np.degrees(np.arcsin(height))


@given(st.floats(0.0, 90.0), st.floats(0.0, 359.99))
def test_direction_and_height_can_be_read_back(altitude_deg: float, azimuth_deg: float) -> None:
    words = where_in_words(altitude_deg, azimuth_deg)
    (figure,) = re.findall(r"\((\d+)°\)", words)
    assert abs(int(figure) - altitude_deg) <= 0.5
    if altitude_deg < 85.0:
        point = POINTS.index(words.split(",")[0].lower())
        assert abs((22.5 * point - azimuth_deg + 180.0) % 360.0 - 180.0) <= 11.25 + 1e-9
    if 1.0 <= altitude_deg < 85.0:
        assert abs(eyed(words.split(", ")[1].split(" up")[0]) - altitude_deg) <= 2.5 + 1e-9


def test_hands_have_their_singular() -> None:
    assert (hands_in_words(2.0), hands_in_words(10.0), hands_in_words(15.0)) == (
        "one finger", "one fist", "one and a half fists",
    )  # fmt: skip


def test_a_star_below_the_horizon_or_behind_the_house_is_not_named() -> None:
    # Canopus never rises at 55 degrees north.
    near_canopus = (95.0, -35.0)
    assert pointed(near_canopus).star != "Canopus"
    assert pointed(near_canopus, site=FLATS).star == "Canopus"
    walled = replace(FLATS, horizon=Horizon((0.0, 359.0), (85.0, 85.0)))
    assert pointed(near_canopus, site=walled).star is None


@pytest.mark.parametrize(
    ("place", "star"),
    [((83.881, -5.267), "Hatysa"), ((83.819, -5.391), "Hatysa"), ((83.1, -2.0), "Alnitak")],
    ids=["M 43", "M 42", "between"],
)
def test_a_star_in_the_same_field_wins_over_a_brighter_one_farther_off(
    place: tuple[float, float], star: str
) -> None:
    belt_and_sword = BrightStars(
        ("Alnitak", "Hatysa"), ("", ""), ("Orion", "Orion"), np.array([85.19, 83.86]),
        np.array([-1.94, -5.91]), np.array([1.74, 2.77]),
    )  # fmt: skip
    assert pointed(place, stars=belt_and_sword).star == star


def test_where_no_bright_star_is_near_the_words_say_so() -> None:
    found = pointed((200.0, 60.0))
    assert (found.star, found.star_magnitude, found.distance_deg) == (None, None, None)
    assert found.words.endswith("No bright star shows near enough to start from.")


def test_in_twilight_only_the_brightest_stars_are_named() -> None:
    dusk = datetime(2027, 1, 8, 16, 50, tzinfo=UTC).timestamp()  # the Sun about 7 degrees down
    near_pleiades = (57.5, 24.1)
    assert pointed(near_pleiades).star == "Alcyone"
    assert pointed(near_pleiades, dusk).star == "Aldebaran"


def test_what_is_plain_to_the_eye_needs_no_star() -> None:
    found = pointed(needs_star=False)
    assert found.star is None
    assert found.words == "South, five and a half fists up (57°). No star is needed to find it there."


def test_binoculars_come_first_where_they_help() -> None:
    found = pointed(binoculars_first=True)
    assert found.binoculars_first
    assert found.words.endswith("Find it in binoculars first.")
    assert "inoculars" not in pointed().words


def test_a_star_itself_is_pointed_right_at() -> None:
    # without a catalogue's magnitude: Algol at its minimum has 3.4 mag, not 2.1
    assert pointed((68.98, 16.51)).words.endswith("The bright star Aldebaran marks the place.")


def test_many_at_once_are_each_as_alone() -> None:
    sky = sky_of(LARKMOOR, [EVENING, date(2027, 1, 9)])
    dice = np.random.default_rng(3)
    count = 1201
    night = dice.integers(0, 2, count)
    unix_s = sky.midnight_unix_s[night] + dice.uniform(-1e4, 1e4, count)
    ra_deg, dec_deg = dice.uniform(0, 360, count), dice.uniform(-30, 90, count)
    altitude_deg, azimuth_deg = altitude_azimuth(LARKMOOR, ra_deg, dec_deg, sidereal_deg(sky, night, unix_s))

    def some(part: slice) -> tuple[Pointing, ...]:
        return pointings_of(
            sky, night[part], unix_s[part], ra_deg[part], dec_deg[part], altitude_deg[part],
            azimuth_deg[part], np.ones(count, bool)[part], np.zeros(count, bool)[part],
        )  # fmt: skip

    together = some(slice(None))
    for row in (0, 499, 500, 999, 1000, 1200):
        assert some(slice(row, row + 1)) == (together[row],)
    assert sum(pointing.star is not None for pointing in together) > count / 2
    assert some(slice(0)) == ()
