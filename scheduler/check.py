"""The judge: restates every rule of a plan without solver or sky, and finds the breaches in words.

`breaches_of` needs nothing but the plan itself. `breaches_of_windows` also holds the visits against the
opportunities they were chosen from. Neither shares code with the model that made the plan.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from itertools import pairwise

from .domain import Darkness, Kind, Opportunities, Plan, Span, Target, Visit
from .errors import PlanRejected

_MINUTE = timedelta(minutes=1)
Breaches = Iterator[str]


def judge(plan: Plan, opportunities: Opportunities | None = None) -> None:
    """Raise `PlanRejected` with every breach, or return in silence."""
    breaches = breaches_of(plan)
    if opportunities is not None:
        breaches += breaches_of_windows(plan, opportunities)
    if breaches:
        raise PlanRejected(breaches)


def breaches_of(plan: Plan) -> tuple[str, ...]:
    """Return every rule the plan breaks, each in words; empty for a sound plan."""
    return tuple(breach for rule in RULES for breach in rule(plan))


def breaches_of_windows(plan: Plan, opportunities: Opportunities) -> tuple[str, ...]:
    """Return every visit that lies in none of its target's opportunities of that night, in words."""
    target_of = {target.name: position for position, target in enumerate(plan.targets)}
    night_of = {night.evening: position for position, night in enumerate(plan.nights)}
    stretches: dict[tuple[int, int], list[Span]] = defaultdict(list)
    for row in range(len(opportunities)):
        one = opportunities[row]
        span = Span(opportunities.moment(one.start_min), opportunities.moment(one.end_min))
        stretches[one.target, one.night].append(span)
    return tuple(
        f"{_of(visit)} lies in no stretch in which the target shows"
        for visit in plan.visits
        if not any(
            stretch.start <= visit.time.start and visit.time.end <= stretch.end
            for stretch in stretches[target_of[visit.target], night_of[visit.evening]]
        )
    )


def visits_name_known_targets_and_nights(plan: Plan) -> Breaches:
    """Every visit and standby belongs to a target of the wish-list and a free night."""
    names, evenings = {t.name for t in plan.targets}, {n.evening for n in plan.nights}
    entries = [(entry.target, entry.evening) for entry in plan.visits]
    entries += [(entry.target, entry.evening) for entry in plan.standbys]
    for name, evening in entries:
        if name not in names:
            yield f"{name} is not on the wish-list"
        if evening not in evenings:
            yield f"{evening} is not a free night"


def free_nights_are_allowed(plan: Plan) -> Breaches:
    """Every free night lies in the season, once, in order, and the weekly pattern allows it."""
    evenings = [night.evening for night in plan.nights]
    if evenings != sorted(set(evenings)):
        yield "the free nights are not in order, each once"
    season = set(plan.season.evenings)
    for evening in evenings:
        if evening not in season:
            yield f"{evening} lies outside the season"
        if plan.availability.rule_of(evening) is None:
            yield f"{evening} is not free under the weekly pattern"


def visits_last_as_long_as_asked(plan: Plan) -> Breaches:
    """A visit lasts the minutes its target asks for."""
    targets = _targets(plan)
    for visit in _known(plan):
        if visit.time.minutes != targets[visit.target].minutes:
            yield f"{_of(visit)} lasts {visit.time.minutes:g} min, not {targets[visit.target].minutes}"


def visits_fit_the_free_time(plan: Plan) -> Breaches:
    """No visit starts before the kit is set up or ends after the observer must leave."""
    nights = {night.evening: night for night in plan.nights}
    for visit in _known(plan):
        free = nights[visit.evening].free
        if visit.time.start < free.start + plan.routine.setup_min * _MINUTE:
            yield f"{_of(visit)} starts before the kit is set up"
        if visit.time.end > free.end:
            yield f"{_of(visit)} ends after the night's finish"


def faint_visits_wait_for_darkness(plan: Plan) -> Breaches:
    """A deep-sky object is visited inside the dark window, with eyes adapted to the dark."""
    nights, targets = {night.evening: night for night in plan.nights}, _targets(plan)
    for visit in _known(plan):
        if targets[visit.target].kind is not Kind.DEEP_SKY:
            continue
        free = nights[visit.evening]
        dark = free.night.dark
        if dark is None or free.night.darkness is Darkness.DAYLIGHT:
            yield f"{_of(visit)} is on a night that does not get dark"
            continue
        ready = free.free.start + (plan.routine.setup_min + plan.routine.dark_adaptation_min) * _MINUTE
        if visit.time.start < max(ready, dark.start) or visit.time.end > dark.end:
            yield f"{_of(visit)} is not wholly in darkness with adapted eyes"


def nothing_is_looked_at_in_daylight(plan: Plan) -> Breaches:
    """Every visit lies between the end of civil dusk and the start of civil dawn: the Sun is never near."""
    nights = {night.evening: night for night in plan.nights}
    for visit in _known(plan):
        twilit = nights[visit.evening].night.twilit
        if twilit is None or visit.time.start < twilit.start or visit.time.end > twilit.end:
            yield f"{_of(visit)} is outside civil dusk to civil dawn"
        if visit.sight.sun_altitude_deg > 0.0:
            yield f"{_of(visit)} has the Sun above the horizon"


