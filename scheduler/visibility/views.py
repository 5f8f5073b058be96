"""What to look through: for every look the optic advised, and why that one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..domain import BINOCULARS, JUPITER, NAKED_EYE, Extended, Kind, Target, View
from ..domain.opportunity import Ints
from .merit_table import NO_OPTIC
from .optics import Optic
from .outlook import Outlook
from .prospect import Prospect
from .through import shows_in
from .view import view_of

FINEST_PUPIL_MM = 0.7
"""A smaller exit pupil shows floaters of the eye and no more detail (common practice, no source). [mm]"""

SEEN_FIRST = 0.3
"""With at least this merit binoculars show a target and so help to find it (our judgement)."""

TOO_SMALL_ARCMIN = 20.0
"""What looks smaller in binoculars passes for a star (common practice, no source): at ten times all below 2',
the Ring Nebula too. [arcmin, as the eye meets it]"""


def views_of(prospect: Prospect, target: Ints, night: Ints, outlook: Outlook) -> tuple[View, ...]:
    """Return what to look at targets on nights through, all (looks,)."""
    chosen = prospect.table.optic_at(target, outlook.sky_brightness, outlook.airmass)
    for look in np.flatnonzero(chosen == NO_OPTIC).tolist():
        chosen[look] = _own_optic(prospect, int(target[look]), int(night[look]), outlook, look)
    return tuple(
        view_of(prospect.optics[optic], prospect.targets[row], prospect.settings)
        for optic, row in zip(chosen.tolist(), target.tolist(), strict=True)
    )


def seen_in_binoculars(prospect: Prospect, target: Ints, outlook: Outlook) -> NDArray[np.bool_]:
    """Tell where binoculars show a target at that moment, and not as one star among others. (looks,)"""
    glasses = [optic for optic in prospect.optics if optic.family == BINOCULARS]
    wished = [prospect.targets[row] for row in target.tolist()]
    shown = shows_in(
        wished, glasses, outlook.sky_brightness, outlook.airmass, prospect.sky.site, prospect.settings
    )
    tabled = prospect.table.optic_at(target, outlook.sky_brightness, outlook.airmass) != NO_OPTIC
    power = max((optic.magnification for optic in glasses), default=0.0)
    starlike = np.array([_starlike(one, power) for one in wished], np.bool_)
    return np.asarray((shown >= SEEN_FIRST) & tabled & ~starlike)


def _starlike(target: Target, power: float) -> bool:
    """Tell whether what is found by its looks passes for a star at this power."""
    extended = isinstance(target.nature, Extended) and target.size_arcmin is not None
    return extended and (target.size_arcmin or 0.0) * power < TOO_SMALL_ARCMIN


def _own_optic(prospect: Prospect, row: int, night: int, outlook: Outlook, look: int) -> int:
    """Return the optic for a target that does not show by the sky behind it alone, by position."""
    usable = np.flatnonzero(prospect.allowed[row]).tolist() or [prospect.optics.index(prospect.naked_eye)]
    kind = prospect.targets[row].kind
    if kind in (Kind.PLANET, Kind.MOON_FEATURE) or prospect.targets[row].body == JUPITER:
        return _finest(prospect, usable)
    if kind is Kind.MINOR_BODY:
        extinction_mag = prospect.sky.site.extinction_mag * float(outlook.airmass[look])
        sky_brightness = float(outlook.sky_brightness[look])
        reach = prospect.reach(row)
        return usable[int(reach.optic(prospect.magnitude[row, night], sky_brightness, extinction_mag))]
    return _widest(prospect.optics, usable, naked=kind is Kind.METEOR_SHOWER)


def _finest(prospect: Prospect, usable: Sequence[int]) -> int:
    """Return the optic for fine detail: the largest aperture, as much power as pupil and air allow."""
    optics, most_power = prospect.optics, 600.0 / prospect.sky.site.seeing_arcsec

    def worth(one: int) -> tuple[float, bool, float]:
        optic = optics[one]
        fits = optic.exit_pupil_mm >= FINEST_PUPIL_MM and optic.magnification <= most_power
        return optic.aperture_mm, fits, optic.magnification if fits else -optic.magnification

    return max(usable, key=worth)


def _widest(optics: Sequence[Optic], usable: Sequence[int], *, naked: bool) -> int:
    """Return the widest view: the naked eye for meteors, otherwise the lowest power that magnifies."""

    def cost(one: int) -> tuple[bool, float]:
        optic = optics[one]
        return (optic.instrument == NAKED_EYE) is not naked, optic.magnification

    return min(usable, key=cost)
