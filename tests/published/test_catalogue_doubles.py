"""Our double stars against figures from elsewhere.

Sources: `double_orbits.csv`, `double_separations.csv` and `hipparcos_pairs.csv`, each with its own source at
its head; our bright stars, whose source is told in `scheduler/catalogue/stars.py`. The worked example of an
orbit is from memory of J. Meeus, Astronomical Algorithms, chapter 57.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from scheduler.catalogue import Entry, look_up, tables
from scheduler.catalogue.stars import bright_stars
from scheduler.domain import Kind, Pair

HERE = Path(__file__).parent
YEAR = 2027.0
PIECES = list(tables.doubles())


def published(name: str) -> list[dict[str, str]]:
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


ORBITS = published("double_orbits.csv")
SEPARATIONS = published("double_separations.csv")
HIPPARCOS = published("hipparcos_pairs.csv")
WITH_ORBIT = {look_up(row["designation"]).identity for row in ORBITS}


def pair_of(entry: Entry) -> Pair:
    assert isinstance(entry.nature, Pair)
    return entry.nature


def apart_arcmin(entry: Entry, ra_deg: float, dec_deg: float) -> float:
    assert entry.ra_deg is not None
    assert entry.dec_deg is not None
    ra = (entry.ra_deg - ra_deg) * math.cos(math.radians(dec_deg))
    return 60.0 * math.hypot(ra, entry.dec_deg - dec_deg)


def seen_at(orbit: dict[str, str], year: float) -> tuple[float, float]:
    """Return separation [arcsec] and position angle [deg] of a visual binary from its elements."""
    node, inclination, argument = (
        math.radians(float(orbit[key])) for key in ("node_deg", "inclination_deg", "argument_deg")
    )
    eccentricity, axis = float(orbit["eccentricity"]), float(orbit["axis_arcsec"])
    mean = math.tau * ((year - float(orbit["periastron_y"])) / float(orbit["period_y"]) % 1.0)
    anomaly = math.pi
    for _ in range(60):  # Newton's way through Kepler's equation
        step = anomaly - eccentricity * math.sin(anomaly) - mean
        anomaly -= step / (1.0 - eccentricity * math.cos(anomaly))
    along = axis * (math.cos(anomaly) - eccentricity)
    across = axis * math.sqrt(1.0 - eccentricity**2) * math.sin(anomaly)
    radius, angle = math.hypot(along, across), math.atan2(across, along) + argument
    east, north = math.sin(angle) * math.cos(inclination), math.cos(angle)
    separation = radius * math.hypot(east, north)
    return separation, math.degrees(math.atan2(east, north) + node) % 360.0


def test_an_orbit_is_followed_as_in_the_worked_example() -> None:
    # Eta Coronae Borealis at 1980.0: 318.4 deg, 0.411".
    eta = {
        "period_y": "41.623", "periastron_y": "1934.008", "eccentricity": "0.2763", "axis_arcsec": "0.907",
        "inclination_deg": "59.025", "node_deg": "23.717", "argument_deg": "219.907",
    }  # fmt: skip
    separation, angle = seen_at(eta, 1980.0)
    assert separation == pytest.approx(0.411, abs=0.001)
    assert angle == pytest.approx(318.4, abs=0.1)


def test_at_least_a_hundred_doubles_of_both_hemispheres_each_whole_and_with_a_source() -> None:
    assert len(PIECES) >= 150
    assert sum((piece.entry.dec_deg or 0.0) < -20.0 for piece in PIECES) >= 40
    for piece in PIECES:
        pair = pair_of(piece.entry)
        assert piece.entry.kind is Kind.DOUBLE_STAR
        assert pair.position_angle_deg is not None, piece.entry.identity
        assert 1.0 < pair.separation_arcsec < 720.0
        assert piece.source, piece.entry.identity


@pytest.mark.parametrize("orbit", ORBITS, ids=lambda row: row["designation"])
def test_pairs_stand_where_their_orbits_put_them(orbit: dict[str, str]) -> None:
    entry = look_up(orbit["designation"])
    pair = pair_of(entry)
    separation, angle = seen_at(orbit, YEAR)
    assert pair.separation_arcsec == pytest.approx(separation, abs=max(0.15, 0.05 * separation))
    assert turned_deg(pair.position_angle_deg, angle) < 7.0
    assert pair.bright_mag == pytest.approx(float(orbit["bright_mag"]), abs=0.2)
    assert pair.faint_mag == pytest.approx(float(orbit["faint_mag"]), abs=0.2)
    wds = orbit["wds"]  # hours, minutes and tenths, then degrees and minutes
    ra_deg = 15.0 * (int(wds[:2]) + int(wds[2:5]) / 600.0)
    dec_deg = math.copysign(int(wds[6:8]) + int(wds[8:]) / 60.0, -1.0 if wds[5] == "-" else 1.0)
    assert apart_arcmin(entry, ra_deg, dec_deg) < 4.0, "the designation is cut to the minute"


@pytest.mark.parametrize("row", SEPARATIONS, ids=lambda row: row["star"])
def test_pairs_have_the_place_and_separation_of_the_observing_list(row: dict[str, str]) -> None:
    entry = look_up(row["star"])
    sign = -1.0 if row["dec_deg"].startswith("-") else 1.0
    dec_deg = sign * (abs(int(row["dec_deg"])) + int(row["dec_min"]) / 60.0)
    ra_deg = 15.0 * (int(row["ra_h"]) + float(row["ra_min"]) / 60.0)
    assert apart_arcmin(entry, ra_deg, dec_deg) < 3.0, "the list is rounded to minutes"
    measured = float(row["separation_arcsec"])
    within = 0.25 if entry.identity in WITH_ORBIT else 0.09  # those with an orbit have moved since
    assert pair_of(entry).separation_arcsec == pytest.approx(measured, rel=within)


def turned_deg(ours: float | None, theirs: float) -> float:
    assert ours is not None
    return abs((ours - theirs + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize("row", HIPPARCOS, ids=lambda row: row["star"])
def test_pairs_are_where_hipparcos_saw_them(row: dict[str, str]) -> None:
    entry = look_up(row["star"])
    pair = pair_of(entry)
    assert apart_arcmin(entry, float(row["ra_deg"]), float(row["dec_deg"])) < 0.05
    if entry.identity != "Rasalgethi":  # varies by half a magnitude
        hp_mag, entry_mag = float(row["hp_mag"]), entry.magnitude or 99.0
        as_one = pair.bright_mag if entry.identity != "Alcor" else pair.faint_mag
        assert min(abs(hp_mag - as_one), abs(hp_mag - entry_mag)) < 0.4
    if row["companion_hip"] and entry.identity not in WITH_ORBIT:
        assert pair.separation_arcsec == pytest.approx(float(row["separation_arcsec"]), rel=0.04)
        assert turned_deg(pair.position_angle_deg, float(row["position_angle_deg"])) < 4.0


def test_hipparcos_saw_nearly_all_of_them() -> None:
    assert len({row["star"] for row in HIPPARCOS}) == len(HIPPARCOS) == len(PIECES) - 3
    assert sum(bool(row["companion_hip"]) for row in HIPPARCOS) > 50
    for piece in PIECES:
        if "agree with Hipparcos" in piece.source:
            row = next(row for row in HIPPARCOS if row["star"] == piece.entry.identity)
            assert row["companion_hip"], piece.entry.identity


def test_primaries_are_among_our_bright_stars_and_as_bright() -> None:
    stars = bright_stars()
    met = 0
    for piece in PIECES:
        pair, entry = pair_of(piece.entry), piece.entry
        near = [
            (apart_arcmin(entry, float(ra), float(dec)), float(magnitude))
            for ra, dec, magnitude in zip(stars.ra_deg, stars.dec_deg, stars.magnitude, strict=True)
            if abs(float(dec) - (entry.dec_deg or 0.0)) < 0.1
        ]
        distance, magnitude = min(near, default=(99.0, 0.0))
        if distance > 5.0:
            assert pair.bright_mag > 3.3 or entry.identity == "Alcor", f"{entry.identity} is missing there"
            continue
        met += 1
        assert distance < 1.0, entry.identity
        wide = pair.separation_arcsec > 60.0
        ours = pair.bright_mag if wide else entry.magnitude
        assert magnitude == pytest.approx(ours, abs=0.3), entry.identity
    assert met >= 45
