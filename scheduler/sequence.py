"""Order and times of one night's visits: an order if one exists, and in it the times nearest to the best.

Every visit is counted with the move after it and every window ends that much later; then visits may touch.
"""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import pairwise

import numpy as np

from .domain.checks import holds, whole
from .domain.opportunity import Ints


@dataclass(frozen=True, eq=False)
class NightVisits:
    """The visits of one night, in any order.

    Attributes
    ----------
    start_min, end_min : The stretch each visit lies in. int, (visits,) [min]
    minutes : Length of each visit. int, (visits,) [min]
    best_min : Where the middle of each visit had best be. int, (visits,) [min]
    move_min : Left free between two visits. [min]
    """

    start_min: Ints
    end_min: Ints
    minutes: Ints
    best_min: Ints
    move_min: int = 4

    def __post_init__(self) -> None:
        counts = {len(column) for column in (self.start_min, self.end_min, self.minutes, self.best_min)}
        holds("visits", counts, len(counts) == 1, "columns of one length")
        holds("minutes", "a visit", bool((self.minutes >= 1).all()), "at least one minute")
        whole("move_min", self.move_min, 0, 240)

    def __len__(self) -> int:
        return len(self.minutes)


def sequence(visits: NightVisits, certificate: Ints | None = None) -> Ints:
    """Return the start of each visit, as near as may be to where it is best. int, (visits,) [min]

    Parameters
    ----------
    certificate : Starts known to fit, for instance the assignment's; the result is never farther from the
        best in all than these. None: an order is searched for. int, (visits,) [min]

    Raises
    ------
    InvalidValue
        When the visits fit in no order, or the certificate does not fit.

    Notes
    -----
    Farness is the sum over visits of (middle - best)^2. In a given order the times are exact; among orders
    the one by best times and the certificate's are tried, and the better is bettered by exchanging
    neighbours while that helps. That need not be the best of all orders.

    Examples
    --------
    Two visits best at the same time share the disappointment:

    >>> window = np.array([0, 0]), np.array([120, 120])
    >>> sequence(NightVisits(*window, np.array([20, 20]), np.array([60, 60])))
    array([38, 62])
    """
    orders = [tuple(np.lexsort((np.arange(len(visits)), visits.best_min)).tolist())]
    if certificate is not None:
        holds("certificate", certificate.tolist(), fits(visits, certificate), "starts that fit their windows")
        orders.append(tuple(np.lexsort((visits.minutes, certificate)).tolist()))
    found = [(order, times) for order in orders if (times := times_of(visits, order)) is not None]
    if not found:
        order = order_of(visits)
        times = None if order is None else times_of(visits, order)
        holds("visits", len(visits), times is not None, "visits that fit in one night")
        assert order is not None
        assert times is not None
        found = [(order, times)]
    order, times = min(found, key=lambda each: farness(visits, each[1]))
    return _exchanged(visits, order, times)


def fits(visits: NightVisits, starts: Ints) -> bool:
    """Tell whether visits at these starts keep their windows, and moves fit between them."""
    order = np.lexsort((visits.minutes, starts))
    ends = starts + visits.minutes
    inside = bool((starts >= visits.start_min).all() and (ends <= visits.end_min).all())
    return inside and bool((starts[order][1:] >= ends[order][:-1] + visits.move_min).all())


def farness(visits: NightVisits, starts: Ints) -> float:
    """Return how far visits at these starts are from their best: sum of (middle - best)^2. [min2]"""
    return float(((starts + visits.minutes / 2 - visits.best_min) ** 2).sum())


