"""What the model strives for."""

from __future__ import annotations

from ortools.sat.python import cp_model

from ..domain.opportunity import Floats
from .variables import Variables

SCALE = 1_000_000  # the dearest row counts this much: rounding is far below any gap asked for


def worth_less_the_nights_out(
    model: cp_model.CpModel, value: Floats, outing_cost: Floats, variables: Variables
) -> float:
    """Maximise the sum of the visits' values less the cost of the nights spent outside, and return how many
    units of the model make 1 of value.

    `value` : What a visit in each row is worth. (rows,)
    `outing_cost` : What a night spent outside costs. (nights,)
    """  # noqa: D205
    rows = list(variables.row)
    dearest = max((float(value[row]) for row in rows), default=0.0) or 1.0
    unit = SCALE / dearest
    nights = list(variables.out)
    model.maximize(
        cp_model.LinearExpr.weighted_sum(
            [*(variables.row[row] for row in rows), *(variables.out[night] for night in nights)],
            [*(round(float(value[row]) * unit) for row in rows),
             *(-round(float(outing_cost[night]) * unit) for night in nights)],
        )
    )  # fmt: skip
    return unit
