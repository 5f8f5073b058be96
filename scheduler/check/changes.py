"""Rules of plans made anew: what was announced stands, and every change is told with a reason that holds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import date
from typing import TypeAlias

from ..domain import Change, ChangeReason, Opportunities, Outcome, Plan, Went
from .looks import Breaches

_Facts: TypeAlias = Callable[[Change, date], bool]

_GAVE_WAY = frozenset({
    ChangeReason.NIGHTS_LIMIT, ChangeReason.MADE_ROOM, ChangeReason.BETTER_NIGHT, ChangeReason.GIVEN_UP,
    ChangeReason.NEWLY_PLACED, ChangeReason.OTHER_SITE,
})  # fmt: skip
"""Reasons that excuse no announced visit."""


def change_breaches(plan: Plan, previous: Plan) -> Breaches:
    """A plan tells each of its changes once, none that is not one, and keeps what was announced."""
    yield from _every_change_is_told_once(plan, previous)
    yield from _reasons_hold(plan, previous)
    yield from _announced_visits_stand(plan, previous)


def reason_breaches_of_windows(plan: Plan, opportunities: Opportunities) -> Breaches:
    """What does not show any more on a night has no opportunity on it."""
    nights = [night.evening for night in plan.nights]
    names = [target.name for target in plan.targets]
    for change in plan.changes:
        if change.reason is not ChangeReason.NOT_SHOWN or change.before not in nights:
            continue
        here = opportunities.night == nights.index(change.before)
        if change.target in names:
            here = here & (opportunities.target == names.index(change.target))
        if (here & ~opportunities.standby_only).any() and plan.nights[nights.index(change.before)].ever_clear:
            yield f"{change.target} does show on {change.before}, though a change says it does not"


def _every_change_is_told_once(plan: Plan, previous: Plan) -> Breaches:
    seen = Counter((name, outcome.evening) for outcome in plan.log for name in outcome.seen)
    old = Counter((visit.target, visit.evening) for visit in previous.visits)
    new = Counter((visit.target, visit.evening) for visit in plan.visits)
    told = [change for change in plan.changes if change.before != change.after]
    gone = Counter((change.target, change.before) for change in told if change.before is not None)
    come = Counter((change.target, change.after) for change in told if change.after is not None)
    for words, are, said in (("gone", old - new - seen, gone), ("new", new - old, come)):
        for name, evening in sorted(are - said):
            yield f"{name} on {evening} is {words}, and no change tells it"
        for name, evening in sorted(said - are):
            yield f"{name} on {evening} is not {words}, or told twice, but a change says so"
    begins = {(visit.target, visit.evening): visit.time.start for visit in previous.visits}
    other = Counter(
        (visit.target, visit.evening) for visit in plan.visits if visit.evening in plan.announced
        and begins.get((visit.target, visit.evening), visit.time.start) != visit.time.start
    )  # fmt: skip
    shifts = Counter((c.target, c.after) for c in plan.changes if c.after and c.before == c.after)
    for name, evening in sorted((other - shifts) | (shifts - other)):
        yield f"{name} on {evening} has another time, or a change says so, but not both"


def _reasons_hold(plan: Plan, previous: Plan) -> Breaches:
    log = {outcome.evening: outcome for outcome in plan.log}
    facts = _facts(plan, previous, log)
    past = max(log, default=date.min)
    for change in plan.changes:
        if change.before is None or change.before == change.after:
            continue
        known = facts.get(change.reason)
        if known is not None and not known(change, change.before):
            yield f'{change.target} on {change.before}: "{change.reason}" does not hold'
        if known is None and change.before <= past:
            yield f'{change.target} on {change.before}: the night is past, not "{change.reason}"'


def _facts(plan: Plan, previous: Plan, log: dict[date, Outcome]) -> dict[ChangeReason, _Facts]:
    """Return what must be so for a reason to hold, as far as the plans and the log tell."""
    nights = {night.evening for night in plan.nights}
    wanted = {target.name: target for target in plan.targets}
    often = {target.name: target.visits for target in previous.targets}
    seen = {(name, outcome.evening) for outcome in log.values() for name in outcome.seen}
    planned = {(visit.target, visit.evening) for visit in plan.visits}

    def went(*ways: Went) -> _Facts:
        return lambda _, before: before in log and log[before].went in ways

    def close(change: Change, before: date) -> bool:
        apart = wanted[change.target].spacing_days
        return any(n == change.target and abs((before - e).days) < apart for n, e in seen | planned)

    return {
        ChangeReason.SEEN: lambda change, _: any(name == change.target for name, _ in seen),
        ChangeReason.CLOUDED_OUT: went(Went.CLOUDED_OUT),
        ChangeReason.COULD_NOT_GO: went(Went.COULD_NOT_GO),
        ChangeReason.NOT_SEEN: lambda c, e: (
            went(Went.CLEAR, Went.PART_CLEAR)(c, e) and (c.target, e) not in seen
        ),
        ChangeReason.PAST: lambda _, before: before not in log and before <= max(log, default=date.min),
        ChangeReason.NOT_FREE: lambda _, before: before not in nights,
        ChangeReason.OFF_LIST: lambda change, _: change.target not in wanted,
        ChangeReason.WANTED_LESS: lambda c, _: wanted[c.target].visits < often.get(c.target, 0),
        ChangeReason.TOO_SOON: close,
        ChangeReason.OTHER_SITE: lambda _, before: previous.site_of(before).name != plan.site_of(before).name,
    }


def _announced_visits_stand(plan: Plan, previous: Plan) -> Breaches:
    now = {(visit.target, visit.evening) for visit in plan.visits}
    seen = {(name, outcome.evening) for outcome in plan.log for name in outcome.seen}
    why = {(change.target, change.before): change.reason for change in plan.changes}
    stand = set()
    for visit in previous.visits:
        if visit.evening not in plan.availability.announced or (visit.target, visit.evening) in seen:
            continue
        there, was = plan.site_of(visit.evening).name, previous.site_of(visit.evening).name
        if (visit.target, visit.evening) in now and there == was:
            stand.add(visit.evening)
        elif (visit.target, visit.evening) in now:
            continue  # at another site: no longer what was announced
        elif why.get((visit.target, visit.evening), ChangeReason.MADE_ROOM) in _GAVE_WAY:
            yield f"{visit.target} was announced for {visit.evening} and is gone for no forced reason"
    if tuple(sorted(stand)) != plan.announced:
        yield f"the announced evenings that stand are {sorted(map(str, stand))}"


def past_is_past(plan: Plan) -> Breaches:
    """Nothing is planned on an evening up to the last one logged; an evening is logged once, in order."""
    evenings = [outcome.evening for outcome in plan.log]
    if evenings != sorted(set(evenings)):
        yield "the log's evenings are not in order, each once"
    for night in plan.nights:
        if evenings and night.evening <= max(evenings):
            yield f"{night.evening} is a free night, though the log goes further"
