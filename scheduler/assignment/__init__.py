"""Which target on which night, and at what time: the constraint model of a season.

`Problem` asks, `assign` answers with an `Assignment`; `bound_of` and `expected_capacity_of` price the
nights' minutes. This package alone speaks to the solver.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .problem import Assignment, NightLimit, Problem, Stage, breaches_of

if TYPE_CHECKING:
    from .bound import bound_of, expected_capacity_of
    from .solve import assign

__all__ = ["Assignment", "NightLimit", "Problem", "Stage", "assign", "bound_of", "breaches_of",
           "expected_capacity_of"]  # fmt: skip


def __getattr__(name: str) -> object:
    """Load the solver only when it is asked for: it takes longer to import than a plan to print."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from . import bound, solve

    doors = {
        "assign": solve.assign,
        "bound_of": bound.bound_of,
        "expected_capacity_of": bound.expected_capacity_of,
    }
    return doors[name]
