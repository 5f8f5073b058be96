"""What a planned season is likely to bring: weather years lived through by the plan's own policy."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date

import numpy as np

from .assignment.problem import Problem
from .domain import (
    Cancel,
    FreeNight,
    Milestone,
    Odds,
    Progress,
    Report,
    Scenario,
    Target,
    TargetOdds,
    ignore_progress,
    never_cancelled,
)
from .domain.opportunity import Ints
from .following import NAME, Following
from .outings import share_spent_outside
from .policy import WeatherSeason
from .prices import chain_of
from .pricing import cost_of_nights_out
from .simulation import Bools, Lived, live_through

SHARES = (0.25, 0.5, 0.75, 0.9, 1.0)
"""Parts of the list whose dates are told."""
GOOD = 0.8
"""A night on which a target shows at this part of its best, or better, is a good one (our judgement)."""
LAST_NIGHTS = 3
"""How many of a target's last good nights are named."""


def weather_season_of(
    problem: Problem, targets: Sequence[Target], free: Sequence[FreeNight], persistence: float
) -> WeatherSeason:
    """Return the season of an assignment as policies live through it.

    Parameters
    ----------
    problem : The assignment, whose values are left aside.
    free : The free nights, with their clear odds.
    persistence : Correlation of one night's weather with the next. [0..0.95]
    """
    odds = np.array([night.clear_odds if night.ever_clear else 0.0 for night in free])
    chain = chain_of(odds, persistence, problem.night_day)
    return WeatherSeason(
        problem.opportunities, np.array([float(target.priority) for target in targets]), problem.minutes,
        problem.visits, problem.spacing_days, problem.night_day, odds, persistence, problem.move_min,
        share_spent_outside(chain, problem.limits, problem.night_day) if problem.limits else None,
    )  # fmt: skip


def odds_ahead(
    problem: Problem, published: Ints, scenario: Scenario, free: Sequence[FreeNight], *, years: int,
    seed: int, announced: Collection[int] = (), workers: int = 1, report: Report = ignore_progress,
    cancel: Cancel = never_cancelled,
) -> Odds | None:  # fmt: skip
    """Return what weather years lived through by a plan's own policy bring; None for no years or nights.

    Parameters
    ----------
    problem, published : The assignment, and the rows of the plan. int, (visits,)
    announced : Nights, by position, whose programme stands whatever happens.
    years, seed, workers : See `simulation.live_through`.
    """
    if not years or not free:
        return None
    lived = years_ahead(
        problem, published, scenario, free, years=years, seed=seed, announced=announced, workers=workers,
        report=report, cancel=cancel,
    )  # fmt: skip
    return odds_of(lived, scenario.targets, free, seed)


def years_ahead(
    problem: Problem, published: Ints, scenario: Scenario, free: Sequence[FreeNight], *, years: int,
    seed: int, announced: Collection[int] = (), workers: int = 1, report: Report = ignore_progress,
    cancel: Cancel = never_cancelled, weather: Bools | None = None,
) -> Lived:  # fmt: skip
    """Return weather years lived through by a plan's own policy.

    Parameters
    ----------
    problem, published : The assignment, and the rows of the plan. int, (visits,)
    announced : Nights, by position, whose programme stands whatever happens.
    years, seed, workers, weather : See `simulation.live_through`.
    """
    stage = f"living through {years} weather years"
    report(Progress(stage, 0.0))
    season = weather_season_of(problem, scenario.targets, free, scenario.clear_odds.persistence)
    cost = cost_of_nights_out(free, scenario.routine)
    policy = Following(
        season, published, problem.limits, cost, scenario.routine.steadiness, announced=announced
    )
    return live_through(
        season, policy, years, seed, workers=workers, cancel=cancel, weather=weather,
        report=lambda part: report(Progress(stage, part)),
    )  # fmt: skip


def odds_of(found: Lived, targets: Sequence[Target], free: Sequence[FreeNight], seed: int) -> Odds:
    """Return the odds that weather years lived through tell."""
    evenings = [night.evening for night in free]
    completed = found.completed.astype(np.float64)
    years = len(completed)
    low, middle, high = found.spread(completed)
    nights = last_good_nights(found.season)
    shown = np.array([len(last) > 0 for last in nights], np.bool_) | (found.season.visits == 0)
    return Odds(
        NAME, years, seed,
        tuple(
            TargetOdds(target.name, float(odds), float(error) if last else 0.0, _dates(evenings, last))
            for target, odds, error, last in zip(
                targets, found.completion_odds, found.standard_error, nights, strict=True
            )
        ),
        float(completed.mean()), float(completed.std(ddof=1) / np.sqrt(years)) if years > 1 else 0.0,
        low, middle, high, float(found.outings.mean()),
        tuple(Milestone(share, _when(found.finished[:, shown], share, evenings)) for share in SHARES),
    )  # fmt: skip


def last_good_nights(season: WeatherSeason) -> list[list[int]]:
    """Return the last nights on which each target shows nearly at its best, by position, rising."""
    worth = np.where(np.isfinite(season.wishes.worth), season.wishes.worth, 0.0)
    worth = worth * (season.odds > 0)
    good = (worth >= GOOD * worth.max(axis=1, keepdims=True)) & (worth > 0)
    date_ends = np.append(np.flatnonzero(np.diff(season.night_day)), len(season.night_day) - 1)
    whole = np.searchsorted(date_ends, np.arange(len(season.night_day)))  # the date of each night
    return [date_ends[np.unique(whole[nights])][-LAST_NIGHTS:].tolist() for nights in good]


def _dates(evenings: Sequence[date], nights: Sequence[int]) -> tuple[date, ...]:
    return tuple(evenings[night] for night in nights)


def _when(finished: Ints, share: float, evenings: Sequence[date]) -> date | None:
    """Return the evening by which half of the years have this share of the targets done, None if never.

    `finished` : The night each target was done on. int, (years, targets)
    """
    count = finished.shape[1]
    if not count:
        return None
    needed = max(1, int(np.ceil(share * count - 1e-9)))
    night = np.sort(finished, axis=1)[:, needed - 1]
    middle = int(np.sort(night)[(len(night) - 1) // 2])
    return evenings[middle] if middle < len(evenings) else None
