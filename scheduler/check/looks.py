"""What visits and standbys share: a target looked at on a night, for some time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypeAlias

from ..domain import FreeNight, Plan, Sight, Span, Standby, Target, View, Visit

Breaches: TypeAlias = Iterator[str]
Rule: TypeAlias = Callable[[Plan], Breaches]

MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Look:
    """A visit, or a standby during the whole of its window, with its target and its night.

    Attributes
    ----------
    words : What a breach calls it.
    target, night : Of the wish-list and of the free nights.
    time : When the target is, or may be, looked at.
    sight, view : How it stands then, and what it is looked at through.
    """

    words: str
    target: Target
    night: FreeNight
    time: Span
    sight: Sight
    view: View

    @property
    def evening(self) -> date:
        """The night's name."""
        return self.night.evening

    @property
    def since_arrival(self) -> timedelta:
        """From the start of the free time to the look."""
        return self.time.start - self.night.free.start


def visits_of(plan: Plan) -> list[Look]:
    """Return the visits whose target and night are known."""
    return _known(plan, ((visit, visit.time) for visit in plan.visits))


def standbys_of(plan: Plan) -> list[Look]:
    """Return the standbys whose target and night are known."""
    return _known(plan, ((standby, standby.window) for standby in plan.standbys))


def looks_of(plan: Plan) -> list[Look]:
    """Return visits and standbys whose target and night are known."""
    return visits_of(plan) + standbys_of(plan)


def seen_evenings(plan: Plan) -> dict[str, list[date]]:
    """Return the evenings on which each target was seen, in order."""
    evenings: dict[str, list[date]] = defaultdict(list)
    for outcome in plan.log:
        for name in outcome.seen:
            evenings[name].append(outcome.evening)
    return defaultdict(list, {name: sorted(dates) for name, dates in evenings.items()})


def words_of(entry: Visit | Standby) -> str:
    """Return what a breach calls a visit or a standby."""
    if isinstance(entry, Visit):
        return f"{entry.target} on {entry.evening} at {entry.time.start:%H:%M} UTC"
    return f"{entry.target}, standby on {entry.evening},"


def _known(plan: Plan, entries: Iterable[tuple[Visit | Standby, Span]]) -> list[Look]:
    targets = {target.name: target for target in plan.targets}
    nights = {night.evening: night for night in plan.nights}
    return [
        Look(words_of(entry), targets[entry.target], nights[entry.evening], time, entry.sight, entry.view)
        for entry, time in entries
        if entry.target in targets and entry.evening in nights
    ]
