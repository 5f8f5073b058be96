"""Why a target has too few visits, and the smallest change that would give it one more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from ..assignment.reopen import Asked, Place, Reopened
from ..domain import (
    Amendment,
    Cancel,
    Plan,
    Progress,
    Remedy,
    Report,
    Scenario,
    Sight,
    Target,
    WhyNot,
    ignore_progress,
    never_cancelled,
)
from ..errors import Cancelled, InvalidValue
from ..placed import announced_in, of_scenario, rows_of
from ..ready import Ready
from .made import season_ready, target_of
from .touched import nights_touched
from .why_then import seen

LOWEST_ALTITUDE_DEG = 1
"""No lower limit is tried: below, the horizon's own haze is looked into (our judgement). [deg]"""
HALF_HOURS = 6
"""So many half hours later, or earlier, are tried."""
DARKER_MAG, DARKEST_MAG = 0.5, 21.9
"""Steps in which darker sites are tried, and the darkest. [mag/arcsec2]"""
TRIED = 4
"""Nights on which a visit is tried, those that look best by the prices."""
NEAR_SUN_DEG, TWILIT_DEG, TWILIT_SUN_DEG = 30.0, 60.0, -12.0
"""Nearer the Sun than the first, or than the second with the Sun higher than the third, a low target is
cautioned about (our judgement). [deg]"""

LOW = (
    "This looks low into twilight near the Sun. Never point a telescope, finder or binoculars near the Sun: "
    "begin after the end of civil dusk, stop before civil dawn, and do not sweep towards where it is."
)


def why_not(
    plan: Plan, scenario: Scenario, target: str, *, report: Report = ignore_progress,
    cancel: Cancel = never_cancelled,
) -> WhyNot:  # fmt: skip
    """Return why a target has too few visits, and the smallest single change that would give it one more.

    Parameters
    ----------
    plan, scenario : A plan, and the scenario it was made of.
    target : Its name.

    Notes
    -----
    Of each sort the smallest step that helps is told: a lower altitude limit for this target, by whole
    degrees; one weekday more; a later finish, then an earlier start, by half hours; a darker site, by half
    magnitudes. Each step is worked out again: when the target then shows, and, where it does, whether the
    plan is worth more with the visit than without it, the nights concerned settled anew and the others held.
    A larger change, or two at a time, may help where none of these does.

    Raises
    ------
    InvalidValue
        The plan is not of this scenario, or the target has all its visits.
    UnknownName
        The wish-list has no such target.
    Cancelled
        `cancel` was set.
    """
    place = target_of(plan, target)
    name = plan.targets[place].name
    entry = next((one for one in plan.unplaced if one.target == name), None)
    if entry is None:
        raise InvalidValue("target", name, "a target with fewer visits than wanted")
    report(Progress("following the sky through the season", 0.0))
    of_scenario(plan, season_ready(scenario))
    as_it_is = _remedy(plan, scenario, Amendment(), place, cancel) if _shows(scenario, place) else None
    if as_it_is:  # only the search had not found it
        return WhyNot(name, entry.missing, entry.reason, entry.words, (as_it_is,), ())
    remedies, tried = [], []
    for turn, sort in enumerate(_sorts(scenario, scenario.targets[place])):
        report(Progress(f"trying {sort.words}", 0.1 + 0.18 * turn))
        found = _smallest(plan, scenario, sort, place, cancel)
        if found:
            remedies.append(found)
        elif sort.steps:
            tried.append(sort.words)
    return WhyNot(name, entry.missing, entry.reason, entry.words, tuple(remedies), tuple(tried))


class _Sort(NamedTuple):
    """A sort of change in words, and its steps, the smallest first; `nested` if each allows more."""

    words: str
    steps: Sequence[Amendment]
    nested: bool = True


