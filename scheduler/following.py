"""The policy of a published plan: what is printed is done while it stands, what cloud took is caught up.

A plan that is never left loses far more than it gains in calm, and one that owes nothing to what was
published changes without need.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .assignment.problem import NightLimit
from .domain.opportunity import Floats, Ints
from .outings import dates_of, price_of_an_outing
from .policy import PricedOnce, Repriced, WeatherSeason, first_prices

NAME = "steady prices 1"
"""Name and version of this policy; odds belong to it."""

LATER = 0.95  # what a value still to come counts
ROUNDS = 40  # steps of fitting the prices; with 200 the years of the benchmarks brought no more
FILLED = 0.85  # part of the nights' time that prices count on, see `tuning`
LABELS = 40  # part programmes kept at a time when a night's visits are chosen


class Following:
    """Spends a clear night by the published plan, and by prices where it no longer stands.

    A plan stands as long as no visit printed for an earlier night is missing. Then a night's printed visits
    are made, as far as they have not been made before, and time left is filled by the prices. Where it
    stands no longer, a printed visit is worth `steadiness` more of its value than the prices say. A night
    without a printed visit is gone out on only if that is worth its cost, and worth more than the night out
    it may take from a better night of its week or month, or from another site that evening.

    Parameters
    ----------
    season : What is lived through.
    published : The rows of the plan. int, (visits,)
    limits : Groups of nights of which only some are spent outside.
    outing_cost : What a clear night spent outside must bring; None asks nothing. (nights,)
    announced : Nights, by position, on which the printed visits are made whatever came before.
    steadiness : What holding to a published visit is worth, as a part of its value. [0..1]
    pricing : The prices; None fits them before the season.
    """

    def __init__(
        self, season: WeatherSeason, published: Ints, limits: Sequence[NightLimit] = (),
        outing_cost: Floats | None = None, steadiness: float = 0.05,
        pricing: PricedOnce | Repriced | None = None, announced: Collection[int] = (),
    ) -> None:  # fmt: skip
        self.season, self.published, self.limits = season, published, tuple(limits)
        self.steadiness, self.announced = steadiness, frozenset(announced)
        self.outing_cost = np.zeros(len(season.odds)) if outing_cost is None else outing_cost
        self._pricing = pricing or PricedOnce(season, first_prices(season, ROUNDS, FILLED), LATER)
        self._spent: dict[int, Ints] = {}

    def programmes(self, night: int, years: Ints, left: Ints, ready: Ints) -> Sequence[Ints]:
        """Return the rows to visit in each of the years."""
        season, first = self.season, self.season.rows_of(night).start
        worth = self._pricing.values(night, years, left, ready)
        stands = (left <= self._still_wanted[night]).all(axis=1) | (night in self.announced)
        printed = self._printed(night)
        mine = season.opportunities.target[printed]
        due = (left[:, mine] > 0) & (ready[:, mine] <= night)
        value = worth.copy()
        value[:, printed - first] += np.where(due, self.steadiness * season.value[printed], 0.0)
        above = 1.0 + np.maximum(worth, 0.0).sum(axis=1, keepdims=True)
        value[:, printed - first] += np.where(stands[:, None] & due, above, 0.0)
        chosen = season.programmes(night, value, LABELS)
        for year in np.flatnonzero(stands & due.any(axis=1)).tolist():
            if not np.isin(printed[due[year]], chosen[year]).all():
                chosen[year] = printed[due[year]]  # a hasty search lost one of them
        gain = np.array([worth[i, rows - first].sum() for i, rows in enumerate(chosen)])
        bound = stands & due.any(axis=1)
        out = bound | (gain > self._asked(night, years, left, stands))
        self._note(night, years, np.array([len(rows) > 0 for rows in chosen]) & out)
        return [rows if go else rows[:0] for rows, go in zip(chosen, out.tolist(), strict=True)]

    def _printed(self, night: int) -> Ints:
        """Return the published rows of a night."""
        printed: Ints = self.published[self.season.opportunities.night[self.published] == night]
        return printed

    @cached_property
    def _still_wanted(self) -> Ints:
        """Visits still wanted before each night if all before went as printed. (nights, targets)"""
        o = self.season.opportunities
        done = np.zeros((o.nights + 1, o.targets), np.int64)
        np.add.at(done, (o.night[self.published] + 1, o.target[self.published]), 1)
        wanted: Ints = self.season.visits - np.cumsum(done, axis=0)
        return wanted

    def _asked(self, night: int, years: Ints, left: Ints, stands: NDArray[np.bool_]) -> Floats:
        """Return what a programme of the night must bring, that it is gone out for. (years,)"""
        cost = float(self.outing_cost[night])
        if not any(night in limit.nights for limit in self.limits):
            return np.full(len(years), cost)
        gain = self._gain_of_nights(years, left)
        asked = cost + self._taken(night, years, gain, stands)
        for place, limit in enumerate(self.limits):
            if night in limit.nights and limit.nights in self._dates:
                left_out = np.where(self._free(place, night, years, stands) > 0, 0.0, np.inf)
                for other in (one for one in limit.nights if one > night):
                    elsewhere = gain[:, other] - self._taken(other, years, gain, stands)
                    left_out = np.maximum(left_out, elsewhere)
                asked = asked + left_out
        return asked

    def _taken(self, night: int, years: Ints, gain: Floats, stands: NDArray[np.bool_]) -> Floats:
        """Return what an outing takes from better nights of its week, its month, or its trips. (years,)"""
        taken = np.zeros(len(years))
        for place, limit in enumerate(self.limits):
            if night in limit.nights and limit.nights not in self._dates:
                free = self._free(place, night, years, stands)
                price = price_of_an_outing(self.season.chain, limit, night, self._by_date(gain, night), free)
                taken = np.maximum(taken, price)
        return taken

    def _free(self, place: int, night: int, years: Ints, stands: NDArray[np.bool_]) -> Ints:
        """Return how many nights out a limit still allows, those printed for later put by. int, (years,)"""
        limit = self.limits[place]
        spent = np.array([self._spent[year][place] if year in self._spent else 0 for year in years.tolist()])
        ahead = [other for other in limit.nights if other > night and len(self._printed(other))]
        free: Ints = limit.most - spent - np.where(stands, len(ahead), 0)
        return free

    @cached_property
    def _dates(self) -> list[tuple[int, ...]]:
        """The groups of nights of one date, to be spent at one of several sites."""
        return dates_of(self.limits, self.season.night_day)

    def _by_date(self, gain: Floats, night: int) -> Floats:
        """Return the gains with one night of each date, the best; none on tonight's. (years, nights)"""
        gain = gain.copy()
        for nights in map(list, self._dates):
            best = gain[:, nights].max(axis=1) if night not in nights else 0.0
            gain[:, nights] = 0.0
            gain[:, nights[-1]] = best
        return gain

    def _gain_of_nights(self, years: Ints, left: Ints) -> Floats:
        """Return what each night brings if clear, about. (years, nights)

        What its time sells for, or all it has to show where that is less.
        """
        wishes = self.season.wishes
        sold = self._pricing.prices(years) * wishes.length
        shown = (left > 0) @ np.where(np.isfinite(wishes.worth), wishes.worth, 0.0)
        return np.maximum(np.minimum(sold, shown) - self.outing_cost, 0.0)

    def _note(self, night: int, years: Ints, out: NDArray[np.bool_]) -> None:
        """Count the nights out against their groups."""
        here = np.array([night in limit.nights for limit in self.limits], np.int64)
        for year in years[out].tolist():
            self._spent[year] = self._spent.get(year, np.zeros_like(here)) + here
