"""Merit: how well a target shows, 0..1, from what the sky does at that moment.

A first model. Each kind is one function of the sky behind the target, the air in front of it and, for
planets, the disc; `opportunities` asks nothing else, so a better model replaces a function here and
nothing elsewhere. The shape constants are our judgement and live in `MeritSettings`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..domain.checks import within
from ..domain.opportunity import Floats


@dataclass(frozen=True, slots=True)
class MeritSettings:
    """The judgement in the merit model; every value is ours, none is published.

    Attributes
    ----------
    merit_lost_per_mag : Decades of merit a faint target loses for each magnitude of contrast lost.
    steady_altitude_deg : Altitude at which a planet or a close pair shows half as well as overhead. [deg]
    steady_width_deg : How quickly that improves with altitude. [deg]
    least_merit : An opportunity worth less than this is not worth going out for.
    """

    merit_lost_per_mag: float = 0.24
    steady_altitude_deg: float = 18.0
    steady_width_deg: float = 5.0
    least_merit: float = 0.05

    def __post_init__(self) -> None:
        within("merit_lost_per_mag", self.merit_lost_per_mag, 0.0, 2.0)
        within("steady_altitude_deg", self.steady_altitude_deg, 0.0, 60.0)
        within("steady_width_deg", self.steady_width_deg, 0.5, 30.0)
        within("least_merit", self.least_merit, 0.0, 0.9)


def faint_merit(contrast_lost_mag: ArrayLike, settings: MeritSettings) -> Floats:
    """Return the merit of a deep-sky object that has lost contrast against its best, 0..1.

    Parameters
    ----------
    contrast_lost_mag : Brightening of the sky behind the target over the site's dark zenith, plus the
        dimming of the target by air beyond that of the zenith; negative counts as none. [mag]

    Examples
    --------
    >>> faint_merit([0.0, 1.0, 3.0], MeritSettings()).round(2)
    array([1.  , 0.58, 0.19])
    """
    lost = np.maximum(np.asarray(contrast_lost_mag, dtype=float), 0.0)
    return np.asarray(10.0 ** (-settings.merit_lost_per_mag * lost))


def steady_merit(altitude_deg: ArrayLike, settings: MeritSettings) -> Floats:
    """Return how steadily a fine detail shows at an altitude, 0..1; moonlight does not matter.

    Examples
    --------
    >>> steady_merit([8.0, 18.0, 28.0, 60.0], MeritSettings()).round(2)
    array([0.12, 0.5 , 0.88, 1.  ])
    """
    steps = (np.asarray(altitude_deg, dtype=float) - settings.steady_altitude_deg) / settings.steady_width_deg
    return np.asarray(1.0 / (1.0 + np.exp(-steps)))


def planet_merit(altitude_deg: ArrayLike, disc_of_best: ArrayLike, settings: MeritSettings) -> Floats:
    """Return the merit of a planet, 0..1: steadiness times its disc over the season's largest.

    Parameters
    ----------
    altitude_deg : Apparent altitude. [deg]
    disc_of_best : Apparent diameter over the largest of the season. [0..1]

    Examples
    --------
    >>> float(planet_merit(60.0, 0.5, MeritSettings()).round(2))
    0.5
    """
    disc = np.clip(np.asarray(disc_of_best, dtype=float), 0.0, 1.0)
    return np.asarray(steady_merit(altitude_deg, settings) * disc)
