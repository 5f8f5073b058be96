"""An order in which one night's visits fit, if there is one.

Every visit is counted with the move after it and every window ends that much later; then visits may touch.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from heapq import heappop, heappush
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .domain.checks import holds, whole
from .domain.opportunity import Ints

STEPS = 2_000
"""Orders with few bright looks between are searched for in so many steps: a count, not a clock, so that a
plan does not depend on the machine."""


Bools: TypeAlias = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class NightVisits:
    """The visits of one night, in any order.

    Attributes
    ----------
    start_min, end_min : The stretch each visit lies in. int, (visits,) [min]
    minutes : Length of each visit. int, (visits,) [min]
    best_min : Where the middle of each visit had best be. int, (visits,) [min]
    move_min : Left free between two visits. [min]
    faint : Visits that want eyes adapted to the dark; none given: none. bool, (visits,)
    bright : Visits that spoil such eyes, as planets and the Moon do; none given: none. bool, (visits,)
    wait_min : How far from its best a visit may go to spare everybody the same time of waiting. [min]
    """

    start_min: Ints
    end_min: Ints
    minutes: Ints
    best_min: Ints
    move_min: int = 4
    faint: Bools = field(default_factory=lambda: np.zeros(0, np.bool_))
    bright: Bools = field(default_factory=lambda: np.zeros(0, np.bool_))
    wait_min: int = 0

    def __post_init__(self) -> None:
        for name in ("faint", "bright"):
            if not len(getattr(self, name)):
                object.__setattr__(self, name, np.zeros(len(self.minutes), np.bool_))
        columns = self.start_min, self.end_min, self.minutes, self.best_min, self.faint, self.bright
        counts = {len(column) for column in columns}
        holds("visits", counts, len(counts) == 1, "columns of one length")
        holds("minutes", "a visit", bool((self.minutes >= 1).all()), "at least one minute")
        whole("move_min", self.move_min, 0, 240)
        whole("wait_min", self.wait_min, 0, 1440)

    def __len__(self) -> int:
        return len(self.minutes)


def fits(visits: NightVisits, starts: Ints) -> bool:
    """Tell whether visits at these starts keep their windows, and moves fit between them."""
    order = np.lexsort((visits.minutes, starts))
    ends = starts + visits.minutes
    inside = bool((starts >= visits.start_min).all() and (ends <= visits.end_min).all())
    return inside and bool((starts[order][1:] >= ends[order][:-1] + visits.move_min).all())


def between(visits: NightVisits, order: tuple[int, ...]) -> int:
    """Return how many bright looks come after one faint visit and before another."""
    at = np.array(order, np.int64)
    faint = np.cumsum(visits.faint[at])
    return int((visits.bright[at] & (faint > 0) & (faint < faint[-1:])).sum())


def order_of(visits: NightVisits, most_between: int | None = None) -> tuple[int, ...] | None:
    """Return an order in which all visits fit, None if there is none. Exact.

    Parameters
    ----------
    most_between : Most bright looks between faint visits; None for any number. With a number, None is
        returned also where no order was found within `STEPS`.

    Notes
    -----
    Branch and bound over active schedules, earliest deadline first; a branch ends where even visits that
    could be interrupted would be late, or where the same visits were left no later before. No visit begins so
    late that another could be done before it, unless that one would cost a bright look between faint visits:
    itself, or as the first faint visit while bright looks are left.

    References
    ----------
    J. R. Jackson, "Scheduling a production line to minimize maximum tardiness" (1955), for the preemptive
    bound; P. Bratley, M. Florian, P. Robillard, "Scheduling with earliest start and due date constraints",
    Naval Research Logistics Quarterly 18 (1971) 511, doi:10.1002/nav.3800180410.
    """
    jobs = _jobs(visits)
    faint, bright = (
        sum(1 << i for i in np.flatnonzero(some).tolist()) for some in (visits.faint, visits.bright)
    )
    if most_between is None:
        bright = 0
    earliest: dict[tuple[int, int], int] = {}

    def extend(time: int, left: int, spare: int, done: tuple[int, ...]) -> tuple[int, ...] | None:
        if not left:
            return done
        if earliest.get((left, spare), time + 1) <= time or _late_even_interrupted(jobs, left, time):
            return None
        if bright and len(earliest) >= STEPS:
            return None
        earliest[left, spare] = time
        begun, waiting = faint & ~left, [i for i in range(len(jobs)) if left >> i & 1]
        spoils = bright if begun and faint & left else 0
        dear = spoils if begun else (faint if bright & left else 0)
        soonest = (max(time, jobs[i].start) + jobs[i].minutes for i in waiting if not dear >> i & 1)
        first_end = min(soonest, default=jobs_end)
        ready = [i for i in waiting if jobs[i].start < first_end and (spare or not spoils >> i & 1)]
        for i in sorted(ready, key=lambda i: (jobs[i].end, jobs[i].start)):
            end = max(time, jobs[i].start) + jobs[i].minutes
            if end <= jobs[i].end:
                found = extend(end, left & ~(1 << i), spare - (spoils >> i & 1), (*done, i))
                if found is not None:
                    return found
        return None

    begin, jobs_end = min((job.start for job in jobs), default=0), max((job.end for job in jobs), default=0)
    return extend(begin, (1 << len(jobs)) - 1, most_between or 0, ())


@dataclass(frozen=True, slots=True)
class _Job:
    start: int
    end: int
    minutes: int


def _jobs(visits: NightVisits) -> list[_Job]:
    move = visits.move_min
    columns = zip(visits.start_min.tolist(), visits.end_min.tolist(), visits.minutes.tolist(), strict=True)
    return [_Job(start, end + move, minutes + move) for start, end, minutes in columns]


def _late_even_interrupted(jobs: list[_Job], left: int, time: int) -> bool:
    """Tell whether some visit ends late even if visits could be interrupted: then no order fits."""
    waiting = sorted(
        (max(time, job.start), job.end, job.minutes) for i, job in enumerate(jobs) if left >> i & 1
    )
    ready: list[tuple[int, int]] = []
    now, place = time, 0
    while ready or place < len(waiting):
        if not ready:
            now = max(now, waiting[place][0])
        while place < len(waiting) and waiting[place][0] <= now:
            heappush(ready, (waiting[place][1], waiting[place][2]))
            place += 1
        deadline, minutes = heappop(ready)
        until = waiting[place][0] if place < len(waiting) else now + minutes
        spent = min(minutes, until - now)
        now += spent
        if now > deadline:
            return True
        if spent < minutes:
            heappush(ready, (deadline, minutes - spent))
    return False
