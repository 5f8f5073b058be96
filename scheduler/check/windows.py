"""Rules that hold a plan against the opportunities it was made from."""

from __future__ import annotations

from collections import defaultdict
from typing import TypeAlias

import numpy as np

from ..domain import Opportunities, Plan
from .looks import MINUTE, Breaches, Look, seen_evenings, standbys_of, visits_of

_Stretch: TypeAlias = tuple[float, float]


def window_breaches(plan: Plan, opportunities: Opportunities) -> Breaches:
    """Visits lie inside stretches in which their target shows; the windows of standbys are such stretches."""
    if (opportunities.targets, opportunities.nights) != (len(plan.targets), len(plan.nights)):
        yield "the opportunities are those of another season"
        return
    visits, standbys = visits_of(plan), standbys_of(plan)
    stretches = _stretches(plan, opportunities, [*visits, *standbys])
    for look in visits:
        starts, ends = _minutes(look, opportunities)
        if not any(start <= starts and ends <= end for start, end in stretches[_key(look)]):
            yield f"{look.words} lies in no stretch in which the target shows"
    yield from _series_broken(plan, opportunities, visits)
    for look in standbys:
        if _minutes(look, opportunities) not in stretches[_key(look)]:
            yield f"{look.words} has a window that is no stretch in which the target shows"


def _series_broken(plan: Plan, opportunities: Opportunities, visits: list[Look]) -> Breaches:
    """Say where a target seen waits longer than its longest spacing, though it shows in time."""
    seen = seen_evenings(plan)
    for position, target in enumerate(plan.targets):
        longest_days = target.longest_spacing_days
        next_one = min((look.evening for look in visits if look.target.name == target.name), default=None)
        if longest_days is None or next_one is None or not seen[target.name]:
            continue
        last = seen[target.name][-1]
        own = (opportunities.target == position) & ~opportunities.standby_only & (opportunities.merit > 0)
        offered = [plan.nights[night] for night in sorted(set(opportunities.night[own].tolist()))]
        waits = [(night.evening - last).days for night in offered if night.ever_clear]
        in_time = any(target.spacing_days <= days <= longest_days for days in waits)
        if (next_one - last).days > longest_days and in_time:
            yield f"{target.name}, seen on {last}, could be visited in time, and waits until {next_one}"


def _stretches(
    plan: Plan, opportunities: Opportunities, looks: list[Look]
) -> dict[tuple[str, str], list[_Stretch]]:
    """Return the stretches, in minutes after the epoch, of the targets and nights that are looked at."""
    target_of = {target.name: position for position, target in enumerate(plan.targets)}
    night_of = {night.evening: position for position, night in enumerate(plan.nights)}
    found: dict[tuple[str, str], list[_Stretch]] = defaultdict(list)
    for look in {_key(look): look for look in looks}.values():
        on, target = night_of[look.evening], target_of[look.target.name]
        first, last = np.searchsorted(opportunities.night, [on, on + 1])
        for row in (first + np.flatnonzero(opportunities.target[first:last] == target)).tolist():
            stretch = float(opportunities.start_min[row]), float(opportunities.end_min[row])
            found[_key(look)].append(stretch)
    return found


def _key(look: Look) -> tuple[str, str]:
    return look.target.name, look.evening.isoformat()


def _minutes(look: Look, opportunities: Opportunities) -> _Stretch:
    """Return when a look starts and ends, in minutes after the epoch."""
    return (look.time.start - opportunities.epoch) / MINUTE, (look.time.end - opportunities.epoch) / MINUTE
