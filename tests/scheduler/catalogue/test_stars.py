"""The bright stars stand where the outside says they stand, and none is missing."""

from __future__ import annotations

import numpy as np
import pytest

from scheduler.catalogue.sheets import constellation_of_star, sheet
from scheduler.catalogue.stars import bright_stars
from scheduler.sky import constellation_of


def test_every_star_lies_in_the_constellation_of_its_designation() -> None:
    stars = bright_stars()
    named = [constellation_of_star(row["designation"]) for row in sheet("bright_stars.csv")]
    places = constellation_of(stars.ra_deg, stars.dec_deg)
    wrong = [
        (name, is_in)
        for name, said, is_in in zip(stars.names, named, places, strict=True)
        if said.replace("ö", "o") != is_in.replace("ö", "o")
    ]
    assert wrong == []


def test_the_twenty_brightest_come_in_their_usual_order() -> None:
    """Order of the twenty brightest by combined visual light (handbook lists, from memory).

    Betelgeuse varies and is left out; Deneb and Mimosa tie. Acrux is both its stars together.
    """
    stars = bright_stars()
    order = [name for _, name in sorted(zip(stars.magnitude, stars.names, strict=True))]
    order.remove("Betelgeuse")
    assert order[:20] == [
        "Sirius", "Canopus", "Rigil Kentaurus", "Arcturus", "Vega", "Capella", "Rigel", "Procyon", "Achernar",
        "Hadar", "Acrux", "Altair", "Aldebaran", "Antares", "Spica", "Pollux", "Fomalhaut", "Deneb", "Mimosa",
        "Regulus",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("designation", "name", "ra_deg", "dec_deg", "magnitude"),
    [
        ("Alpha Canis Majoris", "Sirius", 101.287155, -16.716116, -1.45),
        ("Alpha Eridani", "Achernar", 24.428523, -57.236753, 0.45),
        ("Alpha Ursae Minoris", "Polaris", 37.954561, 89.264109, 2.13),
        ("Alpha Boötis", "Arcturus", 213.915300, 19.182409, -0.05),
        ("Theta Eridani", "Acamar", 44.565311, -40.304672, 2.88),
        ("Alpha Crucis", "Acrux", 186.649563, -63.099093, 0.76),
        ("Gamma Cephei", "Errai", 354.836655, 77.632313, 3.21),
        ("Beta Carinae", "Miaplacidus", 138.299906, -69.717208, 1.67),
        ("Alpha Lyrae", "Vega", 279.234735, 38.783689, 0.03),
        ("Alpha Tauri", "Aldebaran", 68.980163, 16.509302, 0.87),
        ("Alpha Pegasi", "Markab", 346.190223, 15.205267, 2.49),
        ("Alpha Hydrae", "Alphard", 141.896847, -8.658602, 1.99),
        ("Epsilon Virginis", "Vindemiatrix", 195.544157, 10.959149, 2.85),
        ("Alpha Coronae Borealis", "Alphecca", 233.671950, 26.714693, 2.22),
        ("Alpha Cygni", "Deneb", 310.357980, 45.280339, 1.25),
        ("Alpha Gruis", "Alnair", 332.058270, -46.960974, 1.73),
        ("Alpha Phoenicis", "Ankaa", 6.570939, -42.306084, 2.40),
        ("Alpha Arietis", "Hamal", 31.793357, 23.462418, 2.01),
        ("Alpha Piscis Austrini", "Fomalhaut", 344.412693, -29.622237, 1.17),
        ("Lambda Scorpii", "Shaula", 263.402167, -37.103824, 1.62),
        ("Gamma Draconis", "Eltanin", 269.151541, 51.488896, 2.24),
        ("Zeta Ursae Majoris", "Mizar", 200.981429, 54.925362, 2.23),
    ],
)
def test_places_agree_with_the_catalogue_of_star_names(
    designation: str, name: str, ra_deg: float, dec_deg: float, magnitude: float
) -> None:
    """IAU Catalog of Star Names, 2018-09-07, columns 7, 11 and 12; Acrux with both its stars."""
    stars = bright_stars()
    at = stars.names.index(name)
    assert stars.designations[at] == designation
    assert stars.ra_deg[at] == pytest.approx(ra_deg, abs=5e-4)
    assert stars.dec_deg[at] == pytest.approx(dec_deg, abs=2e-4)
    assert stars.magnitude[at] == pytest.approx(magnitude, abs=0.13)


def test_the_whole_sky_is_covered_as_densely_as_counts_of_stars_say() -> None:
    """About 170 stars are brighter than V 3.0 and 280 than 3.5 (Allen's counts, from memory, to a tenth)."""
    magnitude = bright_stars().magnitude
    assert (magnitude <= 3.0).sum() == pytest.approx(170, rel=0.1)
    assert (magnitude <= 3.5).sum() == pytest.approx(280, rel=0.1)


def test_no_two_rows_are_one_star() -> None:
    stars = bright_stars()
    assert len(set(stars.names)) == len(set(stars.designations)) == len(stars.names) >= 360
    ra, dec = np.radians(stars.ra_deg), np.radians(stars.dec_deg)
    unit = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)], axis=1)
    cosine = unit @ unit.T - 2.0 * np.eye(len(unit))
    assert np.degrees(np.arccos(cosine.max())) > 2.0 / 60.0


def test_the_arrays_cannot_be_spoilt() -> None:
    with pytest.raises(ValueError, match="read-only"):
        bright_stars().magnitude[0] = 0.0
