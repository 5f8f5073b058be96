"""From a row of the open catalogue to an entry: mended, and as the eye sees it where our table knows."""

from __future__ import annotations

from ..domain import Extended, Kind
from . import tables
from .entry import Entry
from .ongc import Row
from .repair import PLACES_DEG, visual_magnitude

WHAT = {
    "*": "star", "**": "double star", "*Ass": "association of stars", "OCl": "open cluster",
    "GCl": "globular cluster", "Cl+N": "cluster with nebula", "G": "galaxy", "GPair": "pair of galaxies",
    "GTrpl": "triplet of galaxies", "GGroup": "group of galaxies", "PN": "planetary nebula",
    "HII": "emission nebula", "DrkN": "dark nebula", "EmN": "emission nebula", "Neb": "nebula",
    "RfN": "reflection nebula", "SNR": "supernova remnant", "Nova": "nova", "Other": "asterism",
}  # fmt: skip
"""Each type code of the open catalogue in words."""

NOTHING = tables.Seen()


def entry_of(row: Row, identity: str, seen: tables.Seen = NOTHING) -> Entry:
    """Return the entry of one row.

    Parameters
    ----------
    row : As the open catalogue has it.
    identity : The text that stands for the object.
    seen : What our table of showpieces says of it.

    Notes
    -----
    The first of these that is known wins. Magnitude: our table, Harris's globulars, the open catalogue's V as
    `repair` leaves it. Size: our table, whose pair of diameters replaces both of the catalogue's; the
    catalogue. Galaxies keep the catalogue's diameters, which end at one isophote for all. A globular's is
    that of an observer's list: nearly all its light lies within, and the eye sees half to two thirds of it.
    """
    magnitude = _first(seen.magnitude, tables.globular_magnitudes().get(identity))
    if magnitude is None:
        magnitude = visual_magnitude(row.type, row.b_mag, row.v_mag, row.hubble)
    major_arcmin, minor_arcmin = row.major_arcmin, row.minor_arcmin
    if seen.major_arcmin is not None:
        major_arcmin, minor_arcmin = seen.major_arcmin, seen.minor_arcmin
    what = seen.what or WHAT[row.type]
    double = row.type == "**"
    ra_deg, dec_deg = PLACES_DEG.get(identity, (row.ra_deg, row.dec_deg))
    return Entry(
        name=identity, identity=identity, kind=Kind.DOUBLE_STAR if double else Kind.DEEP_SKY, what=what,
        ra_deg=ra_deg, dec_deg=dec_deg, constellation=tables.constellation_name(row.constellation),
        magnitude=None if magnitude is None else round(magnitude, 2), size_arcmin=major_arcmin,
        nature=None if double else Extended(what, minor_arcmin, row.hubble or None, seen.stars),
    )  # fmt: skip


def _first(one: float | None, other: float | None) -> float | None:
    return other if one is None else one
