"""What the best policy can expect of a small season under weather, by linear programming.

Source: HiGHS 1.x, Q. Huangfu & J. A. J. Hall, "Parallelizing the dual revised simplex method", Mathematical
Programming Computation 10 (2018) 119, doi:10.1007/s12532-017-0130-5. The programme deals out the probability
of every state and answer, as in F. d'Epenoux, "A probabilistic production and inventory problem", Management
Science 10 (1963) 98, doi:10.1287/mnsc.10.1.98 (from memory). It shares no code with the package: orders of a
night are tried one by one, and spacing is counted in days.
"""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from itertools import combinations, permutations
from typing import Any, NamedTuple

import highspy
import numpy as np
import pytest

from scheduler.following import Following
from scheduler.policy import PricedOnce, Repriced, WeatherSeason, first_prices
from scheduler.refit import bound_of_prices
from scheduler.simulation import Policy, live
from tests.benchmarks.instances import small
from tests.scheduler.exact_year import all_weathers, best_expected

SEEDS = range(6)
NEVER = -(10**6)


class State(NamedTuple):
    """A night, its weather, the visits left and the day of the last one, by target."""

    night: int
    clear: bool
    left: tuple[int, ...]
    last_day: tuple[int, ...]


def fits(season: WeatherSeason, rows: tuple[int, ...]) -> bool:
    """Tell whether visits in these rows can follow one another in some order."""
    o = season.opportunities
    for order in permutations(rows):
        free = -(10**9)
        for row in order:
            start, minutes = max(free, int(o.start_min[row])), int(season.minutes[o.target[row]])
            if start + minutes > o.end_min[row]:
                break
            free = start + minutes + season.move_min
        else:
            return True
    return False


def answers(season: WeatherSeason, state: State) -> list[tuple[int, ...]]:
    """Every set of rows that may be visited in a state, none at all among them."""
    if not state.clear:
        return [()]
    o, day = season.opportunities, int(season.night_day[state.night])
    may = [
        row
        for row in np.flatnonzero(o.night == state.night).tolist()
        if state.left[o.target[row]]
        and day - state.last_day[o.target[row]] >= max(1, int(season.spacing_days[o.target[row]]))
    ]
    found: list[tuple[int, ...]] = [()]
    for size in range(1, len(may) + 1):
        found += [
            rows
            for rows in combinations(may, size)
            if len({int(o.target[row]) for row in rows}) == size and fits(season, rows)
        ]
    return found


def after(season: WeatherSeason, state: State, rows: tuple[int, ...]) -> list[tuple[State, float]]:
    """The states of the next night, each with its probability."""
    night = state.night + 1
    if night == len(season.odds):
        return []
    left, last = list(state.left), list(state.last_day)
    for target in season.opportunities.target[list(rows)].tolist():
        left[target] -= 1
        last[target] = int(season.night_day[state.night]) if left[target] else NEVER
    days = int(season.night_day[night] - season.night_day[state.night])
    before, here = float(season.odds[state.night]), float(season.odds[night])
    pull = min(season.persistence**days, here / before, (1 - here) / (1 - before), 1.0)
    odds = here + pull * (float(state.clear) - before)
    return [
        (State(night, True, tuple(left), tuple(last)), odds),
        (State(night, False, tuple(left), tuple(last)), 1 - odds),
    ]


@cache
def best_by_highs(seed: int) -> float:
    return linear_programme(season_of(seed))


def linear_programme(season: WeatherSeason) -> float:
    """What the best policy expects."""
    made: Any = highspy
    model = made.Highs()
    model.silent()
    wanted = tuple(season.visits.tolist())
    first, never = float(season.odds[0]), (NEVER,) * len(wanted)
    states = {State(0, True, wanted, never): first, State(0, False, wanted, never): 1 - first}
    flows: dict[State, list[Any]] = defaultdict(list)
    for night in range(len(season.odds)):
        following: dict[State, float] = {}
        for state, begun in states.items():
            dealt = []
            for rows in answers(season, state):
                share = model.addVariable(0, made.kHighsInf, float(season.value[list(rows)].sum()))
                dealt.append(share)
                for then, odds in after(season, state, rows):
                    flows[then].append(odds * share)
                    following[then] = 0.0
            model.addConstr(sum(dealt) == begun + sum(flows.pop(state, [])))
        states = following
        assert len(states) < 20_000, night
    model.setMaximize()
    model.run()
    assert model.getModelStatus() == made.HighsModelStatus.kOptimal
    return float(model.getInfo().objective_function_value)


def season_of(seed: int) -> WeatherSeason:
    return small(seed, targets=4, nights=5).season()


def expected(season: WeatherSeason, policy: Policy) -> float:
    """What the policy brings in the mean over every weather there is: no sampling."""
    clear, odds = all_weathers(season)
    return float(odds @ live(season, policy, clear).value)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_exact_optimum_is_that_of_the_linear_programme(seed: int) -> None:
    assert best_expected(season_of(seed)) == pytest.approx(best_by_highs(seed), rel=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_policies_lie_below_the_optimum_and_the_bound_of_prices_above(seed: int) -> None:
    season, best = season_of(seed), best_by_highs(seed)
    none = np.zeros(0, np.int64)
    for policy in (Repriced(season), PricedOnce(season), Following(season, none)):
        reached = expected(season, policy)
        assert 0.9 * best <= reached <= best * (1 + 1e-6)
    assert bound_of_prices(season.wishes, first_prices(season, 60)) >= best * (1 - 1e-6)


def test_eight_nights_of_six_targets() -> None:
    season = small(3, targets=6, nights=8, often=False).season()
    best = linear_programme(season)
    assert 0.95 * best <= expected(season, Repriced(season)) <= best * (1 + 1e-6)
    assert bound_of_prices(season.wishes, first_prices(season)) >= best * (1 - 1e-6)


def test_the_policies_come_near_the_optimum_together() -> None:
    best = sum(best_by_highs(seed) for seed in SEEDS)
    reached = sum(expected(season_of(seed), Repriced(season_of(seed))) for seed in SEEDS)
    assert 0.97 * best <= reached <= best
