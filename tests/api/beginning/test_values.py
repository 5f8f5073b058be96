from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.beginning.values import (
    ANGLES_DEG,
    HEIGHTS_M,
    LENGTHS_MM,
    TIMES,
    Units,
    binoculars,
    day,
    degrees,
    number,
    share,
    stretches,
)


@given(st.floats(-90, 90))
def test_a_plain_latitude_is_itself(latitude_deg: float) -> None:
    assert degrees(repr(latitude_deg), "NS") == latitude_deg


@given(st.integers(0, 89), st.integers(0, 59), st.integers(0, 59), st.sampled_from("NS"))
def test_degrees_minutes_and_seconds_are_what_they_were(
    degree: int, minute: int, second: int, side: str
) -> None:
    size_deg = degree + minute / 60 + second / 3600
    wanted = size_deg if side == "N" else -size_deg
    for written in (f"{degree}°{minute}'{second}\"{side}", f"{degree} {minute} {second} {side.lower()}",
                    f"{degree}° {minute}′ {second}″ {side}"):  # fmt: skip
        assert degrees(written, "NS") == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize(
    "written", ["47.2 E", "-47 N", "47° 72′", "north", "", "47;11", "47.2, 11.4", "١٢", "1e999", "47 10 80"]
)
def test_what_is_no_latitude_is_left_for_the_reader_to_refuse(written: str) -> None:
    assert degrees(written, "NS") == written


@given(st.text(max_size=30))
def test_anything_typed_is_a_number_or_itself(written: str) -> None:
    for read in (number(written), share(written), degrees(written, "EW")):
        assert isinstance(read, int | float) or read == written


def test_a_date_that_is_none_is_itself() -> None:
    assert day("2027-02-28") == date(2027, 2, 28)
    assert day("2027-02-29") == "2027-02-29"


@pytest.mark.parametrize("between", ["\n", ", ", ";", "\n\n  "])
def test_dates_may_be_listed_in_any_way(between: str) -> None:
    assert stretches(between.join(["2027-07-10", "2027-08-01 to 2027-08-03"])) == [
        "2027-07-10", "2027-08-01..2027-08-03"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("written", "units", "size"),
    [("920 m", HEIGHTS_M, 920), ("150mm", LENGTHS_MM, 150), ("15 cm", LENGTHS_MM, 150),
     ("20,3 cm", LENGTHS_MM, 203), ("10 MM", LENGTHS_MM, 10), ("2x", TIMES, 2), ("2.5 ×", TIMES, 2.5),
     ("50°", ANGLES_DEG, 50), ("−3 m", HEIGHTS_M, -3)],
)  # fmt: skip
def test_a_unit_may_stand_behind_a_number(written: str, units: Units, size: float) -> None:
    assert number(written, units) == size


@pytest.mark.parametrize("written", ["8 in", "15 cm cm", "cm", "2x", "wide mm", ""])
def test_a_unit_of_something_else_is_left_for_the_reader_to_refuse(written: str) -> None:
    assert number(written, LENGTHS_MM) == written


@pytest.mark.parametrize("written", ["10", "10x", "x50", "10x50x3", "ten x 50", ""])
def test_binoculars_are_two_figures_or_not_told(written: str) -> None:
    assert binoculars(written) is None
