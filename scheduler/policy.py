"""What to visit on a clear night, when other nights may be clouded out.

Every visit is worth what it brings tonight less what it takes from the value still to come; the best
programme of such visits is made, and what would better wait is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .domain.opportunity import Floats, Ints, Opportunities
from .night import NightRows, best_programmes
from .prices import CLEAR, WeatherChain, chain_of, later_of
from .refit import Wishes, fitted, looked_ahead


@dataclass(frozen=True, eq=False)
class WeatherSeason:
    """A season to live through.

    Attributes
    ----------
    opportunities : The rows.
    weights : Worth of a visit of merit 1. (targets,)
    minutes, visits, spacing_days : Length of a visit, visits wanted, fewest days between two. (targets,)
    night_day : Ordinal dates of the free nights, rising. (nights,) [d]
    odds : Clear odds of the free nights. (nights,) [0..1]
    persistence : Correlation of one night's weather with the next. [0..0.95]
    move_min : Left free between two visits. [min]
    outside : Part of its clear nights on which one is outside, where nights out are limited; None where they
        are not. (nights,) [0..1]
    """

    opportunities: Opportunities
    weights: Floats
    minutes: Ints
    visits: Ints
    spacing_days: Ints
    night_day: Ints
    odds: Floats
    persistence: float
    move_min: int = 4
    outside: Floats | None = None

    @cached_property
    def value(self) -> Floats:
        """Weight times merit. (rows,)"""
        return np.asarray(self.weights[self.opportunities.target] * self.opportunities.merit)

    @cached_property
    def chain(self) -> WeatherChain:
        """The weather."""
        return chain_of(self.odds, self.persistence, self.night_day)

    @cached_property
    def rest(self) -> Ints:
        """First night of another visit after one on each night, `nights` if none. int, (targets, nights)"""
        spacing = np.maximum(self.spacing_days, 1)
        found: Ints = np.searchsorted(self.night_day, self.night_day + spacing[:, None]).astype(np.int64)
        return found

    def rows_of(self, night: int) -> slice:
        """Return where the night's rows stand."""
        first, last = np.searchsorted(self.opportunities.night, [night, night + 1])
        return slice(int(first), int(last))

    @cached_property
    def wishes(self) -> Wishes:
        """What the fitting of prices sees of the season."""
        o = self.opportunities
        fits = o.end_min - o.start_min >= self.minutes[o.target]
        worth = np.full((o.targets, o.nights), -np.inf)
        np.maximum.at(worth, (o.target[fits], o.night[fits]), self.value[fits])
        length = np.zeros(o.nights)
        for night in np.unique(o.night).tolist():
            rows = self.rows_of(night)
            length[night] = o.end_min[rows].max() + self.move_min - o.start_min[rows].min()
        if self.outside is not None:
            length *= self.outside
        minutes = (self.minutes + self.move_min).astype(np.float64)
        return Wishes(worth, minutes, self.visits, self.rest, length, self.chain)

    def filled(self, part: float) -> Wishes:
        """Return the wishes, with only `part` of every night's time for them."""
        return replace(self.wishes, length=part * self.wishes.length)

    def values(self, night: int, left: Ints, ready: Ints, later: Floats) -> Floats:
        """Return what each row of a night brings, `later` added; 0 where it may not be used. (years, rows)

        Parameters
        ----------
        left, ready : Visits still wanted; first night on which each may be made. int, (years, targets)
        later : What the visit adds to the value still to come, mostly negative. (years, rows)
        """
        rows = self.rows_of(night)
        target = self.opportunities.target[rows]
        may = (left[:, target] > 0) & (ready[:, target] <= night)
        return np.where(may, self.value[rows] + later, 0.0)

    def programmes(self, night: int, values: Floats, labels: int) -> list[Ints]:
        """Return the best programme of a night in each year, by the values of its rows. (years, rows)"""
        rows, o = self.rows_of(night), self.opportunities
        some = np.flatnonzero((values > 0).any(axis=0))
        at = some + rows.start
        target = o.target[at]
        night_rows = NightRows(
            target, o.start_min[at], o.end_min[at], self.minutes[target], values[0, some], self.move_min
        )
        return [at[found.rows] for found in best_programmes(night_rows, values[:, some], labels)]


