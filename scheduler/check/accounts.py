"""Rules of the whole: names, what is left out, and what the plan says it is worth."""

from __future__ import annotations

import math
from collections import Counter

from ..domain import Plan, Standby, Visit
from .looks import Breaches, Rule


def every_name_is_known(plan: Plan) -> Breaches:
    """Every visit and standby belongs to a free night and a target the wish-list names, once."""
    names, evenings = Counter(target.name for target in plan.targets), {n.evening for n in plan.nights}
    for name, count in names.items():
        if count > 1:
            yield f"{name} is on the wish-list {count} times"
    entries: list[Visit | Standby] = [*plan.visits, *plan.standbys]
    for entry in entries:
        if entry.target not in names:
            yield f"{entry.target} is not on the wish-list"
        if entry.evening not in evenings:
            yield f"{entry.evening} is not a free night"


def every_missing_visit_is_explained(plan: Plan) -> Breaches:
    """A target with fewer visits, seen and planned, than wanted is unplaced by just that many, once; nothing
    else is.
    """  # noqa: D205
    done = Counter(visit.target for visit in plan.visits)
    done.update(name for outcome in plan.log for name in outcome.seen)
    short = {target.name: target.visits - done[target.name] for target in plan.targets}
    listed = Counter(entry.target for entry in plan.unplaced)
    for name, times in listed.items():
        if times > 1:
            yield f"{name} is listed as unplaced {times} times"
    for entry in plan.unplaced:
        if entry.target not in short:
            yield f"{entry.target} is unplaced, but not on the wish-list"
        elif entry.missing != short[entry.target] or entry.missing < 1:
            yield f"{entry.target} lacks {max(short[entry.target], 0)} visits, {entry.missing} are explained"
    for name, missing in short.items():
        if missing > 0 and name not in listed:
            yield f"{name} lacks {missing} visits, none is explained"


def the_bound_is_not_passed(plan: Plan) -> Breaches:
    """The plan is worth no more than its finite bound, and no less than nothing."""
    if not (math.isfinite(plan.bound) and 0 <= plan.objective <= plan.bound * (1 + 1e-6) + 1e-6):
        yield f"an objective of {plan.objective} does not go with a bound of {plan.bound}"


ACCOUNT_RULES: tuple[Rule, ...] = (
    every_name_is_known, every_missing_visit_is_explained, the_bound_is_not_passed,
)  # fmt: skip
