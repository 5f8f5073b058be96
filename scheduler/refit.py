"""Prices of the nights' minutes, fitted afresh to what is left of a season, for many years at once.

Every year of a batch has its own state: visits left of each target, and the night from which it may be
visited again. All have lived through the same nights, and `night` is clear.

References
----------
J. T. Hawkins, "A Lagrangian decomposition approach to weakly coupled dynamic optimization problems and its
applications", Ph.D. thesis, MIT (2003), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .domain.opportunity import Floats, Ints
from .prices import WeatherChain


@dataclass(frozen=True, eq=False)
class Wishes:
    """What every target gains on every night, and the time it takes.

    Attributes
    ----------
    worth : Weight times merit of the night's best row, `-inf` where there is none. (targets, nights)
    minutes : Time of a visit, the move included. (targets,) [min]
    visits : Visits wanted. (targets,)
    rest : First night of another visit after one on night n, `nights` if none. int, (targets, nights)
    length : Time of each night, the last move included. (nights,) [min]
    chain : The weather.
    """

    worth: Floats
    minutes: Floats
    visits: Ints
    rest: Ints
    length: Floats
    chain: WeatherChain


class Fit(NamedTuple):
    """What a round of fitting found.

    Attributes
    ----------
    later : What a visit tonight takes from the value still to come, <= 0. (years, targets)
    load : Time the targets would use of each night, in the mean over its weathers. (years, nights) [min]
    ahead : What tonight and all later nights bring the targets, prices paid. (years,)
    """

    later: Floats
    load: Floats
    ahead: Floats


def clear_given(chain: WeatherChain, night: int) -> Floats:
    """Return the odds that each night from `night` on is clear, given that `night` is. [0..1]

    Examples
    --------
    >>> from .prices import chain_of
    >>> clear_given(chain_of(np.full(3, 0.4), 0.5), 0)
    array([1.  , 0.7 , 0.55])
    """
    pull = np.concatenate([[1.0], np.cumprod(chain.link[night + 1 :])])
    given: Floats = chain.odds[night:] + pull * (1.0 - chain.odds[night])
    return given


def fitted(
    wishes: Wishes, night: int, left: Ints, ready: Ints, mu: Floats, rounds: int, pace: float = 0.2,
    known_clear: bool = True,
) -> Floats:  # fmt: skip
    """Return prices under which the time used of every night comes near its expected clear time.

    Parameters
    ----------
    night : The night that is clear now.
    left : Visits left. int, (years, targets)
    ready : First night on which each target may be visited. int, (years, targets)
    mu : Prices to start from. (years, nights) [1/min]
    rounds : Steps of the subgradient.
    pace : Size of the first step, as a part of the mean price.
    known_clear : Whether `night` is known to be clear; False prices a season before it begins.
    """
    chain = wishes.chain
    odds = clear_given(chain, night) if known_clear else chain.odds[night:]
    room = np.maximum(odds * wishes.length[night:], 1e-9)
    mu = mu.copy()
    mean, taken = np.zeros_like(mu), 0
    scale = np.maximum(mu[:, night:].mean(axis=1, keepdims=True), 1e-6)
    for step in range(rounds):
        found = looked_ahead(wishes, night, left, ready, mu, known_clear)
        excess = np.clip(found.load[:, night:] / room - 1.0, -1.0, 1.0)
        mu[:, night:] = np.maximum(0.0, mu[:, night:] + pace / (1 + step / 10) * scale * excess)
        if 2 * step >= rounds:
            mean, taken = mean + mu, taken + 1
    return mean / taken if taken else mu


def bound_of_prices(wishes: Wishes, mu: Floats) -> float:
    """Return a bound on what any policy that does not know the weather ahead can expect.

    Parameters
    ----------
    mu : Prices, >= 0; any prove a bound, fitted ones a close one. (nights,) [1/min]

    Notes
    -----
    On a clear night no policy uses more than the night's length; so what it expects is at most what the
    targets expect, each for itself and paying `mu` for its time, and what all clear time sells for.
    """
    left, ready = wishes.visits[None, :], np.zeros((1, len(wishes.visits)), np.int64)
    ahead = looked_ahead(wishes, 0, left, ready, mu[None, :], known_clear=False).ahead[0]
    return float(ahead + (mu * wishes.chain.odds * wishes.length).sum())


def looked_ahead(
    wishes: Wishes, night: int, left: Ints, ready: Ints, mu: Floats, known_clear: bool = True
) -> Fit:
    """Return what each target, for itself, makes of tonight and the nights to come under these prices."""
    years, targets = left.shape
    later, load, ahead = np.zeros((years, targets)), np.zeros((years, mu.shape[1])), np.zeros(years)
    once = wishes.visits <= 1
    for group in (np.flatnonzero(once), np.flatnonzero(~once)):
        if len(group):
            own = _Group(wishes, group, night, left[:, group], ready[:, group], mu)
            later[:, group] = own.later()
            load += own.load(known_clear)
            ahead += own.ahead(known_clear)
    return Fit(later, load, ahead)


class _Group:
    """Targets that want equally many visits at most, walked backwards; tables are [visits left][night]."""

    def __init__(self, wishes: Wishes, group: Ints, night: int, left: Ints, ready: Ints, mu: Floats) -> None:
        self.night, self.nights, self.left = night, mu.shape[1], left
        self.chain, self.most = wishes.chain, max(1, int(wishes.visits[group].max()))
        self.worth, self.minutes, self.rest = wishes.worth[group], wishes.minutes[group], wishes.rest[group]
        self._waits = bool((ready > night).any())
        self.ready, self.mu, none = ready, mu, np.zeros(left.shape)
        # value after the night, clouded or clear, and whether a clear one is used, by visits left and night
        self.value: list[list[tuple[Floats, Floats]]] = [[(none, none)] * self.nights]
        self.use: list[list[NDArray[np.bool_]]] = [[]]
        self.best: list[Floats] = [none]
        for visits in range(1, self.most + 1):
            self._walk(visits)

    def _gain(self, night: int) -> Floats:
        gain: Floats = self.worth[:, night] - self.mu[:, night, None] * self.minutes
        return np.where(self.ready <= night, gain, -np.inf) if self._waits else gain

    def rested(self, visits: int, night: int) -> Floats | float:
        """Value with `visits` left just after a visit on `night`, the spacing waited for."""
        if not visits:
            return 0.0
        out = np.zeros(self.left.shape)
        for rest in np.unique(self.rest[:, night]).tolist():
            if rest < self.nights:
                some = self.rest[:, night] == rest
                clear = self._clear(night, rest - 1)
                clouded, bright = self.value[visits][rest - 1]
                out[:, some] = (1 - clear) * clouded[:, some] + clear * bright[:, some]
        return out

    def _clear(self, night: int, eve: int) -> float:
        """Odds that `eve` is clear given that `night` is."""
        pull = float(np.prod(self.chain.link[night + 1 : eve + 1]))
        return float(self.chain.odds[eve] + pull * (1 - self.chain.odds[night]))

    def _walk(self, visits: int) -> None:
        clouded, bright = np.zeros(self.left.shape), np.zeros(self.left.shape)
        values, uses = [(clouded, bright)] * self.nights, [np.zeros(0, np.bool_)] * self.nights
        self.value.append(values)
        for night in range(self.nights - 1, self.night - 1, -1):
            values[night] = clouded, bright
            now = self._gain(night) + self.rested(visits - 1, night)
            uses[night] = now > bright
            best = np.maximum(now, bright)
            if night > self.night:
                after_cloud, after_clear = self.chain.clear_after(night - 1)
                change = best - clouded
                clouded, bright = clouded + after_cloud * change, clouded + after_clear * change
        self.use.append(uses)
        self.best.append(best)

    def later(self) -> Floats:
        """What a visit tonight takes from the value to come. (years, group)"""
        found = np.zeros(self.left.shape)
        for visits in range(1, self.most + 1):
            change = self.rested(visits - 1, self.night) - self.value[visits][self.night][1]
            found = np.where(self.left == visits, change, found)
        return found

    def ahead(self, known_clear: bool) -> Floats:
        """What tonight and later nights bring, prices paid. (years,)"""
        found = np.zeros(self.left.shape)
        odds = 1.0 if known_clear else float(self.chain.odds[self.night])
        for visits in range(1, self.most + 1):
            value = odds * self.best[visits] + (1 - odds) * self.value[visits][self.night][0]
            found = np.where(self.left == visits, value, found)
        total: Floats = found.sum(axis=1)
        return total

    def load(self, known_clear: bool) -> Floats:
        """Time used of each night. (years, nights) [min]"""
        odds = 1.0 if known_clear else float(self.chain.odds[self.night])
        load = np.zeros((len(self.left), self.nights))
        back: dict[tuple[int, int], list[tuple[NDArray[np.bool_], Floats, float]]] = {}
        for visits in range(self.most, 0, -1):
            bright = np.where(self.left == visits, odds, 0.0)
            clouded = np.where(self.left == visits, 1.0 - odds, 0.0)
            for night in range(self.night, self.nights):
                if night > self.night:
                    after_cloud, after_clear = self.chain.clear_after(night - 1)
                    total = bright + clouded
                    bright = after_clear * bright + after_cloud * clouded
                    clouded = total - bright
                used = np.where(self.use[visits][night], bright, 0.0)
                bright = bright - used
                load[:, night] += used @ self.minutes
                if visits > 1:
                    self._send_back(back, visits - 1, night, used)
                for some, share, clear in back.pop((visits, night), ()):
                    bright[:, some] += share * clear
                    clouded[:, some] += share * (1 - clear)
        return load

    def _send_back(
        self, back: dict[tuple[int, int], list[tuple[NDArray[np.bool_], Floats, float]]], visits: int,
        night: int, used: Floats,
    ) -> None:  # fmt: skip
        """Let what was visited on `night` return on the eve of the first night it may be visited again."""
        for rest in np.unique(self.rest[:, night]).tolist():
            if rest < self.nights:
                some = self.rest[:, night] == rest
                arrival = used[:, some], self._clear(night, rest - 1)
                back.setdefault((visits, rest - 1), []).append((some, *arrival))
