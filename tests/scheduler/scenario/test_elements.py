"""Elements as the Minor Planet Center gives them, whole, trimmed, blank in places, and spoiled."""

from __future__ import annotations

import json
import math
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import Orbit
from scheduler.scenario.elements import (
    EXPECTED,
    NO_MAGNITUDE,
    orbit_from_mpc_json,
    orbit_from_mpc_line,
    orbit_of,
    unpacked_jd,
)
from scheduler.scenario.notes import Unreadable

# Both lines as carried by skyfielders/python-skyfield, skyfield/tests/test_keplerlib.py.
CERES = (
    "00001    3.4   0.15 K205V 162.68631   73.73161   80.28698   10.58862  0.0775571  0.21406009   2.7676569"
    "  0 MPO492748  6751 115 1801-2019 0.60 M-v 30h Williams   0000      (1) Ceres              20190915"
)
HALE_BOPP = (
    "    CJ95O010  1997 03 29.6333  0.916241  0.994928  130.6448  283.3593   88.9908  20200224  -2.0  4.0"
    "  C/1995 O1 (Hale-Bopp)                                    MPC106342"
)
# The shape of the Center's extended lists; the comet Toba from a public copy of them.
TOBA = {
    "Orbit_type": "C", "Provisional_packed_desig": "J71E010", "Year_of_perihelion": 1971,
    "Month_of_perihelion": 4, "Day_of_perihelion": 8.4027, "Perihelion_dist": 1.261019, "e": 1.000557,
    "Peri": 152.2158, "Node": 103.2844, "i": 110.5572, "Epoch_year": 2020, "Epoch_month": 10, "Epoch_day": 10,
    "H": 9.0, "G": 4.0, "Designation_and_name": "C/1971 E1 (Toba)", "Ref": "83,   64",
}  # fmt: skip
CERES_FIELDS = {
    "H": 3.4, "G": 0.15, "Epoch": 2459000.5, "M": 162.68631, "Peri": 73.73161, "Node": 80.28698,
    "i": 10.58862, "e": 0.0775571, "n": 0.21406009, "a": 2.7676569, "Name": "Ceres",
}  # fmt: skip


def test_a_minor_planets_line() -> None:
    orbit = orbit_of(CERES)
    assert orbit == orbit_from_mpc_line("  " + CERES.lstrip() + "\n")
    assert orbit.perihelion_jd == pytest.approx(2459000.5 - 162.68631 / 0.21406009)
    assert orbit.perihelion_au == pytest.approx(2.7676569 * (1 - 0.0775571))
    assert (orbit.eccentricity, orbit.inclination_deg, orbit.node_deg) == (0.0775571, 10.58862, 80.28698)
    assert (orbit.argument_deg, orbit.absolute_mag, orbit.slope, orbit.comet) == (73.73161, 3.4, 0.15, False)


def test_the_nearest_perihelion_is_taken() -> None:
    # Ten degrees before its perihelion, not 350 after the last.
    orbit = orbit_of(CERES.replace("162.68631", "350.00000"))
    assert orbit.perihelion_jd == pytest.approx(2459000.5 + 10.0 / 0.21406009)


def test_a_comets_line() -> None:
    assert orbit_of(HALE_BOPP) == orbit_of(HALE_BOPP.strip()) == Orbit(
        2450537.1333, 0.916241, 0.994928, 88.9908, 283.3593, 130.6448, -2.0, 4.0, True
    )  # fmt: skip
    for other in ("0001P       ", "0073P      b", "0073P     bb", "    PK10H020"):
        assert orbit_of(HALE_BOPP.replace("    CJ95O010", other)) == orbit_of(HALE_BOPP)


