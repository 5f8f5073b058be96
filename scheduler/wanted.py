"""What of the wish-list is still wanted, after what the log says was seen.

A target seen is one visit less, and its spacing counts from the last time it was seen. So does the longest
spacing, while a suitable free night for it is left; once none is, the series begins anew with whatever visit
comes next: a visit too late is kinder than none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from .domain import FreeNight, Opportunities, Scenario
from .domain.opportunity import Ints
from .domain.outcome import sightings_in

MANY = 10
"""So many free evenings without a line in the log are worth a word (our judgement)."""


def visits_left(scenario: Scenario) -> Ints:
    """Return how many visits of each target are still wanted. int, (targets,)"""
    times = Counter(sighting.target for sighting in sightings_in(scenario.outcomes.standing))
    left = [max(0, target.visits - times[target.name]) for target in scenario.targets]
    return np.array(left, dtype=np.int64)


def last_seen(scenario: Scenario) -> dict[str, date]:
    """Return the evening on which each target seen was last seen, by name."""
    return {sighting.target: sighting.evening for sighting in sightings_in(scenario.outcomes.standing)}


def still_open(scenario: Scenario, free: Sequence[FreeNight], opportunities: Opportunities) -> Opportunities:
    """Return the opportunities of what is still wanted, far enough from the last time it was seen."""
    seen = last_seen(scenario)
    if not seen:
        return opportunities
    day = np.array([night.evening.toordinal() for night in free], dtype=np.int64)
    first_day = np.array([
        seen[target.name].toordinal() + target.spacing_days if target.name in seen else 0
        for target in scenario.targets
    ], dtype=np.int64)  # fmt: skip
    o = opportunities
    rows = np.flatnonzero((visits_left(scenario)[o.target] > 0) & (day[o.night] >= first_day[o.target]))
    return some_of(opportunities, rows)


def never_logged(scenario: Scenario) -> tuple[str, ...]:
    """Return in words where many free evenings count as past that the log does not tell of."""
    logged = {outcome.evening for outcome in scenario.outcomes.standing}
    last = max(logged, default=date.min)
    past = [day for day in scenario.season.evenings if day <= last and day not in logged]
    silent = [day for day in past if scenario.availability.rule_of(day)]
    if len(silent) < MANY:
        return ()
    words = (
        f"the log goes on to {last}: {len(silent)} free evenings before that have no line and count as past"
    )
    return (words,)


def some_of(opportunities: Opportunities, rows: Ints, **changed: Ints) -> Opportunities:
    """Return some rows of opportunities, with columns of them changed; sorted they must be."""
    names = ("target", "night", "start_min", "end_min", "best_min", "merit", "standby_only")
    columns: dict[str, Any] = {name: getattr(opportunities, name)[rows] for name in names}
    return replace(opportunities, **(columns | changed))


def series_left(
    scenario: Scenario, free: Sequence[FreeNight], opportunities: Opportunities
) -> dict[int, tuple[int, ...]]:
    """Return the day on which each target was last seen whose series can still go on, by position. [d]

    Parameters
    ----------
    opportunities : What `still_open` left.
    """
    seen, left, o = last_seen(scenario), visits_left(scenario), opportunities
    day = np.array([night.evening.toordinal() for night in free], dtype=np.int64)
    clear = np.array([night.ever_clear for night in free], dtype=np.bool_)
    found: dict[int, tuple[int, ...]] = {}
    for position, target in enumerate(scenario.targets):
        if target.longest_spacing_days is None or target.name not in seen or not left[position]:
            continue
        last = seen[target.name].toordinal()
        own = np.flatnonzero((o.target == position) & ~o.standby_only)
        own = own[clear[o.night[own]] & (o.merit[own] > 0)]
        if (day[o.night[own]] <= last + target.longest_spacing_days).any():
            found[position] = (last,)
    return found


def begun_anew(
    scenario: Scenario, free: Sequence[FreeNight], opportunities: Opportunities
) -> tuple[str, ...]:
    """Return in words which series were broken, for no suitable night is left to go on in time."""
    seen, left = last_seen(scenario), visits_left(scenario)
    going_on = series_left(scenario, free, opportunities)
    return tuple(
        f"{target.name} was last seen on {seen[target.name]}, and within the {target.longest_spacing_days} "
        "days that may pass no suitable free night is left: its visits begin anew"
        for position, target in enumerate(scenario.targets)
        if target.longest_spacing_days is not None and target.name in seen and left[position]
        and position not in going_on
    )  # fmt: skip
