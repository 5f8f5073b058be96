"""Which nights a visit forced into a plan touches, and what changes on them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from ..assignment.reopen import Place, Reopened, Settled
from ..domain import FreeNight, GivesWay, Target
from ..domain.opportunity import Ints

COMPANY = 4  # nights set free beside those a visit leaves and goes to
TIE = 0.03  # a night is a good trade for a visit if it loses no more than this part of the dearest row


def nights_touched(plan: Reopened, place: Place, own: int | None = None) -> Ints:
    """Return the nights to settle anew when a target is put on a night, by position.

    These are the night itself, the one it leaves (`own`), those to which what it displaces could go at the
    least loss and from which others could come, and the poorest night out of every group whose limit a
    further night out would break.
    """
    w, made = plan.windows, plan.made.columns
    night, target = w.night[made], w.target[made]
    free = {place.night} if own is None else {place.night, own}
    outside = np.zeros(len(plan.problem.night_day), np.bool_)
    outside[night] = True
    loss = np.maximum(plan.bound.keep + plan.bound.cost - w.value, 0.0)
    ties = np.zeros((len(plan.problem.visits), len(outside)))
    likely = np.exp(-loss / (TIE * float(w.value.max(initial=1e-9))))
    np.maximum.at(ties, (w.target, w.night), likely)
    go = ties[target[np.isin(night, list(free))]].sum(axis=0) * (0.2 + outside)
    come = np.bincount(night, ties[target][:, list(free)].sum(axis=1), len(outside))
    pull = go + come
    pull[[*free, *plan.held]] = 0.0
    best = np.argsort(-pull, kind="stable")[:COMPANY]
    free |= set(best[pull[best] > 0].tolist())
    worth = np.bincount(night, w.value[made], len(outside))
    for limit in plan.problem.limits:
        kept = [one for one in limit.nights if outside[one] and one not in free]
        others = [one for one in kept if one not in plan.held]
        if others and place.night in limit.nights and not outside[place.night] and len(kept) >= limit.most:
            free.add(min(others, key=lambda one: (float(worth[one]), one)))
    return np.array(sorted(free), np.int64)


def changes(
    plan: Reopened, after: Settled, target: int, targets: Sequence[Target], free: Sequence[FreeNight]
) -> tuple[GivesWay, ...]:
    """Return which visits of other targets a plan has elsewhere when settled anew, as the wish-list goes."""
    o = plan.problem.opportunities

    def evenings(rows: Ints) -> list[list[date]]:
        found: list[list[date]] = [[] for _ in targets]
        for row in rows.tolist():
            found[int(o.target[row])].append(free[int(o.night[row])].evening)
        return found

    found = []
    for place, (old, new) in enumerate(zip(evenings(plan.rows), evenings(after.rows), strict=True)):
        gone = sorted(set(old) - set(new))
        come = sorted(set(new) - set(old))
        if place != target:
            pairs = max(len(gone), len(come))
            gone_or_none = [*gone, *[None] * (pairs - len(gone))]
            come_or_none = [*come, *[None] * (pairs - len(come))]
            name = targets[place].name
            found += [GivesWay(name, a, b) for a, b in zip(gone_or_none, come_or_none, strict=True)]
    return tuple(found)
