"""Smooth quantities sampled at equal steps and read between the samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .ephemeris import Floats


@dataclass(frozen=True, eq=False)
class Track:
    """Samples of smooth quantities at equal steps of time.

    Attributes
    ----------
    start_unix_s : Time of the first sample. [s]
    step_s : Time between samples. [s]
    samples : One row per quantity. (quantities, times)
    """

    start_unix_s: float
    step_s: float
    samples: Floats

    def at(self, unix_s: Floats) -> Floats:
        """Return the quantities at any times inside the track, (quantities, *shape of the times).

        Notes
        -----
        Lagrange interpolation through the four nearest samples. The error is at most
        0.0234 (2 pi step / period)^4 of an oscillation's amplitude. NaN gives NaN.

        Examples
        --------
        >>> import numpy as np
        >>> cubes = Track(0.0, 1.0, np.arange(6.0)[None] ** 3)
        >>> cubes.at(np.array([2.5, 3.25])).round(6).tolist()
        [[15.625, 34.328125]]
        """
        steps = (np.asarray(unix_s, np.float64) - self.start_unix_s) / self.step_s
        known = np.isfinite(steps)
        first = np.where(known, steps, 1.0).astype(np.int64) - 1
        first = np.clip(first, 0, self.samples.shape[1] - 4)
        x = steps - first
        a, b, c, d = x, x - 1.0, x - 2.0, x - 3.0
        bc = b * c
        ad = a * d
        s = self.samples
        total = s[:, first] * (bc * d / -6.0)
        total += s[:, first + 1] * (ad * c / 2.0)
        total += s[:, first + 2] * (ad * b / -2.0)
        total += s[:, first + 3] * (a * bc / 6.0)
        return np.asarray(total)
