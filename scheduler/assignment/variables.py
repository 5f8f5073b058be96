"""The decisions of the model: which rows are used, which visits are made, and when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from ortools.sat.python import cp_model

from ..domain.opportunity import Ints
from .problem import Problem


@dataclass(frozen=True)
class Visit:
    """A possible visit of one target on one night: made or not, and its start within the night."""

    target: int
    night: int
    rows: tuple[int, ...]
    made: cp_model.IntVar
    start: cp_model.IntVar


@dataclass(frozen=True)
class Variables:
    """All decisions.

    Attributes
    ----------
    row : Whether a row's visit is made, by row.
    visits : Possible visits, by night, then target.
    out : Whether a night is spent outside, for charged nights.
    night_start : Minute from which each night's starts are counted. [min]
    held_days : Ordinal dates of the visits made on other nights whatever is decided here, by target. [d]
    """

    row: dict[int, cp_model.IntVar]
    visits: tuple[Visit, ...]
    out: dict[int, cp_model.IntVar]
    night_start: dict[int, int]
    held_days: dict[int, tuple[int, ...]] = field(default_factory=dict)

    def of_target(self) -> dict[int, list[Visit]]:
        """Return the possible visits of each target, by night."""
        found: dict[int, list[Visit]] = defaultdict(list)
        for visit in self.visits:
            found[visit.target].append(visit)
        return found

    def of_night(self) -> dict[int, list[Visit]]:
        """Return the possible visits of each night, by target."""
        found: dict[int, list[Visit]] = defaultdict(list)
        for visit in self.visits:
            found[visit.night].append(visit)
        return found


def variables_of(
    model: cp_model.CpModel,
    problem: Problem,
    rows: Ints,
    held_days: Mapping[int, tuple[int, ...]] | None = None,
) -> Variables:
    """Return the decisions about `rows` (usable ones, sorted), added to `model`; a start may lie anywhere
    in its night until the rules say more.
    """  # noqa: D205
    o = problem.opportunities
    night_start, night_end, pairs = {}, {}, defaultdict(list)
    for row, target, night in zip(
        rows.tolist(), o.target[rows].tolist(), o.night[rows].tolist(), strict=True
    ):
        pairs[night, target].append(row)
    for night in np.unique(o.night[rows]).tolist():
        mine = rows[o.night[rows] == night]
        night_start[night], night_end[night] = int(o.start_min[mine].min()), int(o.end_min[mine].max())
    row_of = {row: model.new_bool_var("") for row in rows.tolist()}
    visits = []
    for (night, target), some in sorted(pairs.items()):
        length = night_end[night] - night_start[night]
        made = row_of[some[0]] if len(some) == 1 else model.new_bool_var("")
        if len(some) > 1:
            model.add(sum(row_of[row] for row in some) == made)
        visits.append(Visit(target, night, tuple(some), made, model.new_int_var(0, length, "")))
    out = {night: model.new_bool_var("") for night in problem.charged if night in night_start}
    return Variables(row_of, tuple(visits), out, night_start, dict(held_days or {}))
