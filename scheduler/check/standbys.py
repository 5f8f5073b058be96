"""Rules of standbys: what may wait on a night beside its programme."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, timedelta

from ..domain import Plan
from .looks import Breaches, Look, Rule, seen_evenings, standbys_of, visits_of, words_of

_LINGER = timedelta(hours=1)
"""So long after the last visit of a night its time left may be used."""


def standbys_are_not_on_the_programme(plan: Plan) -> Breaches:
    """A target is not both visited on a night and a standby of it, nor twice a standby."""
    visited = {(visit.target, visit.evening) for visit in plan.visits}
    waiting = Counter((standby.target, standby.evening) for standby in plan.standbys)
    for (name, evening), times in waiting.items():
        if (name, evening) in visited:
            yield f"{name} on {evening} is both visit and standby"
        if times > 1:
            yield f"{name} is a standby on {evening} {times} times"


def standbys_are_numbered_in_order(plan: Plan) -> Breaches:
    """The standbys of a night are numbered from 1 in the order in which they are listed."""
    orders: dict[date, list[int]] = defaultdict(list)
    for standby in plan.standbys:
        orders[standby.evening].append(standby.order)
    for evening, order in orders.items():
        if order != list(range(1, len(order) + 1)):
            yield f"the standbys of {evening} are not numbered in order"


def standbys_have_room_for_a_visit(plan: Plan) -> Breaches:
    """A standby's window is at least as long as a visit, and its best moment lies in it."""
    for look in standbys_of(plan):
        if not look.time.minutes >= look.target.minutes:
            yield f"{look.words} has {look.time.minutes:g} min, not the {look.target.minutes} of a visit"
    for standby in plan.standbys:
        if not standby.window.start <= standby.best <= standby.window.end:
            yield f"{words_of(standby)} has its best moment outside its window"


def standbys_can_be_looked_at_while_out(plan: Plan) -> Breaches:
    """Beside visits, a standby has room, and its best moment, from the first to an hour after the last."""
    visited: dict[date, list[Look]] = defaultdict(list)
    for look in visits_of(plan):
        visited[look.evening].append(look)
    minutes = {target.name: target.minutes for target in plan.targets}
    for standby in plan.standbys:
        if not (here := visited[standby.evening]) or standby.target not in minutes:
            continue
        first = min(look.time.start for look in here)
        last = max(look.time.end for look in here) + _LINGER
        room = min(last, standby.window.end) - max(first, standby.window.start)
        if not room >= timedelta(minutes=minutes[standby.target]):
            yield f"{words_of(standby)} has no room for a visit while the observer is out"
        elif not first <= standby.best <= last:
            yield f"{words_of(standby)} has its best moment while nobody is out"


def standbys_keep_the_spacing(plan: Plan) -> Breaches:
    """A target wanted several times waits on no night too near one on which it is visited or was seen."""
    visited: dict[str, list[date]] = defaultdict(list)
    for look in visits_of(plan):
        visited[look.target.name].append(look.evening)
    seen = seen_evenings(plan)
    for look in standbys_of(plan):
        if len(seen[look.target.name]) >= look.target.visits:
            yield f"{look.words} has been seen as often as wanted"
        for evening in seen[look.target.name][-1:]:
            if (look.evening - evening).days < look.target.spacing_days:
                yield f"{look.words} is less than {look.target.spacing_days} days from {evening}, when seen"
        for evening in visited[look.target.name] if look.target.visits > 1 else ():
            if 0 < abs((look.evening - evening).days) < look.target.spacing_days:
                yield f"{look.words} is less than {look.target.spacing_days} days from its visit on {evening}"


STANDBY_RULES: tuple[Rule, ...] = (
    standbys_are_not_on_the_programme, standbys_are_numbered_in_order, standbys_have_room_for_a_visit,
    standbys_can_be_looked_at_while_out, standbys_keep_the_spacing,
)  # fmt: skip
