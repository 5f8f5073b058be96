"""How the light of a deep-sky object is spread, and what stands in where the catalogue is silent.

A catalogue gives an isophotal diameter and a total magnitude. The eye picks the part that stands out best, so
a profile tells which share of the light lies within each share of the catalogue's ellipse. The shapes are
published; which one an object of a kind has, and how large, is our judgement from memory of the literature.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import factorial

import numpy as np
from numpy.typing import ArrayLike

from ..domain.opportunity import Floats

AREA_STEP_DEX = 0.1
"""Nested ellipses step by this, so that they fall on the grid of `contrast`. [dex]"""

LOG_AREAS = np.round(np.arange(2, -34, -1) * AREA_STEP_DEX, 6)
"""Areas of the nested ellipses over that of the catalogue's, from the largest. [dex]"""


@dataclass(frozen=True, eq=False)
class Profile:
    """How an object's light gathers towards its middle.

    Attributes
    ----------
    name : What has it.
    light_share : Share of the light within each of the nested ellipses. (ellipses,)
    log_half_area : Area of the ellipse that holds half the light. [dex]
    """

    name: str
    light_share: Floats
    log_half_area: float


def exponential_share(radius: ArrayLike, scale: float) -> Floats:
    """Return the share of an exponential disc's light within a radius, 0..1.

    References
    ----------
    K. C. Freeman, ApJ 160, 811 (1970); his central 21.65 mag/arcsec2 puts the 25th isophote at 3.1 scales

    Examples
    --------
    >>> exponential_share([1.678, 3.1], 1.0).round(2)
    array([0.5 , 0.82])
    """
    steps = np.asarray(radius, dtype=float) / scale
    return np.asarray(1.0 - (1.0 + steps) * np.exp(-steps))


def bulge_share(radius: ArrayLike, effective: float) -> Floats:
    """Return the share of the light of a bulge, or an elliptical galaxy, within a radius, 0..1.

    References
    ----------
    G. de Vaucouleurs, Annales d'Astrophysique 11, 247 (1948): the law of the fourth root, integrated

    Examples
    --------
    >>> bulge_share([0.0, 1.0, 3.0], 1.0).round(2)
    array([0.  , 0.5 , 0.79])
    """
    x = 7.669 * (np.asarray(radius, dtype=float) / effective) ** 0.25
    return np.asarray(1.0 - np.exp(-x) * sum(x**k / factorial(k) for k in range(8)))


def globular_share(radius: ArrayLike, half: float) -> Floats:
    """Return the share of a globular cluster's light within a radius, 0..1.

    References
    ----------
    H. C. Plummer, MNRAS 71, 460 (1911), projected

    Examples
    --------
    >>> globular_share([0.0, 1.0, 3.0], 1.0)
    array([0. , 0.5, 0.9])
    """
    squared = np.asarray(radius, dtype=float) ** 2
    return np.asarray(squared / (squared + half**2))


def flat_share(radius: ArrayLike) -> Floats:
    """Return the share of an evenly lit disc's light within a radius, 0..1.

    Examples
    --------
    >>> flat_share([0.5, 1.0, 2.0])
    array([0.25, 1.  , 1.  ])
    """
    return np.asarray(np.minimum(np.asarray(radius, dtype=float) ** 2, 1.0))


_FINE = np.linspace(-4.0, 1.0, 5001)
_RADII, _FINE_RADII = 10.0 ** (LOG_AREAS / 2.0), 10.0 ** (_FINE / 2.0)


def _profile(name: str, fine: Floats, share: Floats) -> Profile:
    return Profile(name, share, float(np.interp(0.5, fine, _FINE)))


def _galaxy(name: str, bulge: float, effective: float, scale: float) -> Profile:
    """Return a bulge and a disc; the bulge's share is from memory of Simien & de Vaucouleurs 1986."""
    fine, share = (
        bulge * bulge_share(radii, effective) + (1.0 - bulge) * exponential_share(radii, scale)
        for radii in (_FINE_RADII, _RADII)
    )
    return _profile(name, fine, share)


