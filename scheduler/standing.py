"""What stands of the plan before: announced visits hold, the others count a little more where they were."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .assignment.problem import Assignment, Problem
from .domain import FreeNight, Opportunities, Plan, Scenario, Visit
from .domain.opportunity import Ints
from .errors import InvalidValue
from .order import NightVisits, fits
from .sequence import sequence
from .wanted import some_of, visits_left

TIE = 1e-5
"""Even without steadiness a published visit counts this part more: of two equal plans the old one stays."""


class Held(NamedTuple):
    """A visit that stands: its target and night, the row of the season it lies in, and its start. [min]"""

    target: int
    night: int
    row: int
    start_min: int


@dataclass(frozen=True, eq=False)
class Standing:
    """What a new plan has to keep, or would rather keep, of the one before.

    Attributes
    ----------
    opportunities : The season's rows, those of announced nights cut to what their visits leave free.
    parent : The season's row each of them comes from. int, (rows,)
    rows, start_min : The announced visits that stand, by row of `opportunities`. int, (held,), [min]
    published : Whether a row's target was planned on its night before. (rows,)
    begin : Rows and starts of the visits planned before that nobody announced. int, (visits,) each, [min]
    """

    opportunities: Opportunities
    parent: Ints
    rows: Ints
    start_min: Ints
    published: NDArray[np.bool_]
    begin: tuple[Ints, Ints] | None = None

    @property
    def nights(self) -> frozenset[int]:
        """The free nights, by position, whose announced programme stands."""
        return frozenset(self.opportunities.night[self.rows].tolist())

    def asked(self, season: Problem, steadiness: float) -> Problem:
        """Return what is left to decide of a season's problem beside the announced visits."""
        if self.begin is None:
            return season
        o = self.opportunities
        value, held_days = season.value[self.parent], {t: list(d) for t, d in season.held_days.items()}
        for target, night in zip(o.target[self.rows].tolist(), o.night[self.rows].tolist(), strict=True):
            day = int(season.night_day[night])
            apart = np.abs(season.night_day[o.night] - day)
            value[(o.target == target) & (apart < max(1, int(season.spacing_days[target])))] = 0.0
            held_days.setdefault(target, []).append(day)
        taken = np.bincount(o.target[self.rows], minlength=o.targets)
        return replace(
            season, opportunities=o, value=value, visits=np.maximum(season.visits - taken, 0),
            favour=np.where(self.published, max(steadiness, TIE), 0.0),
            held_days={target: tuple(sorted(days)) for target, days in held_days.items()},
        )  # fmt: skip

    def completed(self, found: Assignment, season: Problem) -> Assignment:
        """Return what was found with the announced visits in it, by night and time, and what they are worth.

        The nights of announced visits cost nothing: they are gone out on whatever is decided.
        """
        kept = float(season.value[self.parent[self.rows]].sum())
        rows = np.concatenate([found.rows, self.rows])
        start_min = np.concatenate([found.start_min, self.start_min])
        order = np.lexsort((start_min, self.opportunities.night[rows]))
        return Assignment(
            rows[order], start_min[order], found.objective + kept, found.bound + kept, found.stages
        )


def standing_of(
    previous: Plan | None, scenario: Scenario, free: Sequence[FreeNight], opportunities: Opportunities
) -> Standing:
    """Return what stands of a previous plan on the free nights; without one, nothing does.

    Parameters
    ----------
    opportunities : Of what is still wanted.

    Notes
    -----
    An announced visit stands at its time. Where it no longer shows then, or the evening has become
    shorter, the visits of that night shift as little as they must; where they do not all fit any more, those
    go that are worth least. Other targets may fill the room between, no more.
    """
    every = np.arange(len(opportunities), dtype=np.int64)
    none = np.zeros(0, np.int64)
    if previous is None:
        return Standing(opportunities, every, none, none, np.zeros(len(every), np.bool_))
    before = _planned_before(previous, scenario, free, opportunities)
    announced = [visit for visit in before if free[visit.night].evening in scenario.availability.announced]
    held = _held(announced, scenario, free, opportunities)
    cut, parent = _cut(opportunities, held, scenario)
    pair = cut.night * cut.targets + cut.target
    pairs = np.array([visit.night * cut.targets + visit.target for visit in before], np.int64)
    row_of = {key: row for row, key in enumerate(pair.tolist()) if key in {_key(cut, one) for one in held}}
    rows = np.array([row_of[_key(cut, one)] for one in held], np.int64)
    starts = np.array([one.start_min for one in held], np.int64)
    begin = _begin(before, held, cut, scenario)
    return Standing(cut, parent, rows, starts, np.isin(pair, pairs), begin)


