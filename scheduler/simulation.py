"""Weather years drawn and lived through: what a policy brings, and the odds of every target.

Years are drawn from the two-state weather chain, each from a stream of its own: year 7 of a seed is the same
whether ten years are drawn or a thousand, and every policy lives through the same ones. They are lived
through side by side, night by night; each has its own list of what is still wanted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, wait
from copy import deepcopy
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from .domain.opportunity import Floats, Ints
from .domain.progress import Cancel, never_cancelled
from .errors import Cancelled
from .policy import WeatherSeason
from .prices import WeatherChain

Bools: TypeAlias = NDArray[np.bool_]
YEARS_A_BATCH = 50
"""Weather years lived through side by side: more are faster in all, fewer are sooner done one by one.

What is found depends on it, a little: a night's programmes are searched for in all years of a batch together.
"""
HEARKEN_S = 0.2  # how often to listen whether the work should stop


class Policy(Protocol):
    """Decides what to visit on a clear night."""

    def programmes(self, night: int, years: Ints, left: Ints, ready: Ints) -> Sequence[Ints]:
        """Return the rows to visit on `night` in each of the `years` in which it is clear.

        Parameters
        ----------
        years : Which of the years lived through these are, so that a policy may keep notes. (clear,)
        left : Visits still wanted. int, (clear, targets)
        ready : First night on which each target may be visited. int, (clear, targets)
        """
        ...


def draw_weather(chain: WeatherChain, years: int, seed: int, first: int = 0) -> Bools:
    """Return whether each night is clear, in years `first` to `first + years - 1`. (years, nights)

    Examples
    --------
    >>> from .prices import chain_of
    >>> chain = chain_of(np.full(50, 0.4), 0.3)
    >>> bool((draw_weather(chain, 3, seed=5)[2] == draw_weather(chain, 1, seed=5, first=2)[0]).all())
    True
    """
    chance = [np.random.default_rng([seed, first + year]).random(len(chain.odds)) for year in range(years)]
    return chain.drawn(np.array(chance).reshape(years, len(chain.odds)))


@dataclass(frozen=True, eq=False)
class Lived:
    """Years lived through.

    Attributes
    ----------
    season : What they were lived through.
    done : Visits made of each target. int, (years, targets)
    value : Weight times merit of all visits made. (years,)
    finished : The night of each target's last wanted visit, or how many nights there are where it had not
        all of them. int, (years, targets)
    outings : Nights with a visit. int, (years,)
    """

    season: WeatherSeason
    done: Ints
    value: Floats
    finished: Ints
    outings: Ints

    @property
    def completion_odds(self) -> Floats:
        """Share of the years in which each target had all its visits. (targets,) [0..1]"""
        odds: Floats = (self.done >= self.season.visits).mean(axis=0)
        return odds

    @property
    def standard_error(self) -> Floats:
        """Standard error of the completion odds, see `error_of_share`. (targets,) [0..1]"""
        return error_of_share(self.completion_odds, len(self.done))

    @property
    def completed(self) -> Ints:
        """Targets that had all their visits. (years,)"""
        count: Ints = (self.done >= self.season.visits).sum(axis=1)
        return count

    def spread(self, figures: Floats | Ints) -> tuple[float, float, float]:
        """Return what 10, 50 and 90 % of the years stay below."""
        low, middle, high = np.quantile(figures, [0.1, 0.5, 0.9])
        return float(low), float(middle), float(high)


def error_of_share(share: Floats, years: int) -> Floats:
    """Return the standard error of shares of so many years, by added successes and failures. [0..1]

    So a target done in every year drawn is not taken for certain.

    References
    ----------
    A. Agresti & B. A. Coull, "Approximate is better than exact for interval estimation of binomial
    proportions", The American Statistician 52 (1998) 119, doi:10.1080/00031305.1998.10480550, from
    memory.
    """
    odds = (share * years + 2) / (years + 4)
    error: Floats = np.sqrt(odds * (1 - odds) / (years + 4))
    return error


def live(season: WeatherSeason, policy: Policy, clear: Bools, cancel: Cancel = never_cancelled) -> Lived:
    """Return what the policy brings in these years.

    Parameters
    ----------
    clear : Whether each night is clear. (years, nights)

    Raises
    ------
    Cancelled
        When asked to stop.
    """
    o, years = season.opportunities, len(clear)
    left = np.repeat(season.visits[None, :], years, axis=0)
    ready = np.zeros(left.shape, np.int64)
    finished = np.where(left > 0, o.nights, 0)
    value, outings = np.zeros(years), np.zeros(years, np.int64)
    for night in range(o.nights):
        if cancel.is_set():
            raise Cancelled
        here = np.flatnonzero(clear[:, night])
        if not len(here):
            continue
        chosen = policy.programmes(night, here, left[here], ready[here])
        for year, rows in zip(here.tolist(), chosen, strict=True):
            target = o.target[rows]
            left[year, target] -= 1
            ready[year, target] = season.rest[target, night]
            finished[year, target[left[year, target] == 0]] = night
            value[year] += float(season.value[rows].sum())
            outings[year] += len(rows) > 0
    return Lived(season, season.visits[None, :] - left, value, finished, outings)


def live_through(
    season: WeatherSeason, policy: Policy, years: int, seed: int, *, first: int = 0, workers: int = 1,
    report: Callable[[float], None] | None = None, cancel: Cancel = never_cancelled,
    weather: Bools | None = None,
) -> Lived:  # fmt: skip
    """Return what the policy brings in years `first` to `first + years - 1` of a seed, in batches.

    Parameters
    ----------
    policy : As it is before the season: every batch begins with a copy of its own.
    workers : Processes that share the batches; what is found does not depend on how many there are.
    report : Told which part is done. [0..1]
    weather : Whether each night is clear in each of the years; None draws them. (years, nights)

    Raises
    ------
    Cancelled
        When asked to stop.
    """
    clear = draw_weather(season.chain, years, seed, first) if weather is None else weather
    starts = range(0, years, YEARS_A_BATCH)
    works = [(season, policy, clear[start : start + YEARS_A_BATCH]) for start in starts]
    parts: list[Lived] = []
    lived = _here(works, cancel) if min(workers, len(works)) == 1 else _elsewhere(works, workers, cancel)
    for part in lived:
        parts.append(part)
        if report:
            report(len(parts) / len(works))
    return Lived(
        season, *(np.concatenate([getattr(part, name) for part in parts])
                  for name in ("done", "value", "finished", "outings"))
    )  # fmt: skip


_Work: TypeAlias = tuple[WeatherSeason, Policy, Bools]


def _batch(work: _Work, cancel: Cancel) -> Lived:
    season, policy, clear = work
    return live(season, deepcopy(policy), clear, cancel)


def _here(works: Sequence[_Work], cancel: Cancel) -> Iterator[Lived]:
    return (_batch(work, cancel) for work in works)


_asked_to_stop: Cancel = never_cancelled


def _listen(stop: Cancel) -> None:
    """Let a worker hear when it is asked to stop."""
    global _asked_to_stop
    _asked_to_stop = stop


def _batch_of_worker(work: _Work) -> Lived:
    return _batch(work, _asked_to_stop)


def _elsewhere(works: Sequence[_Work], workers: int, cancel: Cancel) -> Iterator[Lived]:
    """Yield the batches in order, worked on by fresh processes."""
    context = get_context("spawn")
    stop = context.Event()
    count = min(workers, len(works))
    with ProcessPoolExecutor(count, context, _listen, (stop,)) as pool:
        waiting = [pool.submit(_batch_of_worker, work) for work in works]
        try:
            for future in waiting:
                while not wait([future], HEARKEN_S).done:
                    if cancel.is_set():
                        raise Cancelled
                yield future.result()
        finally:
            stop.set()
            for future in waiting:
                future.cancel()
