"""Order and times of one night's visits: an order if one exists, and in it the times with the least strain.

Every visit is counted with the move after it and every window ends that much later; then visits may touch.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from .domain.checks import holds
from .domain.opportunity import Ints
from .order import NightVisits, between, fits, order_of

Found: TypeAlias = tuple[tuple[int, ...], Ints]
"""An order of the visits, and their starts in it."""


def sequence(visits: NightVisits, certificate: Ints | None = None) -> Ints:
    """Return the start of each visit, as near to where it is best as waiting allows. int, (visits,) [min]

    Parameters
    ----------
    certificate : Starts known to fit, for instance the assignment's; the result never has more bright looks
        between faint visits than these, nor as many and more strain. None: an order is searched for.
        int, (visits,) [min]

    Raises
    ------
    InvalidValue
        When the visits fit in no order, or the certificate does not fit.

    Notes
    -----
    The strain of a night is told by `strain`. In a given order the times are exact; among orders
    the one by best times and the certificate's are tried, and the better is bettered by exchanging
    neighbours while that helps. That need not be the best of all orders.

    Then bright looks are set before or after all faint visits as far as the stretches let them, for a planet
    or the Moon spoils eyes adapted to the dark (common practice, no source). Their number in between is the
    least possible, unless `order_of` gives up. The order found first gives way only to one with fewer, or
    with as many and less strain.

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

    def weight(found: Found) -> tuple[float, ...]:
        return (strain(visits, found[1]),)

    order, times = _exchanged(visits, min(found, key=weight), weight)
    return _set_apart(visits, (order, times))[1] if between(visits, order) else times


def strain(visits: NightVisits, starts: Ints) -> float:
    """Return how far visits at these starts are from their best, and how long one waits between them. [min2]

    The sum of (middle - best)^2, and for each minute without a visit or a move twice `wait_min`: moving one
    visit farther from its best costs as much once it is `wait_min` away.

    Examples
    --------
    >>> apart = np.array([0, 60]), np.array([60, 120]), np.array([20, 20]), np.array([10, 110])
    >>> [strain(NightVisits(*apart, move_min=4, wait_min=wait), np.array([0, 100])) for wait in (0, 30)]
    [0.0, 4560.0]
    """
    far = float(((starts + visits.minutes / 2 - visits.best_min) ** 2).sum())
    return far + 2.0 * visits.wait_min * waiting_min(visits, starts)


def waiting_min(visits: NightVisits, starts: Ints) -> int:
    """Return how long one waits between first and last visit, moves apart. [min]"""
    if not len(visits):
        return 0
    busy_min = int(visits.minutes.sum()) + visits.move_min * (len(visits) - 1)
    return int((starts + visits.minutes).max() - starts.min()) - busy_min


def times_of(visits: NightVisits, order: tuple[int, ...]) -> Ints | None:
    """Return the starts with the least strain in this order, None if it does not fit. Exact, whole minutes.

    Notes
    -----
    Less the time all earlier visits take, starts must never fall: an isotonic regression with bounds,
    solved by pooling adjacent violators. Rounding its solution is exact for whole minutes, for the least
    squares of a pool are symmetric about its mean. What is waited is the last of these numbers less the
    first, so that its cost only moves the wishes of the two.

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
    wish[0] += visits.wait_min
    wish[-1] -= visits.wait_min
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


def _set_apart(visits: NightVisits, first: Found) -> Found:
    """Return the order with the fewest bright looks between faint visits, and among such near the best."""

    def weight(found: Found) -> tuple[float, ...]:
        return between(visits, found[0]), strain(visits, found[1])

    bright = [i for i in first[0] if visits.bright[i]]
    others = [i for i in first[0] if not visits.bright[i]]
    orders = [(*bright[:place], *others, *bright[place:]) for place in range(len(bright) + 1)]
    found = [first, *((order, times) for order in orders if (times := times_of(visits, order)) is not None)]
    fewest = min(between(visits, order) for order, _ in found)
    for most in range(fewest):
        order = order_of(visits, most)
        times = None if order is None else times_of(visits, order)
        if order is not None and times is not None:
            found.append((order, times))
            fewest = most
            break
    least = [each for each in found if between(visits, each[0]) == fewest]
    return min((_exchanged(visits, each, weight) for each in least), key=weight)


def _exchanged(visits: NightVisits, found: Found, weight: Callable[[Found], tuple[float, ...]]) -> Found:
    """Exchange neighbours in the order while that makes its weight less."""
    best, least, again = found, weight(found), True
    while again:
        again = False
        for i, j in pairwise(range(len(visits))):
            order = list(best[0])
            order[i], order[j] = order[j], order[i]
            times = times_of(visits, tuple(order))
            if times is None:
                continue
            trial = tuple(order), times
            if _less(weight(trial), least):
                best, least, again = trial, weight(trial), True
    return best


def _less(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """Tell whether a weight is less by more than rounding."""
    return (*one[:-1], one[-1] + 1e-9) < other
