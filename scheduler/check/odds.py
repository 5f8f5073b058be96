"""Rules of the odds a plan tells."""

from __future__ import annotations

import math
from collections import Counter
from itertools import pairwise

from ..domain import Plan
from .looks import Breaches, Rule


def odds_speak_of_every_target_once(plan: Plan) -> Breaches:
    """The odds name the targets of the wish-list, in its order."""
    if plan.odds and [one.target for one in plan.odds.targets] != [target.name for target in plan.targets]:
        yield "the odds are not those of the wish-list's targets, one each in its order"


def odds_are_counted_in_whole_years(plan: Plan) -> Breaches:
    """Completion odds are a count of years over all years, their errors those of such a count."""
    if not plan.odds:
        return
    years = plan.odds.years
    for one in plan.odds.targets:
        done = one.completion_odds * years
        if not abs(done - round(done)) < 1e-6 * years:
            yield f"the odds of {one.target}, {one.completion_odds}, are no share of {years} years"
        if not one.last_nights:
            if one.standard_error:
                yield f"{one.target} shows no more, which is certain, not ±{one.standard_error}"
            continue
        # two successes and two failures more, as in Agresti & Coull 1998
        share = (done + 2) / (years + 4)
        if not math.isclose(one.standard_error**2, share * (1 - share) / (years + 4), rel_tol=1e-6):
            yield f"the standard error of {one.target}, {one.standard_error}, is not that of {years} years"


def the_expected_number_is_the_sum_of_the_odds(plan: Plan) -> Breaches:
    """Targets completed in the mean are as many as the odds say, nights out no more than are free."""
    if not plan.odds:
        return
    total = math.fsum(one.completion_odds for one in plan.odds.targets)
    if not abs(total - plan.odds.expected) < 1e-6 * (1 + total):
        yield f"{plan.odds.expected} targets are expected, their odds add up to {total}"
    if not 0 <= plan.odds.nights_out <= len(plan.nights):
        yield f"{plan.odds.nights_out} nights out are expected of {len(plan.nights)} free ones"


def last_nights_are_free_nights(plan: Plan) -> Breaches:
    """Last good nights and milestones are free evenings, in order."""
    if not plan.odds:
        return
    free = {night.evening for night in plan.nights if night.ever_clear}
    for one in plan.odds.targets:
        if not free.issuperset(one.last_nights) or any(b <= a for a, b in pairwise(one.last_nights)):
            yield f"the last good nights of {one.target} are not free evenings in order"
    stones = plan.odds.milestones
    dated = [stone.evening for stone in stones if stone.evening is not None]
    if not free.issuperset(dated) or dated != sorted(dated):
        yield "the milestones are not free evenings in order"
    if any(b.share <= a.share or (a.evening is None and b.evening) for a, b in pairwise(stones)):
        yield "the milestones do not rise"


def what_is_never_offered_is_never_done(plan: Plan) -> Breaches:
    """A target without a good night is never completed, unless nothing more is wanted of it."""
    if not plan.odds:
        return
    seen = Counter(name for outcome in plan.log for name in outcome.seen)
    wanted = {target.name: target.visits - seen[target.name] for target in plan.targets}
    for one in plan.odds.targets:
        if not one.last_nights and one.completion_odds > 0 and wanted.get(one.target, 0) > 0:
            yield f"{one.target} has odds of {one.completion_odds}, but no night it shows on"


ODDS_RULES: tuple[Rule, ...] = (
    odds_speak_of_every_target_once, odds_are_counted_in_whole_years,
    the_expected_number_is_the_sum_of_the_odds, last_nights_are_free_nights,
    what_is_never_offered_is_never_done,
)  # fmt: skip