def limits_given_way(
    scenario: Scenario, visits: Sequence[Visit], announced: Collection[date]
) -> tuple[str, ...]:
    """Return in words where announced nights make more nights out than the limits allow."""
    said, availability = [], scenario.availability
    out = {visit.evening for visit in visits}
    both = out | {outcome.evening for outcome in scenario.outcomes.standing if outcome.out}
    limits: tuple[tuple[str, int | None, Callable[[date], date]], ...] = (
        ("week", availability.nights_per_week, lambda day: day - timedelta(days=day.weekday())),
        ("month", availability.nights_per_month, lambda day: day.replace(day=1)),
    )
    for name, most, first_of in limits:
        nights = Counter(map(first_of, both))
        for first in sorted({first_of(day) for day in out}):
            told = [day for day in sorted(out) if first_of(day) == first and day in announced]
            if most is not None and nights[first] > most and told:
                said.append(
                    f"{nights[first]} nights out in the {name} from {first}, your limit is {most}: "
                    f"it gives way to what was announced for {', '.join(map(str, told))}"
                )
    return tuple(said)


def told_in_vain(scenario: Scenario, free: Sequence[FreeNight]) -> tuple[str, ...]:
    """Return in words the evenings to come that were announced, but are not free."""
    last = max((outcome.evening for outcome in scenario.outcomes.standing), default=date.min)
    known = {night.evening for night in free}
    vain = [day for day in sorted(scenario.availability.announced) if day > last and day not in known]
    return tuple(
        f"{day} is announced, but no free evening of the season: nothing stands on it" for day in vain
    )


def _key(opportunities: Opportunities, visit: Held) -> int:
    return visit.night * opportunities.targets + visit.target


def _planned_before(
    previous: Plan, scenario: Scenario, free: Sequence[FreeNight], opportunities: Opportunities
) -> list[Held]:
    """Return the previous plan's visits whose target and night are still there, by time, their rows open."""
    target_of = {target.name: position for position, target in enumerate(scenario.targets)}
    night_of = {(night.evening, night.away): position for position, night in enumerate(free)}
    where = {night.evening: (night.evening, night.away) for night in previous.nights}
    return [
        Held(target_of[visit.target], night_of[where[visit.evening]], -1,
             round((visit.time.start - opportunities.epoch) / timedelta(minutes=1)))
        for visit in sorted(previous.visits, key=lambda visit: visit.time)
        if visit.target in target_of and where.get(visit.evening) in night_of
    ]  # fmt: skip


def _row_for(visit: Held, opportunities: Opportunities, minutes: int) -> int:
    """Return the row in which a visit may keep its time, that of most merit; else the widest, -1 if none."""
    o = opportunities
    first, last = np.searchsorted(o.night, [visit.night, visit.night + 1])
    own = first + np.flatnonzero(o.target[first:last] == visit.target)
    own = own[~o.standby_only[own] & (o.merit[own] > 0) & (o.end_min[own] - o.start_min[own] >= minutes)]
    if not len(own):
        return -1
    keeps = (o.start_min[own] <= visit.start_min) & (visit.start_min + minutes <= o.end_min[own])
    if keeps.any():
        return int(own[keeps][o.merit[own[keeps]].argmax()])
    return int(own[(o.end_min - o.start_min)[own].argmax()])


def _held(
    announced: Sequence[Held], scenario: Scenario, free: Sequence[FreeNight], opportunities: Opportunities
) -> list[Held]:
    """Return the announced visits that can stand, each with its row and its start."""
    left, last_day, by_night = visits_left(scenario), dict[int, int](), defaultdict[int, list[Held]](list)
    for visit in announced:
        target, day = scenario.targets[visit.target], free[visit.night].evening.toordinal()
        row = _row_for(visit, opportunities, target.minutes) if free[visit.night].ever_clear else -1
        soon = visit.target in last_day and day - last_day[visit.target] < max(1, target.spacing_days)
        if row >= 0 and left[visit.target] > 0 and not soon:
            by_night[visit.night].append(visit._replace(row=row))
            left[visit.target] -= 1
            last_day[visit.target] = day
    return [
        visit for night in sorted(by_night) for visit in _seated(by_night[night], scenario, opportunities)
    ]


