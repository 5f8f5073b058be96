"""Rules of when targets show; a plan made before they were told has none."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date

from ..domain import GOOD_SHARE, Opportunities, Plan
from .looks import Breaches, Rule


def showing_speaks_of_every_target_once(plan: Plan) -> Breaches:
    """When targets show is told of the wish-list, in its order, for each week of the season."""
    if not plan.showing:
        return
    if [one.target for one in plan.showing] != [target.name for target in plan.targets]:
        yield "when targets show is not told of the wish-list's, one each in its order"
    weeks = (plan.season.nights + 6) // 7
    for one in plan.showing:
        if len(one.shown) != weeks:
            yield f"{one.target} is told to show through {len(one.shown)} weeks of a season of {weeks}"


def targets_show_on_free_nights(plan: Plan) -> Breaches:
    """In no week a target shows on more nights than are free, and one that shows has a good night."""
    free = Counter((night.evening - plan.season.start).days // 7 for night in plan.nights)
    for one in plan.showing:
        for week, nights in enumerate(one.shown_nights):
            if nights > free[week]:
                yield f"{one.target} shows on {nights} nights of week {week + 1}, with {free[week]} free"
        if any(one.shown_nights) and one.last_good_week is None:
            yield f"{one.target} shows, but never well"


def targets_show_when_visited(plan: Plan) -> Breaches:
    """A target shows in the week of each of its visits."""
    shown = {one.target: one.shown_nights for one in plan.showing}
    for visit in plan.visits:
        week = (visit.evening - plan.season.start).days // 7
        if visit.target in shown and not any(shown[visit.target][week : week + 1]):
            yield f"{visit.target} is visited on {visit.evening}, in whose week it does not show"


SHOWING_RULES: tuple[Rule, ...] = (
    showing_speaks_of_every_target_once, targets_show_on_free_nights, targets_show_when_visited,
)  # fmt: skip


def showing_breaches(plan: Plan, every: Opportunities) -> Breaches:
    """Targets show on as many nights of each week as all opportunities say, seen or not, of all sites."""
    best: dict[int, dict[date, float]] = defaultdict(dict)
    columns = every.target, every.night, every.merit, every.standby_only
    for target, night, merit, standby_only in zip(*(column.tolist() for column in columns), strict=True):
        evening = plan.nights[night].evening
        if not standby_only and merit > best[target].get(evening, 0.0):
            best[target][evening] = merit
    for position, one in enumerate(plan.showing):
        merits = best[position]
        least = GOOD_SHARE * max(merits.values(), default=0.0)
        if one.shown != _by_week(plan, list(merits), len(one.shown)):
            yield f"{one.target} does not show on the nights its weeks tell"
        if one.good != _by_week(
            plan, [day for day, merit in merits.items() if merit >= least], len(one.good)
        ):
            yield f"{one.target} does not show well on the nights its weeks tell"


def _by_week(plan: Plan, evenings: list[date], weeks: int) -> str:
    """Return how many evenings lie in each week, a digit a week."""
    counts = Counter((evening - plan.season.start).days // 7 for evening in evenings)
    return "".join(str(counts[week]) for week in range(weeks))