def first_prices(season: WeatherSeason, rounds: int = 200, filled: float = 1.0) -> Floats:
    """Return the price of a clear minute of every night, before the season. (nights,) [1/min]

    Parameters
    ----------
    filled : Part of a clear night's time that prices count on, see `Repriced`.
    """
    wishes = season.filled(filled)
    dearest = np.where(np.isfinite(wishes.worth), wishes.worth, 0.0).max(axis=1)
    rate = float((dearest / wishes.minutes).mean())
    left, ready = season.visits[None, :], np.zeros((1, len(season.visits)), np.int64)
    mu = np.full((1, len(season.odds)), rate)
    mu = fitted(wishes, 0, left, ready, mu, rounds, 0.3, known_clear=False)
    found: Floats = fitted(wishes, 0, left, ready, mu, rounds, 0.05, known_clear=False)[0]
    return found


class PricedOnce:
    """Prices fitted before the season, and never again.

    Parameters
    ----------
    mu : The prices; None fits them. (nights,) [1/min]
    later : What a value still to come counts, as a part of itself. [0..1]
    labels : How thorough the night's choice is, see `best_programme`.
    filled : Part of a clear night's time that prices count on, if they are to be fitted. [0..1]
    """

    def __init__(
        self, season: WeatherSeason, mu: Floats | None = None, later: float = 1.0, labels: int = 100,
        filled: float = 1.0,
    ) -> None:  # fmt: skip
        self.season, self.later, self.labels = season, later, labels
        self.mu = first_prices(season, filled=filled) if mu is None else mu
        wishes = season.wishes
        gain = wishes.worth - self.mu * wishes.minutes[:, None]
        self._to_come = later_of(gain, season.chain, max(1, int(season.visits.max())), season.rest)

    def values(self, night: int, years: Ints, left: Ints, ready: Ints) -> Floats:
        """Return what each row of a clear night is worth, value to come taken off; 0 where it may not be.

        By year. (years, rows of the night)
        """
        target = self.season.opportunities.target[self.season.rows_of(night)]
        here = np.arange(left.shape[1])
        done = self._to_come.rested[np.maximum(left - 1, 0), here, night]
        later = done - self._to_come.value[left, here, night, CLEAR]
        return self.season.values(night, left, ready, self.later * later[:, target])

    def programmes(self, night: int, years: Ints, left: Ints, ready: Ints) -> Sequence[Ints]:
        """Return the rows to visit in each of the years."""
        return self.season.programmes(night, self.values(night, years, left, ready), self.labels)


class Repriced:
    """Prices fitted before the season, and again on every clear night to what is then left.

    Parameters
    ----------
    mu, later, labels : As for `PricedOnce`.
    rounds, pace : Steps of the subgradient on a clear night, and the size of the first.
    filled : Part of a clear night's time that prices count on. [0..1]

    Notes
    -----
    Prices see a night as so many minutes, in which whatever is wanted fits end to end at its best. In truth
    many targets want the same hour, and ends are left over: what is to come is worth less than prices
    promise. Counting on a part of the time only mends that in the mean; `tuning` finds the part.
    """

    def __init__(
        self, season: WeatherSeason, mu: Floats | None = None, later: float = 1.0, labels: int = 100,
        rounds: int = 20, pace: float = 0.3, filled: float = 1.0,
    ) -> None:  # fmt: skip
        self.season, self.later, self.labels = season, later, labels
        self.rounds, self.pace, self.wishes = rounds, pace, season.filled(filled)
        self.mu = first_prices(season, filled=filled) if mu is None else mu
        self._notes: dict[int, Floats] = {}

    def prices(self, years: Ints) -> Floats:
        """Return the prices that hold in each of the years. (years, nights) [1/min]"""
        return np.array([self._notes.get(year, self.mu) for year in years.tolist()])

    def values(self, night: int, years: Ints, left: Ints, ready: Ints) -> Floats:
        """Return what each row of a clear night is worth, value to come taken off; 0 where it may not be.

        By year, prices fitted to what is left. (years, rows of the night)
        """
        season = self.season
        target = season.opportunities.target[season.rows_of(night)]
        mu = fitted(self.wishes, night, left, ready, self.prices(years), self.rounds, self.pace)
        self._notes.update(zip(years.tolist(), mu, strict=True))
        later = looked_ahead(self.wishes, night, left, ready, mu).later
        return season.values(night, left, ready, self.later * later[:, target])

    def programmes(self, night: int, years: Ints, left: Ints, ready: Ints) -> Sequence[Ints]:
        """Return the rows to visit in each of the years."""
        return self.season.programmes(night, self.values(night, years, left, ready), self.labels)
