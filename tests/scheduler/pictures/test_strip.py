"""An evening's sky: every visit where it stands, numbers side by side."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from itertools import combinations
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import Horizon, Plan
from scheduler.pictures import sky_strip
from scheduler.pictures.parted import parted
from scheduler.pictures.strip import lowest_deg, range_of
from tests.small_plan import FIRST, plan, visit

from .drawn import DESK, PHONE, Element, faults_of, number, of_class, read, text_boxes, texts_in

WIDTHS = pytest.mark.parametrize("width", [PHONE, DESK])


def evening(*places: tuple[float, float], **changes: object) -> Plan:
    """Return a plan whose first night has a visit at each altitude and azimuth."""
    visits = [visit("M 42", FIRST, order, 19, order, 1) for order in range(1, len(places) + 1)]
    placed = tuple(
        replace(one, sight=replace(one.sight, altitude_deg=altitude_deg, azimuth_deg=azimuth_deg))
        for one, (altitude_deg, azimuth_deg) in zip(visits, places, strict=True)
    )
    return replace(plan(), visits=placed, **changes)  # type: ignore[arg-type]


def spots(root: Element) -> list[tuple[float, float]]:
    return [(number(one, "cx"), number(one, "cy")) for one in of_class(root, "spot")]


@WIDTHS
def test_altitude_goes_up_and_azimuth_to_the_right(width: float) -> None:
    root = read(sky_strip(evening((20.0, 120.0), (50.0, 180.0), (80.0, 210.0)), FIRST, width=width))
    (x1, y1), (x2, y2), (x3, y3) = spots(root)
    assert (x3 - x2) / (x2 - x1) == pytest.approx(0.5, abs=0.01)
    assert y1 - y2 == pytest.approx(y2 - y3, abs=0.15)
    thirty, sixty = of_class(root, "grid")
    assert number(thirty, "y1") - number(sixty, "y1") == pytest.approx(y1 - y2, abs=0.15)
    assert [one for one in texts_in(root) if one.isdigit()] == ["1", "2", "3"]


@WIDTHS
def test_a_programme_across_north_is_not_torn_apart(width: float) -> None:
    root = read(sky_strip(evening((40.0, 340.0), (40.0, 20.0)), FIRST, width=width))
    (left, _), (right, _) = spots(root)
    north = next(one for one in of_class(root, "strong") if one.text == "N")
    assert left < number(north, "x") < right
    assert number(north, "x") == pytest.approx((left + right) / 2, abs=0.1)


@given(st.lists(st.floats(0.0, 360.0), max_size=12))
def test_any_programme_lies_inside_its_range(azimuths_deg: list[float]) -> None:
    start_deg, span_deg = range_of(azimuths_deg)
    assert 90.0 <= span_deg <= 360.0
    for azimuth_deg in azimuths_deg:
        assert (azimuth_deg - start_deg) % 360 <= span_deg + 1e-6


@WIDTHS
def test_numbers_lie_side_by_side_and_inside_however_many_stand_in_one_place(width: float) -> None:
    places = [(38.0, 170.0)] * 12 + [(88.0, 100.0)] * 4 + [(1.0, 240.0)] * 4
    root = read(sky_strip(evening(*places), FIRST, width=width))
    discs = of_class(root, "spot")
    least = 2 * number(discs[0], "r")
    assert len(discs) == 20
    assert min(hypot(a[0] - b[0], a[1] - b[1]) for a, b in combinations(spots(root), 2)) >= least
    _, _, wide, high = map(float, root.attrib["viewBox"].split())
    r = number(discs[0], "r")
    assert all(r <= x <= wide - r and 0 < y <= high - r for x, y in spots(root))


@given(st.lists(st.tuples(st.floats(0, 300), st.floats(0, 150)), max_size=15))
def test_points_part_as_far_as_asked_and_those_far_apart_stay(points: list[tuple[float, float]]) -> None:
    found = parted(points, 10.0, (0.0, 0.0, 300.0, 150.0))
    assert all(hypot(a[0] - b[0], a[1] - b[1]) >= 10.0 - 0.5 for a, b in combinations(found, 2))
    assert all(0 <= x <= 300 and 0 <= y <= 150 for x, y in found)
    for place, (x, y) in enumerate(points):
        others = points[:place] + points[place + 1 :]
        if all(hypot(x - a, y - b) > 200 for a, b in others):
            assert found[place] == (x, y)


def test_what_stands_round_the_site_is_drawn_as_high_as_it_is() -> None:
    walled = Horizon((100.0, 150.0, 150.0, 260.0), (0.0, 0.0, 30.0, 30.0))
    made = evening((45.0, 120.0), (45.0, 200.0))
    root = read(sky_strip(replace(made, site=replace(made.site, horizon=walled)), FIRST))
    (shape,) = of_class(root, "horizon")
    top = min(float(y) for y in shape.get("d", "").split()[2::3] if y.replace(".", "").isdigit())
    assert top == number(of_class(root, "grid")[0], "y1")
    assert of_class(read(sky_strip(made, FIRST)), "horizon") == []


@given(st.floats(0.0, 360.0))
def test_the_horizon_is_straight_between_its_points(azimuth_deg: float) -> None:
    """Against numpy's interpolation with a period."""
    import numpy as np

    horizon = Horizon((20.0, 100.0, 200.0, 310.0), (5.0, 20.0, 0.0, 40.0))
    expected = np.interp(azimuth_deg, horizon.azimuth_deg, horizon.altitude_deg, period=360.0)
    assert lowest_deg(horizon, azimuth_deg) == pytest.approx(float(expected), abs=1e-9)


@WIDTHS
def test_an_evening_without_a_programme_has_a_strip_all_the_same(width: float) -> None:
    root = read(sky_strip(plan(), date(2027, 1, 16), width=width))
    assert spots(root) == []
    assert {"E", "S", "W"} & set(texts_in(root))


@WIDTHS
def test_text_is_large_enough_and_inside_and_the_strip_is_one_image(width: float) -> None:
    picture = sky_strip(evening(*[(10.0 + 4 * n, 20.0 * n) for n in range(18)]), FIRST, width=width)
    boxes = list(text_boxes(read(picture)))
    assert min(size for _, size, _, _ in boxes) >= 10
    assert all(left >= 0 and right <= width for _, _, left, right in boxes)
    assert faults_of(picture) == []
    root = read(picture)
    assert root.get("role") == "img"
    assert root.get("aria-label") == "Where the 18 targets of 8 January 2027 stand"