def order_of(visits: NightVisits) -> tuple[int, ...] | None:
    """Return an order in which all visits fit, None if there is none. Exact.

    Notes
    -----
    Branch and bound over active schedules, earliest deadline first; a branch ends where even visits that
    could be interrupted would be late, or where the same visits were left no later before.

    References
    ----------
    J. R. Jackson, "Scheduling a production line to minimize maximum tardiness" (1955), for the preemptive
    bound; P. Bratley, M. Florian, P. Robillard, "Scheduling with earliest start and due date constraints",
    Naval Research Logistics Quarterly 18 (1971) 511, doi:10.1002/nav.3800180410.
    """
    jobs = _jobs(visits)
    earliest: dict[int, int] = {}

    def extend(time: int, left: int, done: tuple[int, ...]) -> tuple[int, ...] | None:
        if not left:
            return done
        if earliest.get(left, time + 1) <= time or _late_even_interrupted(jobs, left, time):
            return None
        earliest[left] = time
        waiting = [i for i in range(len(jobs)) if left >> i & 1]
        first_end = min(max(time, jobs[i].start) + jobs[i].minutes for i in waiting)
        ready = [i for i in waiting if jobs[i].start < first_end]
        for i in sorted(ready, key=lambda i: (jobs[i].end, jobs[i].start)):
            end = max(time, jobs[i].start) + jobs[i].minutes
            found = extend(end, left & ~(1 << i), (*done, i)) if end <= jobs[i].end else None
            if found is not None:
                return found
        return None

    begin = min((job.start for job in jobs), default=0)
    return extend(begin, (1 << len(jobs)) - 1, ())


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


def times_of(visits: NightVisits, order: tuple[int, ...]) -> Ints | None:
    """Return the starts nearest to the best in this order, None if it does not fit. Exact, whole minutes.

    Notes
    -----
    Less the time all earlier visits take, starts must never fall: an isotonic regression with bounds,
    solved by pooling adjacent violators. Rounding its solution is exact for whole minutes, for the least
    squares of a pool are symmetric about its mean.

    References
    ----------
    R. E. Barlow, D. J. Bartholomew, J. M. Bremner, H. D. Brunk, "Statistical Inference under Order
    Restrictions" (Wiley 1972).
    """
    if not order:
        return np.zeros(0, np.int64)
    at = np.array(order)
    taken = visits.minutes[at] + visits.move_min
    before = np.cumsum(taken) - taken
    low = np.maximum.accumulate(visits.start_min[at] - before)
    high = np.minimum.accumulate((visits.end_min[at] - visits.minutes[at] - before)[::-1])[::-1]
    if (low > high).any():
        return None
    wish = visits.best_min[at] - visits.minutes[at] / 2 - before
    starts = np.empty(len(at), np.int64)
    starts[at] = np.floor(_pooled(wish.tolist(), low.tolist(), high.tolist()) + 0.5).astype(np.int64) + before
    return starts


def _pooled(
    wish: list[float], low: list[int], high: list[int]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The rising numbers within rising bounds nearest to `wish`, by pools: sum, count, lowest, highest."""
    pools: list[tuple[float, int, int, int]] = []

    def level(pool: tuple[float, int, int, int]) -> float:
        return min(max(pool[0] / pool[1], pool[2]), pool[3])

    for each, least, most in zip(wish, low, high, strict=True):
        pool = (each, 1, least, most)
        while pools and level(pools[-1]) > level(pool):
            total, count, lowest, highest = pools.pop()
            pool = (total + pool[0], count + pool[1], max(lowest, pool[2]), min(highest, pool[3]))
        pools.append(pool)
    return np.concatenate([np.full(pool[1], level(pool)) for pool in pools])


def _exchanged(visits: NightVisits, order: tuple[int, ...], times: Ints) -> Ints:
    """Exchange neighbours in the order while that brings the visits nearer to their best."""
    best, far, again = list(order), farness(visits, times), True
    while again:
        again = False
        for i, j in pairwise(range(len(best))):
            swapped = best.copy()
            swapped[i], swapped[j] = best[j], best[i]
            trial = times_of(visits, tuple(swapped))
            if trial is not None and farness(visits, trial) < far - 1e-9:
                best, times, far, again = swapped, trial, farness(visits, trial), True
    return times
