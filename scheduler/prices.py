"""What a visit is worth when nights may be clouded out.

Prices of the nights' time set the targets apart: each target then faces its own small question, "now or
later?", over the free nights and two states of the weather. It is answered exactly, backwards from the
season's end, for all targets at once. The tables are indexed [visits left, target, night, state], where
state 0 is a clouded and state 1 a clear night.

References
----------
The decoupling by prices is that of weakly coupled dynamic programs: D. Adelman & A. J. Mersereau,
"Relaxations of weakly coupled stochastic dynamic programs", Operations Research 56 (2008) 712,
doi:10.1287/opre.1070.0445.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .domain.checks import holds, within
from .domain.opportunity import Floats, Ints, Opportunities

CLOUD, CLEAR = 0, 1


@dataclass(frozen=True, eq=False)
class WeatherChain:
    """Clear and clouded free nights as a two-state Markov chain.

    Attributes
    ----------
    odds : Probability that a night is clear, nothing else known. (nights,) [0..1]
    link : Correlation-like pull of the night before: given its state `s` (0 or 1), a night is clear with
        probability `odds[n] + link[n] * (s - odds[n-1])`; `link[0]` is 0. (nights,) [0..1]
    """

    odds: Floats
    link: Floats

    def clear_after(self, night: int) -> tuple[float, float]:
        """Return the odds that night + 1 is clear after a clouded and after a clear `night`. [0..1]"""
        odds, link, before = self.odds[night + 1], self.link[night + 1], self.odds[night]
        # rounding may step just past certainty where the pull leaves no room
        return max(0.0, float(odds - link * before)), min(1.0, float(odds + link * (1 - before)))

    def drawn(self, chance: Floats) -> NDArray[np.bool_]:
        """Return which nights are clear, for numbers drawn evenly from 0 to 1; both (years, nights)."""
        clear = np.zeros(chance.shape, np.bool_)
        clear[:, 0] = chance[:, 0] < self.odds[0]
        for night in range(1, chance.shape[1]):
            after_cloud, after_clear = self.clear_after(night - 1)
            clear[:, night] = chance[:, night] < np.where(clear[:, night - 1], after_clear, after_cloud)
        return clear


def chain_of(odds: Floats, persistence: float, night_day: Ints | None = None) -> WeatherChain:
    """Return the weather chain with these clear odds, `persistence` fading over the days between.

    Parameters
    ----------
    odds : Clear odds of each free night. (nights,) [0..1]
    persistence : Correlation of one night's weather with the next. [0..0.95]
    night_day : Ordinal dates of the free nights; None means night after night. (nights,) [d]

    Notes
    -----
    The pull of a night on one `d` days later is `persistence ** d`, less where changing odds leave no room
    for it: the odds of every single night stay exactly as given. Nights of one date, spent at several sites,
    so have one weather.

    Examples
    --------
    >>> chain = chain_of(np.array([0.4, 0.4]), 0.3)
    >>> [round(odds, 2) for odds in chain.clear_after(0)]
    [0.28, 0.58]
    """
    within("persistence", persistence, 0.0, 0.95)
    odds = np.asarray(odds, dtype=np.float64)
    holds("odds", "a night", bool(((odds >= 0) & (odds <= 1)).all()), "numbers from 0 to 1")
    link = np.zeros(len(odds))
    days = np.ones(len(odds) - 1) if night_day is None else np.diff(night_day)
    holds("night_day", "a night", bool((days >= 0).all()), "dates that never fall")
    before, after = odds[:-1], odds[1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        room = np.minimum(np.minimum(after / before, (1 - after) / (1 - before)), 1.0)
    link[1:] = np.minimum(persistence**days, np.nan_to_num(room, nan=0.0))
    return WeatherChain(odds, link)


@dataclass(frozen=True, eq=False)
class Later:
    """The value still to come of every target, whatever the weather brings, best decisions taken.

    Attributes
    ----------
    value : After night n in state s with k visits left, prices paid. (visits + 1, targets, nights, 2)
    rested : The same just after a visit on clear night n, the spacing waited for; its first index is the
        number of visits left after that one. (visits, targets, nights)
    """

    value: Floats
    rested: Floats


def later_of(gain: Floats, chain: WeatherChain, visits: int = 1, rest: Ints | None = None) -> Later:
    """Return the value still to come after each night in each weather, never negative.

    Parameters
    ----------
    gain : Weight times merit less the price of the time, at the night's best row; any number <= 0 where
        there is none. (targets, nights)
    chain : The weather.
    visits : Most visits any target may have left.
    rest : The first night on which a target may be visited again after one on night n, `nights` if none.
        None means the next one. (targets, nights)

    Notes
    -----
    With `c(s)` the odds of a clear next night after state `s` and `V` the value with `k` visits left::

        V[n, s] = (1 - c(s)) V[n+1, cloud] + c(s) max(V[n+1, clear], gain[n+1] + rested[k-1, n+1])

    It is exact for one target alone; what targets do to each other is in the prices only.

    Examples
    --------
    Gain 1 on one night more, clear with odds 0.4 whatever tonight does:

    >>> later_of(np.array([[0.0, 1.0]]), chain_of(np.array([0.5, 0.4]), 0.0)).value[1, 0, 0]
    array([0.4, 0.4])
    """
    targets, nights = gain.shape
    value = np.zeros((visits + 1, targets, nights, 2))
    rested = np.zeros((visits, targets, nights))
    for left in range(1, visits + 1):
        if left > 1:
            rested[left - 1] = _rested(value[left - 1], chain, rest)
        now = gain + rested[left - 1]
        for night in range(nights - 2, -1, -1):
            best = np.maximum(value[left, :, night + 1, CLEAR], now[:, night + 1])
            for state, clear in enumerate(chain.clear_after(night)):
                value[left, :, night, state] = (1 - clear) * value[left, :, night + 1, CLOUD] + clear * best
    return Later(value, rested)


def _rested(value: Floats, chain: WeatherChain, rest: Ints | None) -> Floats:
    """Value after a visit on each clear night, from the eve of the first night allowed again."""
    targets, nights, _ = value.shape
    if rest is None:
        return value[:, :, CLEAR]
    eve = np.clip(rest - 1, np.arange(nights), nights - 1)
    # pull[n, m]: how strongly night n's weather still pulls on night m
    pull = np.zeros((nights, nights))
    for night in range(nights):
        pull[night, night:] = np.concatenate([[1.0], np.cumprod(chain.link[night + 1 :])])
    here = np.arange(nights)[None, :]
    clear = chain.odds[eve] + pull[here, eve] * (1 - chain.odds[here])
    rows = np.arange(targets)[:, None]
    after: Floats = (1 - clear) * value[rows, eve, CLOUD] + clear * value[rows, eve, CLEAR]
    return np.where(rest < nights, after, 0.0)


@dataclass(frozen=True, eq=False)
class NowOrLater:
    """Each target's own question, with the nights' time priced: this visit now, or a better one later?

    Attributes
    ----------
    opportunities : The rows.
    weights : Worth of a visit of merit 1. (targets,)
    minutes : Time a visit takes from the night, the move included. (targets,) [min]
    odds : Clear odds of the free nights. (nights,) [0..1]
    persistence : Correlation of one night's weather with the next. [0..0.95]
    mu : Price of a clear minute of each night. (nights,) [1/min]
    visits, spacing_days : Visits wanted, fewest days between two; None means one. (targets,), [d]
    night_day : Ordinal dates of the free nights; None means night after night. (nights,) [d]
    """

    opportunities: Opportunities
    weights: Floats
    minutes: Ints
    odds: Floats
    persistence: float
    mu: Floats
    visits: Ints | None = None
    spacing_days: Ints | None = None
    night_day: Ints | None = None

    @cached_property
    def worths(self) -> Floats:
        """What planning a visit in each row is worth, odds x weight x merit to weight x best merit. (rows,)

        It is `p w m + (1 - p) L`. If the night is clear, the visit is made and is worth `w m`. If it is
        clouded out, the best that later nights offer is still to come: `L` is the value after a clouded
        night with all visits left, less that with one visit fewer, prices of the time then used taken off.

        The time of the row itself is not charged: the assignment deals it out. A target with a short season
        loses its second chances night by night, so an early night is worth more to it; a target with a long
        season may wait for its best night.
        """
        target, night, left = self.opportunities.target, self.opportunities.night, self._left
        after_cloud = self._later.value[:, target, night, CLOUD]
        rows = np.arange(len(target))
        second = after_cloud[left, rows] - after_cloud[np.maximum(left - 1, 0), rows]
        clear = np.asarray(self.odds, dtype=np.float64)[night]
        worth: Floats = clear * self.weights[target] * self.opportunities.merit + (1 - clear) * second
        return worth

    @cached_property
    def advantages(self) -> Floats:
        """How much better each row's visit is made on its night, if clear, than waited for. (rows,)

        It is `w m - mu minutes + value to come with one visit fewer - value to come unvisited`, both after a
        clear night; negative where waiting is better.
        """
        target, night, left = self.opportunities.target, self.opportunities.night, self._left
        done = self._later.rested[np.maximum(left - 1, 0), target, night]
        wait = self._later.value[left, target, night, CLEAR]
        advantage: Floats = np.where(left > 0, self._gain + done - wait, -np.inf)
        return advantage

    @property
    def _left(self) -> Ints:
        """Visits wanted of each row's target. (rows,)"""
        target = self.opportunities.target
        return np.ones(len(target), np.int64) if self.visits is None else self.visits[target]

    @cached_property
    def _gain(self) -> Floats:
        """What a visit in each row gains, its time paid. (rows,)"""
        target, night = self.opportunities.target, self.opportunities.night
        gain: Floats = self.weights[target] * self.opportunities.merit - self.mu[night] * self.minutes[target]
        return gain

    @cached_property
    def _later(self) -> Later:
        """Values to come, from each target's best row of each night."""
        o = self.opportunities
        best = np.full((o.targets, o.nights), -np.inf)
        np.maximum.at(best, (o.target, o.night), self._gain)
        most = 1 if self.visits is None else max(1, int(self.visits.max(initial=1)))
        rest = _rest_of(self.spacing_days, self.night_day, best.shape)
        return later_of(best, chain_of(self.odds, self.persistence, self.night_day), most, rest)


def _rest_of(spacing_days: Ints | None, night_day: Ints | None, shape: tuple[int, int]) -> Ints | None:
    """First night allowed again after a visit on each night, or None where the next one always is."""
    if spacing_days is None:
        return None
    day = np.arange(shape[1]) if night_day is None else np.asarray(night_day)
    rest: Ints = np.searchsorted(day, day[None, :] + spacing_days[:, None]).astype(np.int64)
    return rest