PROFILES = (
    _galaxy("elliptical galaxy", 1.0, 0.28, 0.32),
    _galaxy("lenticular galaxy", 0.5, 0.14, 0.32),
    _galaxy("Sa", 0.35, 0.10, 0.32),
    _galaxy("Sb", 0.20, 0.08, 0.32),
    _galaxy("Sc", 0.10, 0.06, 0.32),
    _galaxy("irregular galaxy", 0.0, 1.0, 0.36),
    _profile("globular cluster", globular_share(_FINE_RADII, 0.18), globular_share(_RADII, 0.18)),
    _profile("nebula", exponential_share(_FINE_RADII, 0.3), exponential_share(_RADII, 0.3)),
    _profile("even disc", flat_share(_FINE_RADII), flat_share(_RADII)),
)
NAMES = tuple(one.name for one in PROFILES)


def galaxy_profile(hubble: str | None) -> str:
    """Return which profile a galaxy of a type has; a late spiral, which shows least, where it is unknown.

    Examples
    --------
    >>> [galaxy_profile(one) for one in ("E-S0", "S0-a", "SABb", "SBc", "Sd", None)]
    ['lenticular galaxy', 'lenticular galaxy', 'Sb', 'Sc', 'Sc', 'Sc']
    >>> galaxy_profile("E3"), galaxy_profile("IB")
    ('elliptical galaxy', 'irregular galaxy')
    """
    text = (hubble or "").strip().removeprefix("d").removeprefix("c")
    if "0" in text[:5]:
        return "lenticular galaxy" if "S" in text else "elliptical galaxy"
    if text.startswith(("E", "D")):
        return "elliptical galaxy"
    if text.startswith("I"):
        return "irregular galaxy"
    stage = next((letter for letter in text if letter in "abcdm"), "c")
    return {"a": "Sa", "b": "Sb"}.get(stage, "Sc")


@dataclass(frozen=True, slots=True)
class Typical:
    """What stands in for figures an object of a kind lacks; cautious, from memory.

    Attributes
    ----------
    profile : Its name in `PROFILES`; None for a galaxy, whose type decides.
    surface : Surface brightness within the catalogue's ellipse where no magnitude is known. [mag/arcmin2]
    size_arcmin : Where no size is known. [arcmin]
    stars : How many stars a cluster's light comes from; None where the light does not come from stars.
    """

    profile: str | None
    surface: float
    size_arcmin: float
    stars: int | None = None


TYPICAL = {
    "galaxy": Typical(None, 13.6, 3.0),
    "pair of galaxies": Typical(None, 14.3, 2.0),
    "triplet of galaxies": Typical(None, 14.5, 3.0),
    "group of galaxies": Typical(None, 14.5, 5.0),
    "globular cluster": Typical("globular cluster", 13.0, 5.0),
    "open cluster": Typical("even disc", 12.5, 10.0, 60),
    "association of stars": Typical("even disc", 13.0, 40.0, 60),
    "asterism": Typical("even disc", 13.0, 15.0, 10),
    "star cloud": Typical("even disc", 13.5, 60.0, 200),
    "cluster with nebula": Typical("nebula", 14.0, 15.0, 40),
    "planetary nebula": Typical("even disc", 12.0, 0.7),
    "emission nebula": Typical("nebula", 15.0, 15.0),
    "reflection nebula": Typical("nebula", 14.8, 8.0),
    "nebula": Typical("nebula", 15.0, 8.0),
    "supernova remnant": Typical("nebula", 15.3, 20.0),
    "dark nebula": Typical("even disc", 15.0, 20.0),
    "star": Typical("even disc", 10.0, 0.0, 1),
    "nova": Typical("even disc", 12.0, 0.0, 1),
}
UNKNOWN = Typical("nebula", 12.2, 8.0)
"""For what nobody named: who types a place by hand has seen it in a list, so it is as the middle of
Messier's, 8 mag."""


def typical_of(what: str) -> Typical:
    """Return the typical figures of what an object is."""
    return TYPICAL.get(what, UNKNOWN)
