"""Rules of visits: how long, in which order, how many and how far apart."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from itertools import pairwise

from ..domain import Plan, Visit
from .looks import MINUTE, Breaches, Rule, seen_evenings, visits_of, words_of


def visits_last_as_long_as_asked(plan: Plan) -> Breaches:
    """A visit lasts the minutes its target asks for."""
    for look in visits_of(plan):
        if look.time.minutes != look.target.minutes:
            yield f"{look.words} lasts {look.time.minutes:g} min, not {look.target.minutes}"


def programmes_are_numbered_in_order(plan: Plan) -> Breaches:
    """The visits of a night are numbered from 1 in order of time."""
    programmes: dict[date, list[Visit]] = defaultdict(list)
    for visit in sorted(plan.visits, key=lambda visit: visit.time):
        programmes[visit.evening].append(visit)
    for evening, visits in programmes.items():
        if [visit.order for visit in visits] != list(range(1, len(visits) + 1)):
            yield f"the programme of {evening} is not numbered in order of time"


def visits_leave_room_to_move(plan: Plan) -> Breaches:
    """Visits follow one another through the season with time to find the next target, across noon too."""
    for first, second in pairwise(sorted(plan.visits, key=lambda visit: visit.time)):
        if second.time.start - first.time.end < plan.routine.move_min * MINUTE:
            yield f"{words_of(second)} starts less than {plan.routine.move_min} min after {first.target}"


def visits_are_as_wanted_and_spaced(plan: Plan) -> Breaches:
    """A target is visited no oftener than still wanted, and no sooner again than its spacing."""
    evenings, seen = _evenings(plan), seen_evenings(plan)
    for target in plan.targets:
        left = target.visits - len(seen[target.name])
        planned = sorted(evenings[target.name])
        if len(planned) > max(0, left):
            yield f"{target.name} has {len(planned)} visits, {max(0, left)} wanted"
        dates = [*seen[target.name][-1:], *planned]
        for first, second in pairwise(dates):
            if (second - first).days < target.spacing_days:
                yield f"{target.name} on {first} and {second}: less than {target.spacing_days} days apart"


def visits_are_not_too_far_apart(plan: Plan) -> Breaches:
    """A target with a longest spacing is visited again within it, or not at all; but of two announced
    evenings nothing is asked.
    """  # noqa: D205
    evenings = _evenings(plan)
    for target in plan.targets:
        for first, second in pairwise(sorted(evenings[target.name])):
            longest_days = target.longest_spacing_days
            told = first in plan.announced and second in plan.announced
            if longest_days is not None and (second - first).days > longest_days and not told:
                yield f"{target.name} on {first} and {second}: more than {longest_days} days apart"


def _evenings(plan: Plan) -> dict[str, list[date]]:
    """Return the evenings of the visits of each target."""
    evenings: dict[str, list[date]] = defaultdict(list)
    for look in visits_of(plan):
        evenings[look.target.name].append(look.evening)
    return evenings


VISIT_RULES: tuple[Rule, ...] = (
    visits_last_as_long_as_asked, programmes_are_numbered_in_order, visits_leave_room_to_move,
    visits_are_as_wanted_and_spaced, visits_are_not_too_far_apart,
)  # fmt: skip
