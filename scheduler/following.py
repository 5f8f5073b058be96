"""The policy of a published plan: what is printed is done while it stands, what cloud took is caught up.

A plan that is never left loses far more than it gains in calm, and one that owes nothing to what was
published changes without need.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property
from itertools import groupby
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from .assignment.problem import NightLimit
from .domain.opportunity import Floats, Ints
from .outings import dates_of, price_of_an_outing
from .policy import PricedOnce, Repriced, WeatherSeason, first_prices

Bools: TypeAlias = NDArray[np.bool_]

NAME = "steady prices 2"
"""Name and version of this policy; odds belong to it."""

LATER = 0.95  # what a value still to come counts
ROUNDS = 100  # steps of fitting the prices, twice; 40 cost 2 % of value on long lists, 200 brought no more
FILLED = 0.85  # part of the nights' time that prices count on, see `tuning`
LABELS = 40  # part programmes kept at a time when a night's visits are chosen


class _Best(NamedTuple):
    """The best programmes of a night, in several years.

    `firm` tells which are printed ones of a plan that `stands`; `brings` is what they bring beyond what the
    outing costs. (years,), each
    """

    rows: list[Ints]
    firm: Bools
    stands: Bools
    brings: Floats


class Following:
    """Spends a clear night by the published plan, and by prices where it no longer stands.

    A plan stands as long as no visit printed for an earlier night is missing. Then a night's printed visits
    are made, as far as they have not been made before, and time left is filled by the prices. Where it
    stands no longer, a printed visit is worth `steadiness` more of its value than the prices say. A night
    without a printed visit is gone out on only if that is worth its cost, and worth more than the night out
    it may take from a better night of its week or month, or than the best programme of another site that
    evening.

    Parameters
    ----------
    season : What is lived through.
    published : The rows of the plan. int, (visits,)
    limits : Groups of nights of which only some are spent outside.
    outing_cost : What a clear night spent outside must bring; None asks nothing. (nights,)
    announced : Nights, by position, on which the printed visits are made whatever came before.
    steadiness : What holding to a published visit is worth, as a part of its value. [0..1]
    pricing : The prices; None fits them before the season.
    expected : What each night will bring beyond its cost where it is clear, after all that may come before;
        None keeps no night out for a later one, unless that is printed. (nights,)
    """

    def __init__(
        self, season: WeatherSeason, published: Ints, limits: Sequence[NightLimit] = (),
        outing_cost: Floats | None = None, steadiness: float = 0.05,
        pricing: PricedOnce | Repriced | None = None, announced: Collection[int] = (),
        expected: Floats | None = None,
    ) -> None:  # fmt: skip
        self.season, self.published, self.limits = season, published, tuple(limits)
        self.steadiness, self.announced = steadiness, frozenset(announced)
        self.outing_cost = np.zeros(len(season.odds)) if outing_cost is None else outing_cost
        self.expected = np.zeros(len(season.odds)) if expected is None else expected
        self.pricing = pricing or PricedOnce(season, first_prices(season, ROUNDS, FILLED), LATER)
        self._brought, self._prices = np.zeros((len(season.odds), 2)), dict[tuple[int, int], Floats]()
        self._spent: dict[int, Ints] = {}

    def programmes(self, night: int, years: Ints, left: Ints, ready: Ints) -> Sequence[Ints]:
        """Return the rows to visit in each of the years."""
        best = self._best(night, years, left, ready)
        self._brought[night] += np.maximum(best.brings, 0.0).sum(), len(years)
        gain = best.brings - self._taken(night, years, best.stands)
        out = best.firm | (gain > self._elsewhere(night, years, left, ready))
        self._note(night, years, np.array([len(rows) > 0 for rows in best.rows]) & out)
        return [rows if go else rows[:0] for rows, go in zip(best.rows, out.tolist(), strict=True)]

    @property
    def brought(self) -> Floats:
        """What each night, where it was clear, was found to bring in the mean beyond its cost. (nights,)"""
        total, times = self._brought.T
        return np.asarray(total / np.maximum(times, 1.0))

    def _best(self, night: int, years: Ints, left: Ints, ready: Ints) -> _Best:
        """Return a night's best programmes."""
        season, first = self.season, self.season.rows_of(night).start
        worth = self.pricing.values(night, years, left, ready)
        stands = (left <= self._still_wanted[night]).all(axis=1) | (night in self.announced)
        printed = self._printed(night)
        mine = season.opportunities.target[printed]
        due = (left[:, mine] > 0) & (ready[:, mine] <= night)
        firm = stands & due.any(axis=1) & self._allowed(night, years)
        value = np.where(self._spoken_for(night, left), 0.0, worth)
        value[:, printed - first] += np.where(due, self.steadiness * season.value[printed], 0.0)
        above = 1.0 + np.maximum(worth, 0.0).sum(axis=1, keepdims=True)
        value[:, printed - first] = np.where(firm[:, None] & due, above, value[:, printed - first])
        chosen = season.programmes(night, value, LABELS)
        for year in np.flatnonzero(firm).tolist():
            if not np.isin(printed[due[year]], chosen[year]).all():
                chosen[year] = printed[due[year]]  # a hasty search lost one of them
        gain = np.array([worth[i, rows - first].sum() for i, rows in enumerate(chosen)])
        return _Best(chosen, firm, stands, gain - self.outing_cost[night])

    def _elsewhere(self, night: int, years: Ints, left: Ints, ready: Ints) -> Floats:
        """Return what the evening gains at the sites that are asked after this one, at least 0. (years,)"""
        found = np.zeros(len(years))
        for nights in (nights for nights in self._dates if night in nights):
            for other in (one for one in nights if one > night):
                best = self._best(other, years, left, ready)
                gain = best.brings - self._taken(other, years, best.stands)
                found = np.maximum(found, np.where(best.firm, np.inf, gain))
        return found

    def _allowed(self, night: int, years: Ints) -> Bools:
        """Return whether every limit still has a night out for this one. (years,)"""
        mine = [place for place, limit in enumerate(self.limits) if night in limit.nights]
        spent = self._spent_in(years)
        allowed = np.ones(len(years), np.bool_)
        for place in mine:
            allowed &= spent[:, place] < self.limits[place].most
        return allowed

    def _spent_in(self, years: Ints) -> Ints:
        """Return the nights out so far, by limit. int, (years, limits)"""
        none = np.zeros(len(self.limits), np.int64)
        spent = [self._spent.get(year, none) for year in years.tolist()]
        return np.array(spent, np.int64).reshape(len(years), len(self.limits))

    def _spoken_for(self, night: int, left: Ints) -> Bools:
        """Return which rows of a night would take a visit announced for another one. (years, rows)"""
        season = self.season
        target = season.opportunities.target[season.rows_of(night)]
        ahead, near = self._announced_ahead
        if night in self.announced:
            mine = np.isin(np.arange(season.rows_of(night).start, season.rows_of(night).stop), self.published)
        else:
            mine = np.zeros(len(target), np.bool_)
        too_few = (left <= ahead[night])[:, target] | near[night, target]
        spoken: Bools = too_few & ~mine & (ahead[night, target] > 0)
        return spoken

    @cached_property
    def _announced_ahead(self) -> tuple[Ints, Bools]:
        """Visits announced for after each night, and whether one is too near. (nights, targets), twice"""
        season, o = self.season, self.season.opportunities
        ahead = np.zeros((o.nights, o.targets), np.int64)
        near = np.zeros((o.nights, o.targets), np.bool_)
        for row in self.published[np.isin(o.night[self.published], list(self.announced))].tolist():
            target, night = int(o.target[row]), int(o.night[row])
            ahead[:night, target] += 1
            days = season.night_day[night] - season.night_day[:night]
            near[:night, target] |= days < max(1, int(season.spacing_days[target]))
        return ahead, near

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

    def _taken(self, night: int, years: Ints, stands: Bools) -> Floats:
        """Return what a night out takes from better ones of its week, its month, or its trips. (years,)"""
        taken = np.zeros(len(years))
        for place, limit in enumerate(self.limits):
            if night in limit.nights:
                free = np.maximum(self._free(place, night, years, stands), 0)
                taken = np.maximum(taken, self._price(place, night)[free])
        return taken

    def _price(self, place: int, night: int) -> Floats:
        """Return what a night out takes from a limit's later ones, by how many are left. (most + 1,)"""
        if (place, night) not in self._prices:
            limit, free = self.limits[place], np.arange(self.limits[place].most + 1)
            later = np.zeros_like(self.expected)
            for _, same in groupby(limit.nights, key=lambda one: int(self.season.night_day[one])):
                nights = list(same)
                if night not in nights:
                    later[nights[-1]] = self.expected[nights].max()
            gain = np.broadcast_to(later, (len(free), len(later)))
            self._prices[place, night] = price_of_an_outing(self.season.chain, limit, night, gain, free)
        return self._prices[place, night]

    def _free(self, place: int, night: int, years: Ints, stands: Bools) -> Ints:
        """Return how many nights out a limit still allows, those printed for later put by. int, (years,)"""
        limit = self.limits[place]
        spent = self._spent_in(years)[:, place]
        ahead = [other for other in limit.nights if other > night and len(self._printed(other))]
        free: Ints = limit.most - spent - np.where(stands, len(ahead), 0)
        return free

    @cached_property
    def _dates(self) -> list[tuple[int, ...]]:
        """The groups of nights of one date, to be spent at one of several sites."""
        return dates_of(self.limits, self.season.night_day)

    def _note(self, night: int, years: Ints, out: Bools) -> None:
        """Count the nights out against their groups."""
        here = np.array([night in limit.nights for limit in self.limits], np.int64)
        for year in years[out].tolist():
            self._spent[year] = self._spent.get(year, np.zeros_like(here)) + here
