"""Which of the ways of looking that show a thing alike is advised: the practice of observers, no source."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..domain import Extended, Kind, Target
from ..domain.opportunity import Floats, Ints
from .judgement import AnyFloats
from .optics import Optic

AIM_MM = {
    "globular cluster": 1.6, "planetary nebula": 1.6, "galaxy": 2.5, "pair of galaxies": 2.5,
    "triplet of galaxies": 2.5, "group of galaxies": 2.5, "reflection nebula": 3.0, "supernova remnant": 3.0,
}  # fmt: skip
"""Exit pupil that suits what an object is: power resolves globulars and shows small discs as such, a middle
one suits galaxies. Everything else is shown at the lowest power. [mm]"""

ROOM = 1.1
"""A field this much wider than an object frames it."""

BARLOW_DEX = 0.05
"""A Barlow must come nearer to the power wanted by this, or the plain eyepiece is taken."""


def ranks_of(targets: Sequence[Target], optics: Sequence[Optic]) -> Ints:
    """Return the place of every way of looking in each target's order of preference. int, (targets, optics)

    Without a filter before with one; what frames the target before what does not; the largest aperture first;
    then the exit pupil nearest to what suits its kind, or the lowest power; plain before Barlow. A variable
    star is told against others far around: for it the smallest comes first.
    """
    wishes = np.array([_wishes(target) for target in targets], dtype=np.float64).reshape(-1, 3)
    aim_mm, size_deg, smallest = (column[:, None] for column in wishes.T)
    power, pupil_mm, aperture_mm, field_deg, barlow, filtered = np.array([
        (one.magnification, one.exit_pupil_mm, one.aperture_mm, one.true_field_deg, one.barlow,
         one.filter is not None) for one in optics
    ], dtype=np.float64).T[:, None]  # fmt: skip
    off_dex = np.where(np.isfinite(aim_mm), np.abs(np.log10(pupil_mm / aim_mm)), np.log10(power))
    keys = np.broadcast_arrays(
        power, off_dex + BARLOW_DEX * barlow, np.where(smallest > 0.0, aperture_mm, -aperture_mm),
        ROOM * size_deg > field_deg, filtered,
    )  # fmt: skip
    order = np.lexsort(np.stack(keys).astype(np.float64), axis=-1)
    return np.argsort(order, axis=-1)


def smaller_costs(targets: Sequence[Target], optics: Sequence[Optic], cost: float) -> Floats:
    """Return by how much each way of looking must show a target better to be advised. (targets, optics) 0..1

    That is asked of what is smaller than an instrument that frames a deep-sky object: two eyes at binoculars
    see faint contrast a little better, and yet everybody looks at the Orion Nebula through the telescope.

    Parameters
    ----------
    cost : What is given away at most for the larger instrument. [0..1]
    """
    wishes = np.array([_wishes(target) for target in targets], dtype=np.float64).reshape(-1, 3)
    aperture_mm, field_deg = np.array([(one.aperture_mm, one.true_field_deg) for one in optics]).T
    frames = ROOM * wishes[:, 1:2] <= field_deg
    largest_mm = np.where(frames, aperture_mm, 0.0).max(axis=1, keepdims=True)
    deep = np.array([target.kind is Kind.DEEP_SKY for target in targets], dtype=bool)[:, None]
    return np.where(deep & (aperture_mm < largest_mm), cost, 0.0)


def advised(merit: AnyFloats, ranks: Ints, slack: float) -> Ints:
    """Return the way of looking advised: the first in a target's order within `slack` of its best merit. int

    Parameters
    ----------
    merit : Merit through each optic. (optics, targets, ...)
    ranks : Place of each optic in the target's order. (targets, optics)
    """
    order = np.argsort(ranks, axis=1).T
    order = order.reshape(*order.shape, *(1,) * (merit.ndim - 2))
    ranked = np.take_along_axis(merit, order, axis=0)
    first = np.argmax(ranked >= ranked.max(axis=0) - slack, axis=0)
    return np.asarray(np.take_along_axis(np.broadcast_to(order, merit.shape), first[None], axis=0)[0])


def _wishes(target: Target) -> tuple[float, float, bool]:
    """Return the exit pupil aimed at, NaN for none [mm], the size to frame [deg], whether small is best."""
    if target.kind is Kind.DEEP_SKY:
        what = target.nature.what if isinstance(target.nature, Extended) else ""
        return AIM_MM.get(what, np.nan), (target.size_arcmin or 0.0) / 60.0, False
    return np.nan, 0.0, target.kind is Kind.VARIABLE_STAR
