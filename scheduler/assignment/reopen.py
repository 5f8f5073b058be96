"""A plan opened again: some of its nights set free and settled anew, with a visit demanded or barred."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import TracebackType
from typing import NamedTuple

import numpy as np

from ..domain.opportunity import Floats, Ints
from ..domain.progress import Cancel, never_cancelled
from .bound import bound_of
from .crew import Crew
from .neighbourhood import Found, Neighbourhood, Programme, left_of
from .problem import Problem

WORK = 1.0  # most solver work for one settling
STAY = 1e-5  # part of the dearest row that a visit counts more where the plan has it: ties change nothing


class Place(NamedTuple):
    """A target on a night, both by position."""

    target: int
    night: int


@dataclass(frozen=True, eq=False)
class Asked:
    """Nights to settle anew.

    Attributes
    ----------
    nights : Which nights are set free. int, (nights,)
    must : A visit that has to be made there; None demands none.
    barred : A visit that may not be made; None bars none.
    """

    nights: Ints
    must: Place | None = None
    barred: Place | None = None


class Settled(NamedTuple):
    """A whole plan after some of its nights were settled anew.

    Attributes
    ----------
    rows, start_min : Its visits. int, (visits,)
    worth : What it is worth, the cost of its nights taken off.
    proven : Whether no other way of settling these nights is worth more.
    """

    rows: Ints
    start_min: Ints
    worth: float
    proven: bool


class Reopened:
    """A plan opened again, to be used in a `with` block.

    Parameters
    ----------
    problem : What the plan answers.
    rows, start_min : Its visits, in usable rows. int, (visits,)
    seed : Of the searches.
    held : Nights that are to stay as they are, announced ones for example.
    """

    def __init__(
        self, problem: Problem, rows: Ints, start_min: Ints, seed: int = 0, cancel: Cancel = never_cancelled,
        held: frozenset[int] = frozenset(),
    ) -> None:  # fmt: skip
        self.problem, self.bound, self.held = problem, bound_of(problem, cancel), held
        self.windows = self.bound.windows
        self.made = Programme(np.searchsorted(self.windows.rows, rows).astype(np.int64), start_min)
        self._crew = Crew(self.windows, np.random.default_rng(seed), cancel)

    def __enter__(self) -> Reopened:
        self._crew.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._crew.__exit__(kind, error, trace)

    @property
    def rows(self) -> Ints:
        """The rows of the plan's visits as it stands. int, (visits,)"""
        return np.asarray(self.windows.rows[self.made.columns])

    @property
    def gain(self) -> Floats:
        """What each usable row brings, its time and its share in going out paid at the prices. (usable,)"""
        return np.asarray(self.windows.value - self.bound.cost)

    def may_change(self, night: int) -> bool:
        """Tell whether a visit may be put on a night: it is not held, and no limit allows none at all."""
        shut = any(limit.most == 0 and night in limit.nights for limit in self.problem.limits)
        return night not in self.held and (not shut or night in self.spent_outside())

    def spent_outside(self) -> Ints:
        """Return the nights with a visit. int, (some,)"""
        return np.unique(self.windows.night[self.made.columns])

    def settle(self, several: Sequence[Asked]) -> list[Settled | None]:
        """Return the plan as it is best with these nights free and the others held; None where it cannot be.

        None also stands where no way was found within the work allowed.

        Raises
        ------
        Cancelled
            When asked to stop.
        """
        found = self._crew.settle([self._job(asked) for asked in several])
        return [self._settled(*each) for each in zip(several, found, strict=True)]

    def _job(self, asked: Asked) -> Neighbourhood:
        w = self.windows
        held = self.made.on(w, asked.nights, outside=True)
        left, columns = left_of(self.problem, w, held, asked.nights)
        if asked.barred:
            columns = columns[~self._at(columns, asked.barred)]
        must = columns[self._at(columns, asked.must)] if asked.must else None
        value = self.problem.value.copy()
        value[w.rows[self.made.columns]] += STAY * float(w.value.max(initial=0.0))
        hint = self.made.on(w, asked.nights)
        cuts = tuple(cut for cut in self.bound.cuts if cut.time and cut.night in asked.nights)
        return Neighbourhood(left, columns, value, hint, cuts, WORK, held=held, must=must)

    def _at(self, columns: Ints, place: Place) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Tell which rows, places in the windows, are of this target and night."""
        here = self.windows.target[columns] == place.target
        return np.asarray(here & (self.windows.night[columns] == place.night))

    def _settled(self, asked: Asked, found: Found) -> Settled | None:
        if found.made is None:
            return None
        made = self.made.on(self.windows, asked.nights, outside=True).joined(found.made)
        order = np.lexsort((made.start_min, self.windows.night[made.columns]))
        rows = self.windows.rows[made.columns[order]]
        if asked.must and not (self._at(made.columns, asked.must)).any():
            return None
        return Settled(rows, made.start_min[order], self.problem.worth_of(rows), found.proven)
