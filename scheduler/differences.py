"""What is different between any two versions of a plan, from the plans alone."""

from __future__ import annotations

from datetime import date

from .domain import Change, Difference, Differences, Plan, Span
from .domain.checks import holds
from .moves import Move, moves_of, sites_changed


def differences_of(earlier: Plan, later: Plan) -> Differences:
    """Return every visit that two versions of a scenario's plan do not have alike, each once, by date.

    Parameters
    ----------
    earlier, later : The versions. Where the later one was made from the earlier one, which its own changes
        show, these tell the reasons; else nothing does, and none is given.

    Raises
    ------
    InvalidValue
        `later` is not the later version.

    Notes
    -----
    Visits are matched as `changes_of` matches them, see `moves_of`. A visit at another time of the same
    evening is shifted, whether that was announced or not.
    """
    holds("later plan", f"version {later.version}", later.version > earlier.version,
          f"a version later than {earlier.version}")  # fmt: skip
    before, after = ({(visit.target, visit.evening): visit.time for visit in plan.visits}
                     for plan in (earlier, later))  # fmt: skip
    both = before.keys() & after.keys()
    shifted = [Move(target, day, day) for target, day in both if before[target, day] != after[target, day]]
    moved = moves_of(earlier, later)
    moves, whys = (*moved, *shifted), _whys(later)
    if later.version != earlier.version + 1 or not set(moved) <= whys.keys() <= set(moves):
        whys = {}  # the later one was made from another
    visits = [_difference(move, before, after, whys.get(move)) for move in moves]
    visits.sort(key=lambda one: (one.before or one.after or date.max, one.target, one.after or date.max))
    seen = {(sighting.target, sighting.evening) for sighting in later.seen} & before.keys() - after.keys()
    return Differences(
        later.scenario, earlier.version, later.version, tuple(visits), len(both) - len(shifted), len(seen),
        sites_changed(earlier, later),
    )  # fmt: skip


def _whys(plan: Plan) -> dict[Move, Change]:
    """Return the changes a plan tells, by the moves they are about."""
    return {Move(change.target, change.before, change.after): change for change in plan.changes}


def _difference(
    move: Move,
    before: dict[tuple[str, date], Span],
    after: dict[tuple[str, date], Span],
    why: Change | None,
) -> Difference:
    target = move.target
    return Difference(
        target, move.before, move.after,
        None if move.before is None else before[target, move.before],
        None if move.after is None else after[target, move.after],
        why.reason if why else None, why.words if why else "",
    )  # fmt: skip
