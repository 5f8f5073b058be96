"""What a planned season is likely to bring: weather years lived through by the plan's own policy."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date

import numpy as np

from .assignment.problem import Problem
from .domain import (
    GOOD_SHARE,
    Cancel,
    FreeNight,
    LivedYears,
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
from .rehearsal import rehearsed
from .simulation import Bools, Lived, error_of_share, live_through

SHARES = (0.25, 0.5, 0.75, 0.9, 1.0)
"""Parts of the list whose dates are told."""
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


def policy_of(
    problem: Problem, published: Ints, scenario: Scenario, free: Sequence[FreeNight],
    announced: Collection[int] = (),
) -> Following:  # fmt: skip
    """Return a plan's own policy, its prices fitted to the season it is to live through.

    Where nights out are limited it has rehearsed what they bring.

    Parameters
    ----------
    problem, published : The assignment, and the rows of the plan. int, (visits,)
    announced : Nights, by position, whose programme stands whatever happens.
    """
    season = weather_season_of(problem, scenario.targets, free, scenario.clear_odds.persistence)
    cost = cost_of_nights_out(free, scenario.routine)
    return rehearsed(
        Following(season, published, problem.limits, cost, scenario.routine.steadiness, announced=announced)
    )


def years_ahead(
    policy: Following, *, years: int, seed: int, first: int = 0, workers: int = 1,
    report: Report = ignore_progress, cancel: Cancel = never_cancelled, weather: Bools | None = None,
) -> Lived:  # fmt: skip
    """Return weather years lived through by a plan's own policy; parameters as for `live_through`."""
    stage = f"living through {years} weather years"
    report(Progress(stage, 0.0))
    return live_through(
        policy.season, policy, years, seed, first=first, workers=workers, cancel=cancel, weather=weather,
        report=lambda part: report(Progress(stage, part)),
    )  # fmt: skip


def told_of(found: Lived, *, of: str, seed: int, first: int = 0) -> LivedYears:
    """Return what the odds are counted from of years lived through by a plan's own policy.

    `of`, `seed`, `first` : As in `LivedYears`.
    """
    nights = found.season.opportunities.nights
    finished = (
        tuple(night if night < nights else None for night in year) for year in found.finished.tolist()
    )
    return LivedYears(of, NAME, seed, first, tuple(finished), tuple(found.outings.tolist()))


def odds_of(
    lived: LivedYears, season: WeatherSeason, targets: Sequence[Target], free: Sequence[FreeNight]
) -> Odds:
    """Return the odds that weather years lived through tell; `season` is what they were lived through."""
    evenings, never = [night.evening for night in free], len(free)
    finished = np.array([[never if n is None else n for n in year] for year in lived.finished], np.int64)
    share = (finished < never).mean(axis=0)
    completed = (finished < never).sum(axis=1).astype(np.float64)
    low, middle, high = np.quantile(completed, [0.1, 0.5, 0.9]).tolist()
    errors, years = error_of_share(share, lived.years), lived.years
    nights = last_good_nights(season)
    shown = np.array([len(last) > 0 for last in nights], np.bool_) | (season.visits == 0)
    return Odds(
        lived.policy, years, lived.seed,
        tuple(
            TargetOdds(target.name, float(odds), float(error) if last else 0.0, _dates(evenings, last))
            for target, odds, error, last in zip(targets, share, errors, nights, strict=True)
        ),
        float(completed.mean()), float(completed.std(ddof=1) / np.sqrt(years)) if years > 1 else 0.0,
        low, middle, high, float(np.mean(lived.outings)),
        tuple(Milestone(share, _when(finished[:, shown], share, evenings)) for share in SHARES),
    )  # fmt: skip


def last_good_nights(season: WeatherSeason) -> list[list[int]]:
    """Return the last nights on which each target shows nearly at its best, by position, rising."""
    worth = np.where(np.isfinite(season.wishes.worth), season.wishes.worth, 0.0)
    worth = worth * (season.odds > 0)
    good = (worth >= GOOD_SHARE * worth.max(axis=1, keepdims=True)) & (worth > 0)
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
