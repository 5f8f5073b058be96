"""Where the Moon stands, told from a programme alone, against where the ephemeris has her."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import cache

import numpy as np
import pytest

from scheduler.domain import Site, Span, Visit
from scheduler.pictures import sky_strip
from scheduler.pictures.moonspot import moon_spot
from scheduler.sky.heavens import Heavens, heavens_between
from scheduler.sky.lights import moon_seen
from tests.small_plan import FIRST, plan, visit
from tests.small_season import FLATS, LARKMOOR, POINT

from .drawn import SVG, number, of_class, read

NIGHTS = 60
FIRST_EVENING = datetime(2027, 1, 3, 18, tzinfo=UTC)


def _direction(altitude_deg: float, azimuth_deg: float) -> list[float]:
    high, turn = np.radians(altitude_deg), np.radians(azimuth_deg)
    return [np.cos(high) * np.cos(turn), np.cos(high) * np.sin(turn), np.sin(high)]


@cache
def heavens() -> Heavens:
    start_s = FIRST_EVENING.timestamp()
    return heavens_between(start_s, start_s + 86400.0 * (3 * NIGHTS + 1))


def moon(site: Site, moment: datetime) -> tuple[float, float]:
    """Return the altitude and azimuth the ephemeris gives her. [deg]"""
    seen = moon_seen(site, heavens(), np.array([moment.timestamp()]))
    return float(seen.altitude_deg[0]), float(seen.azimuth_deg[0])


def programme(site: Site, evening: datetime, targets: list[tuple[float, float]]) -> list[Visit]:
    """Return visits every forty minutes, each with a target in this altitude and azimuth."""
    made = []
    for order, place in enumerate(targets, 1):
        start = evening + timedelta(minutes=40 * order)
        time = Span(start, start + timedelta(minutes=20))
        altitude_deg, azimuth_deg = moon(site, time.middle)
        between = np.dot(_direction(*place), _direction(altitude_deg, azimuth_deg))
        apart_deg = float(np.degrees(np.arccos(np.clip(between, -1.0, 1.0))))
        one = visit("M 42", FIRST, order, 19, 0, 20)
        sight = replace(
            one.sight, altitude_deg=place[0], azimuth_deg=place[1], moon_altitude_deg=altitude_deg,
            moon_separation_deg=apart_deg,
        )  # fmt: skip
        made.append(replace(one, time=time, sight=sight))
    return made


def evenings(site: Site) -> list[list[Visit]]:
    """Return programmes of two to seven targets anywhere in the sky, every third evening of half a year."""
    rng = np.random.default_rng(7)
    found = []
    for night in range(NIGHTS):
        count = int(rng.integers(2, 8))
        targets = [(float(rng.uniform(10, 85)), float(rng.uniform(0, 360))) for _ in range(count)]
        found.append(programme(site, FIRST_EVENING + timedelta(days=3 * night), targets))
    return found


@pytest.mark.parametrize("site", [LARKMOOR, FLATS, POINT], ids=["north", "south", "arctic"])
def test_she_stands_where_the_ephemeris_says(site: Site) -> None:
    up, told = 0, 0
    for visits in evenings(site):
        up += sum(one.sight.moon_altitude_deg > 0.5 for one in visits) > 1
        if (spot := moon_spot(visits, site.latitude_deg)) is None:
            continue
        altitude_deg, azimuth_deg = moon(site, spot[2].time.middle)
        assert spot[0] == pytest.approx(altitude_deg)
        turn_deg = (spot[1] - azimuth_deg + 180.0) % 360.0 - 180.0
        assert abs(turn_deg) < 0.01
        told += 1
    assert up >= 20
    assert told >= 0.8 * up


def test_she_is_left_out_while_she_is_down_and_where_her_side_cannot_be_told() -> None:
    visits = next(one for one in evenings(LARKMOOR) if moon_spot(one, 55.2) and len(one) > 3)
    assert moon_spot([], 55.2) is None
    down = [replace(one, sight=replace(one.sight, moon_altitude_deg=-5.0)) for one in visits]
    assert moon_spot(down, 55.2) is None
    up = [one for one in visits if one.sight.moon_altitude_deg > 0.5]
    assert moon_spot(up[:1], 55.2) is None  # left or right of a single target: who knows
    apart = [60.0, 25.0, 90.0, 15.0, 120.0, 45.0, 75.0]
    wrong = [
        replace(one, sight=replace(one.sight, moon_separation_deg=far))
        for one, far in zip(up, apart, strict=False)
    ]
    assert moon_spot(wrong, 55.2) is None  # distances that fit no single place


def test_beside_her_own_features_one_visit_is_enough() -> None:
    start = next(one for one in evenings(LARKMOOR) if moon_spot(one, 55.2))[0].time.start
    altitude_deg, azimuth_deg = moon(LARKMOOR, start + timedelta(minutes=50))
    (feature,) = programme(LARKMOOR, start, [(altitude_deg, azimuth_deg)])
    spot = moon_spot([feature], 55.2)
    assert spot is not None
    assert spot[:2] == pytest.approx((altitude_deg, azimuth_deg), abs=0.1)


@pytest.mark.parametrize("width", [344.0, 1000.0])
def test_the_strip_draws_her_where_she_stands_and_puts_no_number_over_her(width: float) -> None:
    evening = datetime(2027, 1, 18, 20, tzinfo=UTC)
    on_her = moon(LARKMOOR, evening + timedelta(minutes=90))
    visits = programme(LARKMOOR, evening, [(40.0, 60.0), on_her, (60.0, 200.0)])
    told = moon_spot(visits, 55.2)
    assert told is not None
    root = read(sky_strip(replace(plan(), visits=tuple(visits)), FIRST, width=width))
    (disc,) = (one for one in root.iter(f"{SVG}circle") if (one.get("class") or "").startswith("moon"))
    foot = max(number(one, "y1") for one in of_class(root, "base"))
    risen = (foot - number(disc, "cy")) / (foot - number(of_class(root, "grid")[0], "y1")) * 30.0
    assert risen == pytest.approx(told[0], abs=0.2)
    for one in of_class(root, "spot"):
        away = np.hypot(number(one, "cx") - number(disc, "cx"), number(one, "cy") - number(disc, "cy"))
        assert away >= 2 * number(one, "r")
    assert f"; the Moon {told[0]:.0f}° up in the " in (root.get("aria-label") or "")
    without = read(sky_strip(plan(), date(2027, 1, 15), width=width))
    assert "Moon" not in (without.get("aria-label") or "")
    assert of_class(without, "moon-lit") + of_class(without, "moon-dark") == []
