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
    outlook, mu = Outlook(wishes, night, left, ready, known_clear), mu.copy()
    mean, taken = np.zeros_like(mu), 0
    scale = np.maximum(mu[:, night:].mean(axis=1, keepdims=True), 1e-6)
    for step in range(rounds):
        excess = np.clip(outlook.load(mu)[:, night:] / room - 1.0, -1.0, 1.0)
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
    return Outlook(wishes, night, left, ready, known_clear).fit(mu)


class Outlook:
    """A batch of years on one night: what is still wanted in each, and what it makes of prices.

    Pairs of a year and a target with visits left stand side by side in one row of figures, by year.
    """

    def __init__(
        self, wishes: Wishes, night: int, left: Ints, ready: Ints, known_clear: bool = True
    ) -> None:  # fmt: skip
        self.shape, self.nights = left.shape, len(wishes.length)
        offered = np.isfinite(wishes.worth[:, night:]).any(axis=1)
        self._groups = [
            _Pairs(wishes, night, some & offered, left, ready, known_clear)
            for some in (left == 1, left > 1)
            if (some & offered).any()
        ]

    def load(self, mu: Floats) -> Floats:
        """Return the time the targets would use of each night under these prices. (years, nights) [min]"""
        load = np.zeros((self.shape[0], self.nights))
        for pairs in self._groups:
            pairs.walk(mu)
            load[:, pairs.night :] += pairs.load()
        return load

    def fit(self, mu: Floats) -> Fit:
        """Return what the targets make of these prices. (years, nights) [1/min]"""
        load = self.load(mu)
        later, ahead = np.zeros(self.shape), np.zeros(self.shape[0])
        for pairs in self._groups:
            later[pairs.year, pairs.target] = pairs.later()
            ahead += np.bincount(pairs.year, pairs.ahead(), self.shape[0])
        return Fit(later, load, ahead)


class _Pairs:
    """Pairs that want one visit, or such as want several, walked backwards; nights count from tonight.

    Tables of values are [visits left][state of the weather], with a row a night. (nights, pairs)
    """

    def __init__(
        self, wishes: Wishes, night: int, some: NDArray[np.bool_], left: Ints, ready: Ints, known_clear: bool
    ) -> None:
        self.year, self.target = np.nonzero(some)
        self.night, self.years = night, len(left)
        self._first = np.flatnonzero(np.diff(self.year, prepend=-1))
        self.left = left[some]
        self.most = int(self.left.max())
        self.minutes = wishes.minutes[self.target]
        self._worth = wishes.worth[:, night:].T[:, self.target]
        waits = np.arange(night, len(wishes.length))[:, None] < ready[some]
        self._worth[waits] = -np.inf
        self._nights, chain = len(self._worth), wishes.chain
        self._odds = 1.0 if known_clear else float(chain.odds[night])
        self._after = [chain.clear_after(night + n) for n in range(self._nights - 1)]
        self._all = np.arange(len(self.year))
        if self.most > 1:
            rest = wishes.rest[:, night:].T[:, self.target] - night
            self._again = rest < self._nights
            self._eve = np.minimum(rest, self._nights) - 1
            self._eve_clear = _pulled(chain, night)[np.arange(self._nights)[:, None], self._eve]

    def walk(self, mu: Floats) -> None:
        """Find the values still to come under these prices, and where a clear night is used."""
        gain = mu.T[self.night :, self.year]
        gain *= self.minutes
        np.subtract(self._worth, gain, out=gain)
        none = np.zeros(gain.shape)
        self._clouded, self._bright, self._use, self._best = [none], [none], [none > 0], [none[0]]
        for visits in range(1, self.most + 1):
            self._walk(gain if visits == 1 else gain + self._rested(visits - 1), visits)

    def _walk(self, now: Floats, visits: int) -> None:
        clouded, bright = np.zeros(now.shape), np.zeros(now.shape)
        use, best = np.zeros(now.shape, np.bool_), np.maximum(now[-1], 0.0)
        for night in range(self._nights - 1, -1, -1):
            np.greater(now[night], bright[night], out=use[night])
            best = np.maximum(now[night], bright[night])
            if night:
                after_cloud, after_clear = self._after[night - 1]
                best_less = best - clouded[night]
                np.multiply(best_less, after_cloud, out=clouded[night - 1])
                clouded[night - 1] += clouded[night]
                np.multiply(best_less, after_clear, out=bright[night - 1])
                bright[night - 1] += clouded[night]
        self._clouded.append(clouded)
        self._bright.append(bright)
        self._use.append(use)
        self._best.append(best)

    def _rested(self, visits: int, nights: slice = slice(None)) -> Floats:
        """Value with `visits` left just after a visit on each night, the spacing waited for."""
        eve, clear = self._eve[nights], self._eve_clear[nights]
        clouded, bright = self._clouded[visits][eve, self._all], self._bright[visits][eve, self._all]
        value: Floats = np.where(self._again[nights], clouded + clear * (bright - clouded), 0.0)
        return value

    def later(self) -> Floats:
        """What a visit tonight takes from the value to come. (pairs,)"""
        found: Floats = -self._bright[1][0]
        for visits in range(2, self.most + 1):
            change = self._rested(visits - 1, slice(0, 1))[0] - self._bright[visits][0]
            found = np.where(self.left == visits, change, found)
        return found

    def ahead(self) -> Floats:
        """What tonight and later nights bring, prices paid. (pairs,)"""
        found = np.zeros(len(self.left))
        for visits in range(1, self.most + 1):
            value = self._odds * self._best[visits] + (1 - self._odds) * self._clouded[visits][0]
            found = np.where(self.left == visits, value, found)
        return found

    def load(self) -> Floats:
        """Time used of each night. (years, nights) [min]"""
        load = np.zeros(self._worth.shape)
        back: tuple[Floats, Floats] | None = None
        for visits in range(self.most, 0, -1):
            comes = back
            back = (np.zeros(self._worth.shape), np.zeros(self._worth.shape)) if visits > 1 else None
            here = 1.0 if self.most == 1 else np.where(self.left == visits, 1.0, 0.0)
            bright = np.full(len(self.left), self._odds) * here
            clouded = np.full(len(self.left), 1.0 - self._odds) * here
            for night in range(self._nights):
                if night:
                    after_cloud, after_clear = self._after[night - 1]
                    total = bright + clouded
                    bright = after_clear * bright + after_cloud * clouded
                    clouded = total - bright
                used = bright * self._use[visits][night]
                bright -= used
                load[night] += used
                if back is not None:
                    self._send_back(back, night, used)
                if comes is not None:
                    bright += comes[0][night]
                    clouded += comes[1][night]
        load *= self.minutes
        found = np.zeros((self.years, self._nights))
        found[self.year[self._first]] = np.add.reduceat(load, self._first, axis=1).T
        return found

    def _send_back(self, back: tuple[Floats, Floats], night: int, used: Floats) -> None:
        """Let what was visited on `night` return on the eve of the first night it may be visited again."""
        some = np.flatnonzero(self._again[night])
        eve, clear, used = self._eve[night, some], self._eve_clear[night, some], used[some]
        back[0][eve, some] += used * clear
        back[1][eve, some] += used * (1 - clear)


def _pulled(chain: WeatherChain, first: int) -> Floats:
    """Odds that a night is clear given that an earlier one is, from `first` on. (earlier, later) [0..1]"""
    nights = len(chain.odds) - first
    found = np.zeros((nights, nights))
    for night in range(nights):
        found[night, night:] = clear_given(chain, first + night)
    return found