def test_json_says_what_the_line_says() -> None:
    ceres = orbit_of(json.dumps(CERES_FIELDS))
    assert ceres == orbit_of(CERES)
    assert orbit_of(" \n" + json.dumps({k: str(v) for k, v in CERES_FIELDS.items()})) == ceres
    passage = {k: v for k, v in CERES_FIELDS.items() if k not in ("M", "n", "Epoch", "a")}
    passage |= {"Tp": ceres.perihelion_jd, "Perihelion_dist": ceres.perihelion_au}
    assert orbit_from_mpc_json(passage) == ceres
    without_motion = orbit_from_mpc_json({k: v for k, v in CERES_FIELDS.items() if k != "n"})
    assert without_motion.perihelion_jd == pytest.approx(ceres.perihelion_jd, abs=0.001)
    toba = orbit_from_mpc_json(TOBA)
    assert (toba.comet, toba.eccentricity, toba.slope) == (True, 1.000557, 4.0)
    assert toba.perihelion_jd == pytest.approx(2441049.9027)


def test_slopes_may_be_missing_and_magnitudes_may_not() -> None:
    assert orbit_of(CERES.replace("   0.15", "       ")).slope == 0.15
    assert orbit_of(HALE_BOPP.replace("  4.0", "     ")).slope == 4.0
    assert orbit_of(HALE_BOPP.replace("  20200224", "          ")) == orbit_of(HALE_BOPP)
    assert orbit_from_mpc_json({k: v for k, v in TOBA.items() if k != "G"}).slope == 4.0
    without = [
        CERES.replace("    3.4   0.15", "              "), HALE_BOPP.replace("-2.0  4.0", "         "),
        json.dumps({k: v for k, v in TOBA.items() if k != "H"}), json.dumps({**CERES_FIELDS, "H": None}),
    ]  # fmt: skip
    for text in without:
        with pytest.raises(Unreadable) as caught:
            orbit_of(text)
        assert caught.value.expected == NO_MAGNITUDE


def test_packed_dates() -> None:
    # The Center's own examples: J9611 = 1996 Jan. 1, J961A = Jan. 10, J969U = Sept. 30, K01AM = 2001 Oct. 22.
    days = {"J9611": 2450083.5, "J961A": 2450092.5, "J969U": 2450356.5, "K01AM": 2452204.5}
    assert {packed: unpacked_jd(packed) for packed in days} == days


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", EXPECTED), ("Ceres", EXPECTED), ("{", EXPECTED), ("[1]", EXPECTED), ("{}", "as e"),
        (CERES[:60], EXPECTED), (HALE_BOPP[:60], EXPECTED), ("{" * 100000, EXPECTED),
        ("9" * 100000, EXPECTED),
        (CERES.replace("0.0775571", "7.0775571"), "perihelion_au"),
        (CERES.replace("0.21406009", "0.00000000"), "daily motion"),
        (HALE_BOPP.replace(" 03 29", " 13 29"), "calendar"),
        (HALE_BOPP.replace("29.6333", "39.6333"), "calendar"),
        (HALE_BOPP.replace(" 88.9908", "188.9908"), "inclination_deg"),
        (json.dumps({**TOBA, "Peri": "north"}), "Peri"), (json.dumps({**TOBA, "e": True}), "as e"),
        (json.dumps({**TOBA, "e": math.nan}), "eccentricity"),
        (json.dumps({**TOBA, "Year_of_perihelion": 1971.5}), "calendar"),
        (json.dumps({**TOBA, "Month_of_perihelion": math.inf}), "calendar"),
        (json.dumps({**CERES_FIELDS, "M": math.inf}), "anomaly"),
        (json.dumps({**{k: v for k, v in CERES_FIELDS.items() if k != "n"}, "a": 0}), "daily motion"),
    ],
)  # fmt: skip
def test_what_is_spoiled_is_told_and_nothing_worse(text: str, word: str) -> None:
    with pytest.raises(Unreadable) as caught:
        orbit_of(text)
    assert word in caught.value.expected


@given(st.text(max_size=120) | st.text('0123456789. K-{}":,', max_size=160))
def test_no_text_breaks_the_reader(text: str) -> None:
    with suppress(Unreadable):
        assert isinstance(orbit_of(text), Orbit)


FIELDS = st.sampled_from(sorted({**TOBA, **CERES_FIELDS, "Tp": 0}))


@given(st.dictionaries(FIELDS, st.none() | st.floats() | st.text(max_size=5)))
def test_no_object_breaks_the_reader(fields: dict[str, object]) -> None:
    with suppress(Unreadable):
        assert isinstance(orbit_from_mpc_json({**CERES_FIELDS, **fields}), Orbit)
