"""Where sky and solver meet: the stretches of a night in which a target shows well."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .checks import holds

Ints: TypeAlias = NDArray[np.int64]
Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Opportunity:
    """A stretch of one night in which one target shows with about one merit.

    Minutes are whole and count from the season's epoch. A visit belongs to exactly one opportunity and
    lies wholly inside it; a target may have several on one night (it sets and rises again, the Moon
    sets half-way, or it shows best for an hour and fairly for three).
    """

    target: int
    night: int
    start_min: int
    end_min: int
    best_min: int
    merit: float


@dataclass(frozen=True, eq=False)
class Opportunities:
    """All opportunities of a season as columns, sorted by night, then target, then start.

    Attributes
    ----------
    epoch : Zero of all minutes, aware UTC.
    targets, nights : How many of each the season has; rows refer to them by position.
    target, night : Position of the row's target and free night. int, (rows,)
    start_min, end_min : The stretch, whole minutes after the epoch. int, (rows,) [min]
    best_min : Middle of the best-placed visit in the stretch. int, (rows,) [min]
    merit : How well the target shows in the stretch. (rows,) [0..1]
    standby_only : Whether the row is for standbys alone: guests take longer at a target than its visit lasts;
        none given are. (rows,)
    """

    epoch: datetime
    targets: int
    nights: int
    target: Ints
    night: Ints
    start_min: Ints
    end_min: Ints
    best_min: Ints
    merit: Floats
    standby_only: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))

    def __post_init__(self) -> None:
        if not len(self.standby_only):
            object.__setattr__(self, "standby_only", np.zeros(len(self), dtype=np.bool_))
        columns = (self.target, self.night, self.start_min, self.end_min, self.best_min, self.merit)
        rows = {len(column) for column in (*columns, self.standby_only)}
        holds("opportunities", rows, len(rows) == 1, "columns of one length")
        if not len(self):
            return
        holds("end_min", "a row", bool((self.start_min < self.end_min).all()), "every end after its start")
        holds("merit", "a row", bool(((self.merit >= 0) & (self.merit <= 1)).all()), "numbers from 0 to 1")
        holds(
            "target",
            "a row",
            bool(self.target.min() >= 0 and self.target.max() < self.targets),
            "known targets",
        )
        holds(
            "night", "a row", bool(self.night.min() >= 0 and self.night.max() < self.nights), "known nights"
        )
        order = np.lexsort((self.start_min, self.target, self.night))
        holds(
            "opportunities",
            "rows",
            bool((order == np.arange(len(self))).all()),
            "rows sorted by night, target, start",
        )

    def __len__(self) -> int:
        return len(self.target)

    def __getitem__(self, row: int) -> Opportunity:
        return Opportunity(
            int(self.target[row]), int(self.night[row]), int(self.start_min[row]), int(self.end_min[row]),
            int(self.best_min[row]), float(self.merit[row]),
        )  # fmt: skip

    def on(self, nights: Ints) -> Opportunities:
        """Return those of some nights, rising, which are then counted among themselves."""
        mine = np.isin(self.night, nights)
        return Opportunities(
            self.epoch, self.targets, len(nights), self.target[mine],
            np.searchsorted(nights, self.night[mine]).astype(np.int64), self.start_min[mine],
            self.end_min[mine], self.best_min[mine], self.merit[mine], self.standby_only[mine],
        )  # fmt: skip

    def together(self, place: Ints, nights: int) -> Opportunities:
        """Return them with nights of one evening, at several sites, put together.

        Parameters
        ----------
        place : The evening of each night, counted from 0. (nights,)
        nights : How many evenings there are.
        """
        night = place[self.night]
        order = np.lexsort((self.start_min, self.target, night))
        return Opportunities(
            self.epoch, self.targets, nights, self.target[order], night[order], self.start_min[order],
            self.end_min[order], self.best_min[order], self.merit[order], self.standby_only[order],
        )  # fmt: skip

    def moment(self, minute: float) -> datetime:
        """Return the aware UTC time `minute` minutes after the epoch."""
        return self.epoch + timedelta(minutes=float(minute))
