"""One axis of a table whose entries stand where they are needed, found without searching."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..domain.opportunity import Floats, Ints


@dataclass(frozen=True, eq=False)
class Axis:
    """Values at which a table has entries, rising, each a whole number of `fineness` from the first."""

    values: Floats
    fineness: float

    @staticmethod
    def through(wanted: ArrayLike, fineness: float) -> Axis:
        """Return an axis with these values, rounded to the fineness and each once."""
        return Axis(np.unique(np.round(np.asarray(wanted, dtype=float) / fineness)) * fineness, fineness)

    def __len__(self) -> int:
        return len(self.values)

    def place(self, value: ArrayLike) -> tuple[Ints, NDArray[np.float32]]:
        """Return the entry before each value and how far beyond it, 0..1; outside counts as the edge."""
        clipped = np.clip(value, self.values[0], self.values[-1])
        before = self._before[((clipped - self.values[0]) * (1.0 / self.fineness)).astype(np.int64)]
        beyond = (clipped - self.values[before]) * self._per_step[before]
        return before, np.clip(beyond, 0.0, 1.0).astype(np.float32)

    @cached_property
    def _before(self) -> Ints:
        """The entry before every multiple of the fineness."""
        cells = round((self.values[-1] - self.values[0]) / self.fineness) + 1
        middles = self.values[0] + (np.arange(cells) + 0.5) * self.fineness
        return np.asarray(np.clip(np.searchsorted(self.values, middles) - 1, 0, len(self.values) - 2))

    @cached_property
    def _per_step(self) -> Floats:
        return np.asarray(1.0 / np.diff(self.values))
