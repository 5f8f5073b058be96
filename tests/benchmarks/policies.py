"""Other ways of spending clear nights, to measure the price policy against."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from scheduler.assignment import Problem, assign, expected_capacity_of
from scheduler.domain.opportunity import Floats, Ints
from scheduler.order import NightVisits, order_of
from scheduler.policy import WeatherSeason
from scheduler.refit import clear_given
from scheduler.simulation import Bools, Lived

LABELS = 40
Chooser = Callable[[int, Ints, Ints], Ints]


def problem_of(season: WeatherSeason, nights: Bools, left: Ints, ready: Ints) -> Problem:
    """The assignment of what is left, on the nights marked, every night clear."""
    o = season.opportunities
    may = nights[o.night] & (o.night >= ready[o.target])
    return Problem(o, np.where(may, season.value, 0.0), season.minutes, left, season.spacing_days,
                   season.night_day, season.move_min)  # fmt: skip


class EachYearAlone:
    """A policy that looks at one year at a time: `choose(night, left, ready)` names the rows."""

    def __init__(self, choose: Chooser) -> None:
        self.choose = choose

    def programmes(self, night: int, years: Ints, left: Ints, ready: Ints) -> Sequence[Ints]:
        return [self.choose(night, each, free) for each, free in zip(left, ready, strict=True)]


def programme(season: WeatherSeason, night: int, value: Floats) -> Ints:
    """The best programme of a night with these values of its rows."""
    return season.programmes(night, value[None, :], LABELS)[0]


def open_rows(season: WeatherSeason, night: int, left: Ints, ready: Ints) -> Bools:
    target = season.opportunities.target[season.rows_of(night)]
    may: Bools = (left[target] > 0) & (ready[target] <= night)
    return may


class Valued:
    """A policy that takes the best programme of a night by weight x merit less what `later` says. (rows,)"""

    def __init__(self, season: WeatherSeason, later: Floats) -> None:
        self.season, self.later = season, later

    def programmes(self, night: int, years: Ints, left: Ints, ready: Ints) -> Sequence[Ints]:
        later = self.later[self.season.rows_of(night)]
        values = self.season.values(night, left, ready, -later[None, :])
        return self.season.programmes(night, values, LABELS)


def best_of_tonight(season: WeatherSeason) -> Valued:
    """Go out and take the best programme of tonight, whatever comes later."""
    return Valued(season, np.zeros(len(season.opportunities)))


def fewest_nights_first(season: WeatherSeason) -> EachYearAlone:
    """Targets with the fewest free nights left first, as long as they fit."""
    o = season.opportunities
    offered = np.zeros((o.targets, o.nights), np.bool_)
    offered[o.target, o.night] = True
    nights_left = np.cumsum(offered[:, ::-1], axis=1)[:, ::-1]

    def choose(night: int, left: Ints, ready: Ints) -> Ints:
        rows = season.rows_of(night)
        at = np.flatnonzero(open_rows(season, night, left, ready)) + rows.start
        return fitted_in(season, at[np.lexsort((-season.value[at], nights_left[o.target[at], night]))])

    return EachYearAlone(choose)


def fitted_in(season: WeatherSeason, ranked: Ints) -> Ints:
    """Take row after row as long as an order is left in which all fit."""
    o, chosen = season.opportunities, list[int]()
    for row in ranked.tolist():
        if o.target[row] in o.target[chosen]:
            continue
        at = np.array([*chosen, row])
        if order_of(NightVisits(o.start_min[at], o.end_min[at], season.minutes[o.target[at]],
                                o.best_min[at], season.move_min)) is not None:  # fmt: skip
            chosen.append(row)
    return np.array(chosen, np.int64)


def lost_by_waiting(season: WeatherSeason, factor: float = 1.0) -> Valued:
    """What loses most by waiting: value tonight less `factor` times that of the best clear night to come.

    The best to come is expected as if every later night were clear by its own odds, and had time for it.
    """
    worth = np.maximum(season.wishes.worth, 0.0)
    later = np.zeros(worth.shape)
    for night in range(worth.shape[1] - 1):
        rest = worth[:, night + 1 :]
        order = np.argsort(-rest, axis=1)
        odds = season.odds[night + 1 :][order]
        none_better = np.cumprod(np.column_stack([np.ones(len(rest)), 1 - odds[:, :-1]]), axis=1)
        later[:, night] = (np.take_along_axis(rest, order, axis=1) * odds * none_better).sum(axis=1)
    o = season.opportunities
    return Valued(season, factor * later[o.target, o.night])


def fixed_plan(season: WeatherSeason, seconds: float = 5.0) -> EachYearAlone:
    """One plan for a year without clouds, never changed."""
    o = season.opportunities
    every = np.ones(o.nights, np.bool_)
    rows = assign(
        problem_of(season, every, season.visits, np.zeros(o.targets, np.int64)), seconds=seconds
    ).rows
    return EachYearAlone(lambda night, left, ready: rows[o.night[rows] == night])


def replanned(season: WeatherSeason, *, blind: bool) -> EachYearAlone:
    """A linear programme over what is left on every clear night, and the best night at its prices.

    `blind`: as if every later night were clear; else with the clear odds' share of its time.
    """
    o = season.opportunities

    def choose(night: int, left: Ints, ready: Ints) -> Ints:
        odds = np.ones(o.nights)
        if not blind:
            odds[night:] = clear_given(season.chain, night)
        ahead = np.arange(o.nights) >= night
        problem = problem_of(season, ahead, left, ready)
        if not len(problem.usable):
            return np.zeros(0, np.int64)
        found = expected_capacity_of(problem, odds)
        mine = found.windows.of_night(night)
        value = np.zeros(len(o))
        value[found.windows.rows[mine]] = season.value[found.windows.rows[mine]] - found.keep[mine]
        return programme(season, night, value[season.rows_of(night)])

    return EachYearAlone(choose)


def clairvoyant(season: WeatherSeason, clear: Bools, seconds: float) -> tuple[Lived, Floats]:
    """The best assignment of each year's clear nights that was found, and a bound no policy passes."""
    done = np.zeros((len(clear), len(season.visits)), np.int64)
    value, bound = np.zeros(len(clear)), np.zeros(len(clear))
    for year, nights in enumerate(clear):
        ready = np.zeros(len(season.visits), np.int64)
        found = assign(problem_of(season, nights, season.visits, ready), seconds=seconds)
        np.add.at(done[year], season.opportunities.target[found.rows], 1)
        value[year], bound[year] = found.objective, found.bound
    none = np.zeros_like(done)
    return Lived(season, done, value, none, none[:, 0]), bound
