"""Mend the figures of the open catalogue.

What is wrong in it, and what we do; a test counts the rows each repair touches.

* 68 % of the galaxies have no V, and some V are as faint as B or far brighter. Where V is missing, or B - V
  is not within 0.3 to 1.15, V is B minus the usual colour of the Hubble type: 7153 and 541 rows. The usual
  colours are the medians of the catalogue's own rows with a sane B - V; tried on those, the guess is within
  0.2 four times in five.
* Several globular clusters are wrong by one or two magnitudes (M 14, M 10, M 19, M 71, M 70). For every
  globular of the Milky Way with an NGC or IC number the integrated V of Harris is used instead: 106 rows.
* Clusters and nebulae without V take B minus the median colour of their sort, good to half a magnitude: 115
  rows.
* Sizes of nebulae come from photographs, those of clusters from membership studies, and neither is what the
  eye sees. `data/visual.csv` has sizes of showpieces as observers give them, the number of stars of clusters,
  and magnitudes and sorts where the catalogue's are missing or wrong, each with its source and reason: 234
  rows, 49 of them with a magnitude. Galaxies keep the catalogue's size, which ends at one isophote for all of
  them, as a model of their profile wants it; M 89 and M 108, which it has wrong, are mended.
* M 40 is in `data/doubles.csv`.
* The Coalsack's place is its western edge, six degrees wide as it is: one row. Its middle is that of Moore's
  list of Caldwell objects instead (from memory; a second one agrees within a degree and a half).
* The catalogue's surface brightness is not read: it is a mean over the photographic area, and must not be
  mixed with what is computed from magnitude and size.

References
----------
W. E. Harris, "A Catalog of Parameters for Globular Clusters in the Milky Way", Astronomical Journal 112
(1996), 1487, doi:10.1086/118116; 2010 edition, arXiv:1012.3224, column V_t.
"""

from __future__ import annotations

import re

PLACES_DEG = {"C 99": (193.25, -63.0)}
"""ICRS places that are mended, by identity. [deg]"""

SANE_COLOUR = (0.3, 1.15)

GALAXY_COLOUR = {"E": 0.97, "S0": 0.93, "Sa": 0.81, "Sb": 0.71, "Sc": 0.59, "I": 0.52}
"""Median B - V of the catalogue's galaxies whose B - V is sane, by Hubble class. [mag]"""

UNCLASSED_COLOUR = 0.75
"""B - V of a galaxy without a Hubble class: between spiral and lenticular. [mag]"""

OTHER_COLOUR = {"OCl": 0.37, "Cl+N": 0.17, "*Ass": 0.12, "GCl": 0.72, "PN": 0.80}
"""Median B - V of the catalogue's rows by sort; nebulae count as white. [mag]"""

GALAXIES = frozenset({"G", "GPair", "GTrpl", "GGroup"})


def hubble_class(hubble: str) -> str | None:
    """Return the class whose usual colour a Hubble type takes, or None.

    >>> [hubble_class(hubble) for hubble in ("E-S0", "S0-a", "SABbc", "SBm", "IB", "S?", "")]
    ['E', 'S0', 'Sb', 'I', 'I', None, None]
    """
    if hubble.startswith("E"):
        return "E"
    if hubble.startswith("S0"):
        return "S0"
    if hubble.startswith("I"):
        return "I"
    found = re.fullmatch(r"S(?:AB|A|B)?([a-dm])[a-dm]?", hubble)
    return {"a": "Sa", "b": "Sb", "c": "Sc", "d": "I", "m": "I"}[found[1]] if found else None


def colour_of(sort: str, hubble: str) -> float:
    """Return the usual B - V of a sort of object. [mag, 0..1]"""
    if sort in GALAXIES:
        return GALAXY_COLOUR.get(hubble_class(hubble) or "", UNCLASSED_COLOUR)
    return OTHER_COLOUR.get(sort, 0.0)


def visual_magnitude(sort: str, b_mag: float | None, v_mag: float | None, hubble: str = "") -> float | None:
    """Return the integrated V to believe, or None where neither V nor B is known.

    Parameters
    ----------
    sort : The catalogue's type code, as in "G" or "OCl".
    b_mag, v_mag : As catalogued. [mag]
    hubble : Hubble type of a galaxy.

    Examples
    --------
    M 61, whose catalogued V of 10.25 is fainter than its B:

    >>> round(visual_magnitude("G", 10.16, 10.25, "Sbc"), 2)
    9.45
    >>> visual_magnitude("G", 4.29, 3.44, "Sb")
    3.44
    """
    if b_mag is None:
        return v_mag
    if v_mag is not None and (sort not in GALAXIES or SANE_COLOUR[0] <= b_mag - v_mag <= SANE_COLOUR[1]):
        return v_mag
    return b_mag - colour_of(sort, hubble)
