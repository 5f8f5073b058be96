"""What the model strives for."""

from __future__ import annotations

from ortools.sat.python import cp_model

from ..domain.opportunity import Floats
from .variables import Variables

SCALE = 1_000_000  # the dearest row counts this much: rounding is far below any gap asked for


def worth_of_the_visits(model: cp_model.CpModel, value: Floats, variables: Variables) -> float:
    """Maximise the sum of the visits' values, and return how many units of the model make 1 of value.

    `value` : What a visit in each row is worth. (rows,)
    """
    rows = list(variables.row)
    dearest = max((float(value[row]) for row in rows), default=0.0) or 1.0
    unit = SCALE / dearest
    model.maximize(
        cp_model.LinearExpr.weighted_sum(
            [variables.row[row] for row in rows], [round(float(value[row]) * unit) for row in rows]
        )
    )
    return unit
