"""What a change to the scenario would do: both years planned, and lived through under the same weather."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..assignment.solve import assign
from ..domain import (
    Amendment,
    Cancel,
    Expected,
    Progress,
    Report,
    Scenario,
    TargetGain,
    WhatIf,
    ignore_progress,
    never_cancelled,
)
from ..domain.checks import holds, whole, within
from ..domain.opportunity import Opportunities
from ..domain.progress import part_of
from ..expectation import policy_of, years_ahead
from ..prices import chain_of
from ..ready import Ready
from ..simulation import Bools, Lived, draw_weather
from .made import season_ready


def what_if(
    scenario: Scenario, change: Amendment, *, years: int = 100, seed: int = 0, seconds: float = 5.0,
    workers: int = 1, report: Report = ignore_progress, cancel: Cancel = never_cancelled,
) -> WhatIf:  # fmt: skip
    """Return what a change is expected to do to the targets finished, and to whose odds.

    Parameters
    ----------
    scenario : As it is.
    change : What would be otherwise.
    years : Weather years lived through, at least two.
    seed : Of both searches, and of the weather.
    seconds : Effort of each search, in units of solver work that take about a second. [s]
    workers : Processes that share the years; the answer does not depend on how many.

    Notes
    -----
    Weather is drawn for every evening of the season, free or not, so that both live through the same years
    night by night, and what they have in common falls out of the difference: common random numbers. Its
    standard error is that of the differences, year by year.

    Raises
    ------
    InvalidValue
        `years`, `seed` or `seconds` is out of range, or the change cannot be made or changes nothing.
    OutsideEphemeris
        The season lies outside 1900 to 2053.
    Cancelled
        `cancel` was set.
    """
    whole("years", years, 2, 100_000)
    whole("seed", seed, 0, 2**31 - 1)
    whole("workers", workers, 1, 1024)
    within("seconds", seconds, 0.0, 86400.0)
    changed = change.applied(scenario)
    holds("change", change.words, changed != scenario or bool(change.evenings), "one that changes something")
    weather = Weather(years, seed)
    before, after = (
        _Way(weather, seconds, workers, _half(report, place), cancel).lived(of, trip)
        for place, (of, trip) in enumerate(((scenario, None), (changed, change)))
    )
    return _compared(change, weather, before, after)


@dataclass(frozen=True)
class Weather:
    """Weather years drawn for every evening of a season."""

    years: int
    seed: int

    def on_free_nights(self, made: Ready) -> Bools:
        """Return whether each free night is clear. (years, free nights)"""
        chain = chain_of(made.evening_odds, made.scenario.clear_odds.persistence)
        position = {evening: place for place, evening in enumerate(made.scenario.season.evenings)}
        free = [position[night.evening] for night in made.free]
        clear: Bools = draw_weather(chain, self.years, self.seed)[:, free]
        clear[:, [not night.ever_clear for night in made.free]] = False
        return clear


@dataclass(frozen=True, eq=False)
class _Outcome:
    """A season planned and lived through."""

    names: tuple[str, ...]
    lived: Lived
    objective: float
    bound: float

    @property
    def finished(self) -> Bools:
        """Whether each target had all its visits. (years, targets)"""
        return np.asarray(self.lived.done >= self.lived.season.visits)

    @property
    def expected(self) -> Expected:
        count, out = self.finished.sum(axis=1), self.lived.outings
        return Expected(float(count.mean()), float(out.mean()), self.objective, self.bound)


@dataclass(frozen=True)
class _Way:
    """How both seasons are planned and lived through."""

    weather: Weather
    seconds: float
    workers: int
    report: Report
    cancel: Cancel

    def lived(self, scenario: Scenario, trip: Amendment | None) -> _Outcome:
        """Plan a scenario and live through the weather years."""
        self.report(Progress("planning", 0.0))
        made = season_ready(scenario)
        if trip and trip.evenings:
            made = away(made, trip)
        problem = made.priced(self.cancel).problem
        found = assign(problem, seed=self.weather.seed, seconds=self.seconds,
                       report=part_of(self.report, 0.1, 0.5), cancel=self.cancel)  # fmt: skip
        lived = years_ahead(
            policy_of(problem, found.rows, made.scenario, made.free), years=self.weather.years,
            seed=self.weather.seed, workers=self.workers, report=part_of(self.report, 0.5, 1.0),
            cancel=self.cancel, weather=self.weather.on_free_nights(made),
        )  # fmt: skip
        names = tuple(target.name for target in made.scenario.targets)
        return _Outcome(names, lived, found.objective, found.bound)


def away(made: Ready, trip: Amendment) -> Ready:
    """Return a season in which some free nights are spent under the sky of a trip.

    Raises
    ------
    InvalidValue
        An evening of the trip is not free.
    """
    free = {night.evening for night in made.free}
    strange = ", ".join(str(evening) for evening in trip.evenings if evening not in free)
    holds("evenings", strange, not strange, "free evenings of the season")
    # of the rest of the change the season has had its part; odds, learned once already, play none here
    there = season_ready(Amendment(sky_brightness=trip.sky_brightness).applied(made.scenario)).opportunities
    on_trip = np.array([night.evening in trip.evenings for night in made.free], np.bool_)
    home = made.opportunities
    both = _chosen(home, ~on_trip[home.night]), _chosen(there, on_trip[there.night])
    columns = [np.concatenate(pair) for pair in zip(*both, strict=True)]
    order = np.lexsort((columns[2], columns[0], columns[1]))
    joined = Opportunities(home.epoch, home.targets, home.nights, *(column[order] for column in columns))
    return replace(made, opportunities=joined)


def _chosen(o: Opportunities, mine: Bools) -> tuple[np.ndarray, ...]:
    columns = o.target, o.night, o.start_min, o.end_min, o.best_min, o.merit, o.standby_only
    return tuple(column[mine] for column in columns)


def _compared(change: Amendment, weather: Weather, before: _Outcome, after: _Outcome) -> WhatIf:
    difference = after.finished.astype(np.int64) - before.finished
    gain = difference.sum(axis=1)
    root = np.sqrt(weather.years)
    errors = difference.std(axis=0, ddof=1) / root
    odds = before.finished.mean(axis=0), after.finished.mean(axis=0)
    names = before.names
    found = [
        TargetGain(name, *map(float, figures)) for name, *figures in zip(names, *odds, errors, strict=True)
    ]
    return WhatIf(
        change, weather.years, weather.seed, before.expected, after.expected, float(gain.mean()),
        float(gain.std(ddof=1) / root), tuple(sorted(found, key=lambda one: (-one.gain, one.target))),
    )  # fmt: skip


def _half(report: Report, place: int) -> Report:
    words = ("as it is", "changed")[place]

    def pass_on(progress: Progress, /) -> None:
        fraction = 0.5 * (place + progress.fraction)
        report(replace(progress, stage=f"{words}: {progress.stage}", fraction=fraction))

    return pass_on
