"""Two plans of a scenario side by side: which visits moved, came and went, from the plans alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from typing import NamedTuple

from .domain import Plan


class Move(NamedTuple):
    """A visit of a target gone from one evening and new on another, or on none."""

    target: str
    before: date | None
    after: date | None


def moves_of(previous: Plan, plan: Plan) -> list[Move]:
    """Return the visits that are on another evening than in a plan before, on none, or new, by target.

    Notes
    -----
    Visits are compared by target and evening. What was seen on the evening planned for it is no move. A
    target's visits that are gone are matched, first to first, with those that are new.
    """
    planned = {(visit.target, visit.evening) for visit in plan.visits}
    before = {(visit.target, visit.evening) for visit in previous.visits}
    seen = {(sighting.target, sighting.evening) for sighting in plan.seen}
    gone, new = defaultdict[str, list[date]](list), defaultdict[str, list[date]](list)
    for target, evening in sorted(before - planned - seen):
        gone[target].append(evening)
    for target, evening in sorted(planned - before):
        new[target].append(evening)
    return [Move(name, *pair) for name in sorted({*gone, *new}) for pair in _matched(gone[name], new[name])]


def sites_changed(previous: Plan, plan: Plan) -> tuple[str, ...]:
    """Return in words which evenings with visits are spent at another site than in the plan before."""
    both = {visit.evening for visit in plan.visits} & {visit.evening for visit in previous.visits}
    return tuple(
        f"{evening} is spent at {plan.site_of(evening).name} now, at {previous.site_of(evening).name} before"
        for evening in sorted(both)
        if plan.site_of(evening).name != previous.site_of(evening).name
    )


def _matched(gone: Iterable[date], new: Iterable[date]) -> Iterator[tuple[date | None, date | None]]:
    """Yield evenings gone with evenings new, first to first; what is over stands alone."""
    gone, new = list(gone), list(new)
    yield from zip(gone, new, strict=False)
    yield from ((evening, None) for evening in gone[len(new) :])
    yield from ((None, evening) for evening in new[len(gone) :])
