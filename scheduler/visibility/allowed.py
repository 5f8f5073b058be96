"""Which ways of looking a target may use, and what a filter lets through of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..domain import Extended, Kind, Target
from ..domain.opportunity import Floats
from .appearance import Appearance
from .judgement import MeritSettings
from .optics import Optic
from .profile import typical_of


def allowed_of(
    targets: Sequence[Target], optics: Sequence[Optic], settings: MeritSettings
) -> NDArray[np.bool_]:
    """Tell which optics a target may be looked at through. (targets, optics)

    What a target asks to be seen with holds; a filter is tried only on what shines in bright lines. Exit
    pupils below `finest_pupil_mm` blur stars and clusters more than they darken the sky, so they are left
    aside where any other is at hand (common practice, no source).
    """
    names = [{one.instrument, one.family} for one in optics]
    asked = {
        name: np.array([name is None or name in known for known in names], dtype=np.bool_)
        for name in {target.instrument for target in targets}
    }
    plain = np.array([one.filter is None for one in optics], dtype=np.bool_)
    shining = {one.what for one in settings.line_light}
    found = np.array([
        asked[target.instrument]
        & (plain | (isinstance(target.nature, Extended) and target.nature.what in shining))
        for target in targets
    ], dtype=np.bool_).reshape(len(targets), len(optics))  # fmt: skip
    wide = np.array([one.exit_pupil_mm >= settings.finest_pupil_mm for one in optics], dtype=np.bool_)
    starry = np.array([_of_stars(target) for target in targets], dtype=np.bool_)
    narrowed = starry & (found & wide).any(axis=1)
    found[narrowed] &= wide
    return found


def _of_stars(target: Target) -> bool:
    """Tell whether a target shows by its stars alone."""
    if isinstance(target.nature, Extended):
        return typical_of(target.nature.what).stars is not None
    return target.kind is Kind.VARIABLE_STAR


def light_passed(looks: Appearance, optic: Optic) -> Floats:
    """Return the share of each target's surface brightness that reaches the eye. (targets,)

    Through a filter the lines it is made for pass as `line_pass`, all else as the sky does.
    """
    if optic.filter is None:
        return np.full(len(looks.shows), optic.light)
    share = looks.in_lines(optic.filter.lines)
    return np.asarray(optic.light * (optic.filter.line_pass * share + optic.filter.sky_pass * (1.0 - share)))
