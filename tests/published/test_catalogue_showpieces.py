"""Showpieces as the eye sees them, against the open catalogue and against an observer's list.

Sources: the untouched rows of OpenNGC; `deep_sky_sizes.csv`, an observer's list whose source stands at its
head. The bounds are ours: an eye sees a cluster about as wide as a list says, but only part of what a
photograph shows of a nebula.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from scheduler.catalogue import Entry, look_up, ongc, tables
from scheduler.domain import Extended

LINES = (Path(__file__).parent / "deep_sky_sizes.csv").read_text(encoding="utf-8").splitlines()
LISTED = list(csv.DictReader(line for line in LINES if not line.startswith("#")))
SEEN = tables.seen()
OURS = {piece.entry.identity: piece for piece in tables.showpieces()}
ROWS = {look_up(row.name).identity: row for row in ongc.rows() if row.type not in ("Dup", "NonEx")}

BRIGHTER_OR_FAINTER = {
    "Stock 23": "a scattered cluster; the list's 7 counts its middle",
    "M 24": "over its size the list's 4.5 would be fainter than the Milky Way beside it",
}
OTHER_SIZE = {
    "C 37": "the list has the knot about 20 Vulpeculae",
    "Stock 23": "the list has its middle",
    "C 74": "the list has its inner ring",
    "M 6": "between the list's 15 and others' 25",
    "M 8": "the list has all that plates show; ours is its bright part",
}
"""Where we differ from the list, and why."""

AS_WIDE = {  # smallest and largest of ours over the list's
    "open cluster": (0.85, 1.15), "globular cluster": (0.95, 1.05), "planetary nebula": (0.8, 2.5),
    "emission nebula": (0.35, 1.15), "reflection nebula": (0.5, 1.05), "dark nebula": (0.45, 1.2),
    "supernova remnant": (0.9, 1.05), "cluster with nebula": (0.75, 1.05), "asterism": (0.9, 1.1),
    "galaxy": (0.6, 1.3), "star cloud": (0.5, 1.1),
}  # fmt: skip


def shape_of(entry: Entry) -> Extended:
    assert isinstance(entry.nature, Extended)
    return entry.nature


def all_showpieces() -> list[Entry]:
    return [*(look_up(name) for name in SEEN), *(piece.entry for piece in OURS.values())]


def test_there_are_enough_for_either_hemisphere() -> None:
    decs_deg = [entry.dec_deg or 0.0 for entry in all_showpieces()]
    assert len({entry.identity for entry in all_showpieces()}) == len(decs_deg) >= 250
    assert sum(dec_deg < -20.0 for dec_deg in decs_deg) >= 90
    assert sum(dec_deg > 0.0 for dec_deg in decs_deg) >= 110


def test_every_row_names_its_source_and_says_something() -> None:
    for name, seen in SEEN.items():
        assert seen.source, name
        assert any((seen.what, seen.magnitude, seen.major_arcmin, seen.minor_arcmin, seen.stars)), name
        assert seen.minor_arcmin is None or seen.major_arcmin is not None, name
    assert all(piece.source for piece in OURS.values())


def test_nearly_all_have_a_size_and_what_is_not_dark_a_magnitude() -> None:
    for entry in all_showpieces():
        assert entry.size_arcmin is not None, entry.identity
        faint = entry.what in ("dark nebula",) or entry.identity.startswith("Sh2-")
        assert faint or entry.magnitude is not None, entry.identity
        minor_arcmin = shape_of(entry).minor_arcmin
        assert minor_arcmin is None or 0.0 < minor_arcmin <= entry.size_arcmin, entry.identity


def test_clusters_say_how_many_stars_their_light_comes_from() -> None:
    clusters = [entry for entry in all_showpieces() if entry.what == "open cluster"]
    assert len(clusters) > 90
    for entry in clusters:
        stars = shape_of(entry).stars
        assert stars is not None, entry.identity
        assert 10 <= stars <= 400, entry.identity
        assert entry.magnitude is not None
        assert entry.magnitude + 2.5 * math.log10(stars) < 14.5, f"{entry.identity} is for small telescopes"
    others = {entry.what for entry in all_showpieces() if shape_of(entry).stars is not None}
    assert others <= {"open cluster", "cluster with nebula", "asterism"}


@pytest.mark.parametrize("row", LISTED, ids=lambda row: row["object"])
def test_sizes_and_magnitudes_agree_with_an_observers_list(row: dict[str, str]) -> None:
    name, entry = row["object"], look_up(row["object"])
    if row["magnitude"] and name not in BRIGHTER_OR_FAINTER:
        near = 0.7 if entry.what == "planetary nebula" else 0.45
        assert entry.magnitude == pytest.approx(float(row["magnitude"]), abs=near)
    if row["major_arcmin"] and name not in OTHER_SIZE:
        least, most = AS_WIDE[entry.what]
        assert entry.size_arcmin is not None
        assert least <= entry.size_arcmin / float(row["major_arcmin"]) <= most


def test_what_we_call_the_lists_figure_is_it() -> None:
    listed = {row["object"]: row for row in LISTED}
    said = 0
    for name, seen in SEEN.items():
        as_listed = seen.source.partition("as in S. Gottlieb's list")
        if not as_listed[1]:
            continue
        said += 1
        row = listed[name]
        if "size" in as_listed[0]:
            assert seen.major_arcmin == float(row["major_arcmin"]), name
        if "magnitude" in as_listed[0]:
            assert seen.magnitude == pytest.approx(float(row["magnitude"]), abs=0.051), name
    assert said > 130


def test_a_magnitude_far_from_the_open_catalogues_gives_its_reason() -> None:
    for name, seen in SEEN.items():
        row = ROWS[look_up(name).identity]
        if seen.magnitude is None or (row.v_mag is not None and abs(seen.magnitude - row.v_mag) < 0.1):
            continue
        assert any(word in seen.source for word in ("OpenNGC", "made from", "cluster")), name


def test_a_size_is_never_wildly_off_the_open_catalogues() -> None:
    odd = []
    for name, seen in SEEN.items():
        row = ROWS[look_up(name).identity]
        if seen.major_arcmin is None or row.major_arcmin is None:
            continue
        if not 0.4 <= seen.major_arcmin / row.major_arcmin <= 4.0:
            odd.append((name, seen.major_arcmin, row.major_arcmin, seen.source))
    reasons = [source for *_, source in odd]
    assert all("OpenNGC" in source or "S. Gottlieb" in source for source in reasons), odd
    assert len(odd) <= 16


def test_places_of_our_own_pieces_agree_with_rows_of_other_origin() -> None:
    # The star list's Meissa lies in Cr 69 and Sh2-264, B 86 beside NGC 6520, B 168 leads to the Cocoon,
    # Tr 14 and Tr 16 lie in the Eta Carinae Nebula, Tr 24 by NGC 6231: common knowledge, from memory.
    for one, other, apart_deg in (
        ("Cr 69", "Meissa", 0.1), ("Sh2-264", "Meissa", 0.1), ("B 86", "NGC 6520", 0.3),
        ("B 168", "IC 5146", 0.6), ("Tr 14", "NGC 3372", 0.6), ("Tr 16", "NGC 3372", 0.6),
        ("Tr 24", "NGC 6231", 1.3), ("Stock 1", "Albireo", 3.2), ("Stock 2", "NGC 869", 2.3),
        ("Sh2-101", "Albireo", 10.0), ("B 72", "B 68", 0.5), ("Cr 70", "Sigma Ori", 2.0),
        ("Sh2-276", "Sigma Ori", 3.0), ("Kemble 1", "NGC 1502", 1.6), ("Sh2-261", "NGC 2169", 2.0),
    ):  # fmt: skip
        first, second = look_up(one), look_up(other)
        up = (first.dec_deg or 0.0) - (second.dec_deg or 0.0)
        across = ((first.ra_deg or 0.0) - (second.ra_deg or 0.0)) * math.cos(
            math.radians(second.dec_deg or 0.0)
        )
        assert math.hypot(across, up) < apart_deg, (one, other)


# Right ascension [h, min] and declination [deg, min] in S. Gottlieb's list of pieces outside the catalogue.
PLACES = {
    "Stock 1": (19, 35.8, 25, 13), "Stock 2": (2, 15.0, 59, 25), "Stock 23": (3, 16.3, 60, 2),
    "Tr 1": (1, 35.7, 61, 17), "Tr 3": (3, 12.0, 63, 11), "Tr 24": (16, 57.0, -40, -40),
    "B 86": (18, 2.7, -27, -50), "B 92": (18, 15.5, -18, -11), "B 142": (19, 40.7, 10, 37),
}  # fmt: skip


@pytest.mark.parametrize("name", PLACES)
def test_places_of_our_own_pieces_agree_with_an_observers_list(name: str) -> None:
    hours, minutes, degrees, arcmin = PLACES[name]
    entry, dec_deg = look_up(name), degrees + arcmin / 60.0
    across = ((entry.ra_deg or 0.0) - 15.0 * (hours + minutes / 60.0)) * math.cos(math.radians(dec_deg))
    assert math.hypot(across, (entry.dec_deg or 0.0) - dec_deg) < 0.3, "for what is as wide as this"