def _sorts(scenario: Scenario, target: Target) -> tuple[_Sort, ...]:
    """Return the sorts of change to try, the smallest effort first."""
    of = (target.name,)
    first_deg = int(np.ceil(target.lowest_altitude_deg)) - 1
    lower = range(first_deg, LOWEST_ALTITUDE_DEG - 1, -1)
    known = {weekday for rule in scenario.availability.rules for weekday in rule.weekdays}
    minutes = [30 * step for step in range(1, HALF_HOURS + 1)]
    given = scenario.site.sky_brightness
    darker = np.arange(given + DARKER_MAG, DARKEST_MAG, DARKER_MAG).round(2).tolist()
    later, earlier = (
        [one for one in changes if one.applied(scenario) != scenario]
        for changes in (
            [Amendment(later_min=m) for m in minutes],
            [Amendment(earlier_min=m) for m in minutes],
        )
    )
    by = f"by up to {HALF_HOURS / 2:g} h"
    return (
        _Sort(f"an altitude limit down to {LOWEST_ALTITUDE_DEG}°",
              [Amendment(lowest_altitude_deg=float(deg), targets=of) for deg in lower]),
        _Sort("one weekday more",
              [Amendment(weekdays=(day,)) for day in range(7) if day not in known], False),
        _Sort(f"a later finish, {by}", later),
        _Sort(f"an earlier start, {by}", earlier),
        _Sort(f"a sky of up to {DARKEST_MAG} mag/arcsec2",
              [Amendment(sky_brightness=one) for one in [*darker, *[DARKEST_MAG] * (given < DARKEST_MAG)]]),
    )  # fmt: skip


def _smallest(plan: Plan, scenario: Scenario, sort: _Sort, target: int, cancel: Cancel) -> Remedy | None:
    """Return the smallest step of a sort that brings a visit, None where none does."""
    if sort.nested and sort.steps and not _shows(sort.steps[-1].applied(scenario), target):
        return None  # no smaller step opens more of the sky
    for change in sort.steps:
        if cancel.is_set():
            raise Cancelled
        changed = change.applied(scenario)
        found = _remedy(plan, changed, change, target, cancel) if _shows(changed, target) else None
        if found:
            return found
    return None


def _shows(scenario: Scenario, target: int) -> bool:
    """Tell whether a target could be visited on any free night, if it were alone on the list."""
    alone = season_ready(replace(scenario, targets=(scenario.targets[target],)))
    clear = np.array([night.ever_clear for night in alone.free], np.bool_)
    return bool((clear[alone.opportunities.night] & ~alone.opportunities.standby_only).any())


def _remedy(plan: Plan, changed: Scenario, change: Amendment, target: int, cancel: Cancel) -> Remedy | None:
    """Return the visit that a change brings, None where it brings none."""
    made = season_ready(changed)
    problem = made.priced(cancel, announced_in(plan, made)).problem
    rows, starts = rows_of(plan, made, problem)
    with Reopened(problem, rows, starts, plan.seed, cancel, announced_in(plan, made)) as reopened:
        return _placed(reopened, made, change, target)


def _placed(plan: Reopened, made: Ready, change: Amendment, target: int) -> Remedy | None:
    """Return the remedy where the plan is worth more with one visit more of the target."""
    w = plan.windows
    mine = np.flatnonzero(w.target == target)
    own = w.night[plan.made.columns[w.target[plan.made.columns] == target]]
    best = mine[np.argsort(-plan.gain[mine], kind="stable")]
    others = [night for night in dict.fromkeys(w.night[best].tolist()) if night not in own]
    nights = [night for night in others if plan.may_change(night)]
    for night in nights[:TRIED]:
        (settled,) = plan.settle([Asked(nights_touched(plan, Place(target, night)))])
        if settled is None:
            continue
        of_target = plan.problem.opportunities.target[settled.rows] == target
        on = plan.problem.opportunities.night[settled.rows[of_target]]
        new = [one for one in on.tolist() if one not in own]
        if len(on) > len(own) and new:
            time, sight = seen(made, plan, settled, Place(target, new[0]))
            return Remedy(change, made.free[new[0]].evening, time, sight, caution_of(change, sight))
    return None


def caution_of(change: Amendment, sight: Sight) -> str:
    """Return what to beware of where a lower limit looks into twilight near the Sun, else nothing."""
    near_deg = TWILIT_DEG if sight.sun_altitude_deg > TWILIT_SUN_DEG else NEAR_SUN_DEG
    lower = change.lowest_altitude_deg is not None
    return LOW if lower and sight.sun_separation_deg < near_deg else ""
