"""The bright stars of the whole sky, to start from on the way to a target.

Complete to V 3.6, with most of those to 3.75; two stars within an arcminute of each other count as one, with
the light of both.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from .sheets import constellation_of_star, in_full, sheet


@dataclass(frozen=True)
class BrightStars:
    """Stars in order of right ascension, one row a star.

    Attributes
    ----------
    names : The proper name where the IAU has adopted one, else the designation.
    designations : Bayer letter or Flamsteed number with the genitive, as in "Alpha Tauri".
    constellations : The IAU name of the one each designation names, as in "Taurus".
    ra_deg, dec_deg : ICRS place at epoch 2000. [deg]
    magnitude : Visual magnitude; a mean one where the star varies. [mag]
    """

    names: tuple[str, ...]
    designations: tuple[str, ...]
    constellations: tuple[str, ...]
    ra_deg: NDArray[np.float64]
    dec_deg: NDArray[np.float64]
    magnitude: NDArray[np.float64]


@cache
def bright_stars() -> BrightStars:
    """Return the bright stars, read once a process; the arrays are read-only.

    References
    ----------
    Places: F. van Leeuwen, Astronomy & Astrophysics 474 (2007) 653 (CDS I/311), carried to epoch 2000.
    Names: IAU Catalog of Star Names, edition of 2018-09-07.
    Magnitudes: the list of bright stars of the US Naval Observatory for 2016.5.

    Examples
    --------
    >>> stars = bright_stars()
    >>> at = stars.names.index("Aldebaran")
    >>> stars.designations[at], stars.constellations[at], float(stars.magnitude[at])
    ('Alpha Tauri', 'Taurus', 0.85)
    """
    rows = sheet("bright_stars.csv")
    designations = tuple(in_full(row["designation"]) for row in rows)
    return BrightStars(
        names=tuple(row["name"] or full for row, full in zip(rows, designations, strict=True)),
        designations=designations,
        constellations=tuple(constellation_of_star(row["designation"]) for row in rows),
        ra_deg=_column(rows, "ra_deg"),
        dec_deg=_column(rows, "dec_deg"),
        magnitude=_column(rows, "magnitude"),
    )


def _column(rows: list[dict[str, str]], name: str) -> NDArray[np.float64]:
    column = np.array([float(row[name]) for row in rows])
    column.flags.writeable = False
    return column