def visits_of_a_night_leave_room_to_move(plan: Plan) -> Breaches:
    """Visits of a night follow one another in their order, with time to find the next target."""
    for visits in _by_evening(plan).values():
        in_time = sorted(visits, key=lambda visit: visit.time)
        if [visit.order for visit in in_time] != list(range(1, len(visits) + 1)):
            yield f"the programme of {visits[0].evening} is not numbered in order of time"
        for first, second in pairwise(in_time):
            if second.time.start < first.time.end + plan.routine.move_min * _MINUTE:
                yield f"{_of(second)} starts less than {plan.routine.move_min} min after {first.target}"


def targets_stand_high_enough(plan: Plan) -> Breaches:
    """A visited target stands at or above its lowest altitude in the middle of the visit."""
    targets = _targets(plan)
    for visit in _known(plan):
        if visit.sight.altitude_deg < targets[visit.target].lowest_altitude_deg - 0.01:
            yield f"{_of(visit)} stands at {visit.sight.altitude_deg:.1f} deg, too low"


def visits_keep_their_dates_and_spacing(plan: Plan) -> Breaches:
    """A target is visited between its dates, no oftener than wanted, and no sooner than its spacing."""
    evenings: dict[str, list[date]] = defaultdict(list)
    for visit in _known(plan):
        evenings[visit.target].append(visit.evening)
    for name, target in _targets(plan).items():
        dates = sorted(evenings[name])
        if len(dates) > target.visits:
            yield f"{name} has {len(dates)} visits, {target.visits} wanted"
        for first, second in pairwise(dates):
            if (second - first).days < target.spacing_days:
                yield f"{name} is visited on {first} and {second}, less than {target.spacing_days} days apart"
        for evening in dates:
            if not (target.earliest or evening) <= evening <= (target.latest or evening):
                yield f"{name} on {evening} is outside the dates asked for"


def nights_out_stay_within_limits(plan: Plan) -> Breaches:
    """No more nights out in an ISO week or a calendar month than the observer allows."""
    out = set(_by_evening(plan))
    weeks = Counter(evening.isocalendar()[:2] for evening in out)
    months = Counter((evening.year, evening.month) for evening in out)
    for (year, week), count in weeks.items():
        if count > (plan.availability.nights_per_week or 7):
            yield f"{count} nights out in week {week} of {year}"
    for (year, month), count in months.items():
        if count > (plan.availability.nights_per_month or 31):
            yield f"{count} nights out in {year}-{month:02d}"


def every_missing_visit_is_explained(plan: Plan) -> Breaches:
    """A target with fewer visits than wanted is unplaced by just that many, once; no other is."""
    done = Counter(visit.target for visit in plan.visits)
    missing = {entry.target: entry.missing for entry in plan.unplaced}
    if len(missing) != len(plan.unplaced):
        yield "a target is listed as unplaced twice"
    for target in plan.targets:
        short = target.visits - done[target.name]
        if missing.get(target.name, 0) != max(short, 0):
            yield f"{target.name} lacks {short} visits, {missing.get(target.name, 0)} are explained"


def standbys_are_not_on_the_programme(plan: Plan) -> Breaches:
    """A standby is not already visited that night, and its best moment lies in its window."""
    visited = {(visit.target, visit.evening) for visit in plan.visits}
    for standby in plan.standbys:
        if (standby.target, standby.evening) in visited:
            yield f"{standby.target} on {standby.evening} is both visit and standby"
        if not standby.window.start <= standby.best <= standby.window.end:
            yield f"{standby.target} on {standby.evening} has its best moment outside its window"


def the_bound_is_not_passed(plan: Plan) -> Breaches:
    """The plan is worth no more than its bound, and no less than nothing."""
    if plan.objective < 0 or plan.objective > plan.bound * (1 + 1e-6) + 1e-6:
        yield f"an objective of {plan.objective} does not go with a bound of {plan.bound}"


RULES: tuple[Callable[[Plan], Breaches], ...] = (
    visits_name_known_targets_and_nights,
    free_nights_are_allowed,
    visits_last_as_long_as_asked,
    visits_fit_the_free_time,
    faint_visits_wait_for_darkness,
    nothing_is_looked_at_in_daylight,
    visits_of_a_night_leave_room_to_move,
    targets_stand_high_enough,
    visits_keep_their_dates_and_spacing,
    nights_out_stay_within_limits,
    every_missing_visit_is_explained,
    standbys_are_not_on_the_programme,
    the_bound_is_not_passed,
)


def _targets(plan: Plan) -> dict[str, Target]:
    return {target.name: target for target in plan.targets}


def _known(plan: Plan) -> list[Visit]:
    names, evenings = {t.name for t in plan.targets}, {n.evening for n in plan.nights}
    return [visit for visit in plan.visits if visit.target in names and visit.evening in evenings]


def _by_evening(plan: Plan) -> dict[date, list[Visit]]:
    programmes: dict[date, list[Visit]] = defaultdict(list)
    for visit in plan.visits:
        programmes[visit.evening].append(visit)
    return programmes


def _of(visit: Visit) -> str:
    return f"{visit.target} on {visit.evening} at {visit.time.start:%H:%M} UTC"
