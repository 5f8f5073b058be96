"""Magnitudes are mended where they are wrong and left alone where they are right."""

from __future__ import annotations

from statistics import median

import pytest

from scheduler.catalogue import look_up, ongc, tables
from scheduler.catalogue.repair import (
    GALAXIES,
    GALAXY_COLOUR,
    OTHER_COLOUR,
    SANE_COLOUR,
    hubble_class,
    visual_magnitude,
)
from scheduler.sky import separation_deg

ROWS = [row for row in ongc.rows() if row.type not in ("Dup", "NonEx")]
REPLACED = {look_up(name).identity for name, seen in tables.seen().items() if seen.magnitude is not None}
COUNTED = {
    "none": 3602, "unknown": 1803, "galaxy without V": 7153, "galaxy of impossible colour": 541,
    "cluster or nebula without V": 115, "globular of Harris": 106, "our table": 50,
}  # fmt: skip
"""How many rows of the open catalogue owe their magnitude to which repair."""


def test_a_sane_v_is_never_touched() -> None:
    sane = [row for row in ROWS if row.type == "G" and row.b_mag is not None and row.v_mag is not None
            and SANE_COLOUR[0] <= row.b_mag - row.v_mag <= SANE_COLOUR[1]]  # fmt: skip
    assert len(sane) > 2000
    touched = {entry.identity for row in sane if (entry := look_up(row.name)).magnitude != row.v_mag}
    assert touched <= REPLACED
    assert len(touched) <= 10, "our table of showpieces replaces few"


def test_a_missing_or_impossible_v_comes_from_b() -> None:
    assert visual_magnitude("G", 14.0, None, "E") == pytest.approx(13.03)
    assert visual_magnitude("G", 14.0, 14.1, "Sc") == pytest.approx(13.41)
    assert visual_magnitude("G", 14.0, 10.0, "Sc") == pytest.approx(13.41)
    assert visual_magnitude("OCl", 7.0, None) == pytest.approx(6.63)
    assert visual_magnitude("HII", 7.0, None) == 7.0
    assert visual_magnitude("G", None, 12.0) == 12.0
    assert visual_magnitude("G", None, None) is None


def test_a_cluster_or_nebula_with_a_v_keeps_it_whatever_its_colour() -> None:
    assert visual_magnitude("PN", 9.7, 8.8) == 8.8
    assert visual_magnitude("OCl", 4.0, 6.0) == 6.0


@pytest.mark.parametrize("of_class", GALAXY_COLOUR)
def test_the_usual_colours_are_the_catalogues_own_medians(of_class: str) -> None:
    colours = [row.b_mag - row.v_mag for row in ROWS
               if row.type == "G" and hubble_class(row.hubble) == of_class
               and row.b_mag is not None and row.v_mag is not None
               and SANE_COLOUR[0] <= row.b_mag - row.v_mag <= SANE_COLOUR[1]]  # fmt: skip
    assert len(colours) > 50
    assert median(colours) == pytest.approx(GALAXY_COLOUR[of_class], abs=0.03)


@pytest.mark.parametrize("sort", OTHER_COLOUR)
def test_other_usual_colours_are_medians_too(sort: str) -> None:
    colours = [row.b_mag - row.v_mag for row in ROWS
               if row.type == sort and row.b_mag is not None and row.v_mag is not None]  # fmt: skip
    assert median(colours) == pytest.approx(OTHER_COLOUR[sort], abs=0.02)


def test_guessing_v_from_b_is_good_to_a_fifth_of_a_magnitude_four_times_in_five() -> None:
    errors = [abs(guess - row.v_mag) for row in ROWS
              if row.type == "G" and row.b_mag is not None and row.v_mag is not None
              and SANE_COLOUR[0] <= row.b_mag - row.v_mag <= SANE_COLOUR[1]
              and (guess := visual_magnitude("G", row.b_mag, None, row.hubble)) is not None]  # fmt: skip
    assert median(errors) < 0.1
    assert sorted(errors)[int(0.8 * len(errors))] < 0.2


def test_mending_helps_most_galaxies_without_v() -> None:
    blank = [row for row in ROWS if row.type == "G" and row.v_mag is None]
    assert len(blank) > 7000
    mended = [row for row in blank if look_up(row.name).magnitude is not None]
    assert len(mended) / len(blank) > 0.99


def test_every_globular_of_harris_is_a_globular_here_and_takes_his_magnitude() -> None:
    table = tables.globular_magnitudes()
    assert len(table) > 100
    for designation, magnitude in table.items():
        entry = look_up(designation)
        assert entry.what in ("globular cluster", "open cluster"), designation
        assert entry.magnitude == magnitude, designation


def test_the_worst_globulars_were_worth_mending() -> None:
    catalogued = {row.name: row.v_mag for row in ROWS if row.type == "GCl"}
    for name in ("NGC6402", "NGC6254", "NGC6838", "NGC6681", "NGC6273"):  # M 14, 10, 71, 70, 19
        was, now = catalogued[name], look_up(name).magnitude
        assert was is not None
        assert now is not None
        assert abs(was - now) > 1.0


def repair_of(row: ongc.Row, identity: str) -> str:
    """Return which repair gives an object its magnitude."""
    if identity in REPLACED:
        return "our table"
    if identity in tables.globular_magnitudes():
        return "globular of Harris"
    if row.b_mag is None or visual_magnitude(row.type, row.b_mag, row.v_mag, row.hubble) == row.v_mag:
        return "none" if row.v_mag is not None else "unknown"
    if row.type in GALAXIES:
        return "galaxy without V" if row.v_mag is None else "galaxy of impossible colour"
    return "cluster or nebula without V"


def test_each_repair_touches_as_many_rows_as_counted_and_no_other() -> None:
    counts = dict.fromkeys(COUNTED, 0)
    for row in ROWS:
        if row.ra_deg is None or row.name == "M040":
            continue
        entry = look_up(row.name)
        repair = repair_of(row, entry.identity)
        counts[repair] += 1
        if repair in ("none", "unknown"):
            assert entry.magnitude == row.v_mag, row.name
        elif repair != "our table":
            assert entry.magnitude is not None, row.name
            assert entry.magnitude != row.v_mag or repair == "globular of Harris", row.name
    assert counts == COUNTED


def test_the_catalogues_surface_brightness_is_never_read() -> None:
    assert "sbright" not in ongc.COLUMNS


def test_the_coalsack_is_pointed_at_its_middle() -> None:
    """By two lists from memory: 12h53m -63 deg, as Moore's, and 12h42m -63 deg 44'."""
    coalsack, (row,) = look_up("Coalsack"), [row for row in ROWS if row.name == "C099"]
    assert (coalsack.ra_deg, coalsack.dec_deg) == (193.25, -63.0)
    assert separation_deg(193.25, -63.0, 190.5, -63.73) < 1.5
    assert row.ra_deg is not None
    assert row.dec_deg is not None
    assert separation_deg(193.25, -63.0, row.ra_deg, row.dec_deg) > 2.0