def _seated(visits: list[Held], scenario: Scenario, opportunities: Opportunities) -> list[Held]:
    """Return the visits of one night at times that fit, as near to the old ones as they can be."""
    o = opportunities
    while visits:
        rows = np.array([visit.row for visit in visits], np.int64)
        starts = np.array([visit.start_min for visit in visits], np.int64)
        minutes = np.array([scenario.targets[visit.target].minutes for visit in visits], np.int64)
        wished = NightVisits(
            o.start_min[rows], o.end_min[rows], minutes, starts + minutes // 2, scenario.routine.move_min
        )
        try:
            times = starts if fits(wished, starts) else sequence(wished)
        except InvalidValue:
            worth = [scenario.targets[visit.target].priority * o.merit[visit.row] for visit in visits]
            visits = [visit for place, visit in enumerate(visits) if place != int(np.argmin(worth))]
            continue
        return [v._replace(start_min=int(time)) for v, time in zip(visits, times.tolist(), strict=True)]
    return []


def _cut(
    opportunities: Opportunities, held: Sequence[Held], scenario: Scenario
) -> tuple[Opportunities, Ints]:
    """Return the rows with the announced visits cut out, each in a row of its own, and their parents."""
    o, every = opportunities, np.arange(len(opportunities), dtype=np.int64)
    if not held:
        return o, every
    minutes = np.array([target.minutes for target in scenario.targets], np.int64)
    move = scenario.routine.move_min
    own, taken = {_key(o, visit) for visit in held}, defaultdict[int, list[tuple[int, int]]](list)
    for visit in held:
        end = visit.start_min + int(minutes[visit.target])
        taken[visit.night].append((visit.start_min - move, end + move))
    pieces = [(visit.row, visit.start_min, visit.start_min + int(minutes[visit.target])) for visit in held]
    touched = np.isin(o.night, list(taken))
    for row in np.flatnonzero(touched).tolist():
        target, night = int(o.target[row]), int(o.night[row])
        if night * o.targets + target in own:
            continue
        for start, end in _gaps(int(o.start_min[row]), int(o.end_min[row]), taken[night]):
            if end - start >= minutes[target]:
                pieces.append((row, start, end))
    parent, starts, ends = (np.array(column, np.int64) for column in zip(*pieces, strict=True))
    parent = np.concatenate([every[~touched], parent])
    starts, ends = np.append(o.start_min[~touched], starts), np.append(o.end_min[~touched], ends)
    order = np.lexsort((starts, o.target[parent], o.night[parent]))
    parent, starts, ends = parent[order], starts[order], ends[order]
    half = minutes[o.target[parent]] // 2
    best = np.clip(o.best_min[parent], starts + half, np.maximum(starts + half, ends - half))
    best = np.where(touched[parent], best, o.best_min[parent])
    return some_of(o, parent, start_min=starts, end_min=ends, best_min=best), parent


def _gaps(start: int, end: int, taken: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return what is left of a stretch beside what is taken.

    >>> _gaps(0, 100, [(20, 40), (90, 120)])
    [(0, 20), (40, 90)]
    """
    gaps = []
    for first, last in sorted(taken):
        if start < min(first, end):
            gaps.append((start, min(first, end)))
        start = max(start, last)
    return [*gaps, (start, end)] if start < end else gaps


def _begin(
    before: Sequence[Held], held: Sequence[Held], cut: Opportunities, scenario: Scenario
) -> tuple[Ints, Ints]:
    """Return where the visits planned before, but not announced, lie now: rows and starts."""
    standing = {_key(cut, visit) for visit in held}
    rows, starts = list[int](), list[int]()
    for visit in before:
        minutes = scenario.targets[visit.target].minutes
        row = -1 if _key(cut, visit) in standing else _row_for(visit, cut, minutes)
        if row >= 0:
            rows.append(row)
            last = int(cut.end_min[row]) - minutes
            starts.append(min(max(visit.start_min, int(cut.start_min[row])), last))
    return np.array(rows, np.int64), np.array(starts, np.int64)
