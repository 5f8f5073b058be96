"""The free nights of a season: where the observer's evenings meet the sky."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta

from ..domain import FreeNight, Night, Scenario, Span

_NOON = time(12, 0)


def free_nights_of(
    scenario: Scenario, nights: Sequence[Night], clear_odds: Sequence[float]
) -> tuple[FreeNight, ...]:
    """Return the nights on which the observer is free and the sky gets past civil dusk, in order.

    Parameters
    ----------
    scenario : Whose weekly pattern decides.
    nights : Every night of the season, in order.
    clear_odds : Probability that each of them is usable, as many as `nights`.

    Notes
    -----
    Without a start of their own, evenings begin early enough to be set up at civil dusk; without a
    finish they end at civil dawn.
    """
    found = []
    for night, odds in zip(nights, clear_odds, strict=True):
        free = _free_time(scenario, night)
        if free is not None and night.twilit is not None and free.meet(night.twilit) is not None:
            found.append(FreeNight(night=night, free=free, clear_odds=float(odds)))
    return tuple(found)


def _free_time(scenario: Scenario, night: Night) -> Span | None:
    rule = scenario.availability.rule_of(night.evening)
    if rule is None or night.twilit is None:
        return None
    setup = timedelta(minutes=scenario.routine.setup_min)
    start = _moment(scenario, night.evening, rule.start) if rule.start else night.twilit.start - setup
    finish = _moment(scenario, night.evening, rule.finish) if rule.finish else night.twilit.end
    return Span(start, finish) if start < finish else None


def _moment(scenario: Scenario, evening: date, clock: time) -> datetime:
    """Return a local clock time of the night named `evening`; before noon means the next morning."""
    day = evening if clock >= _NOON else evening + timedelta(days=1)
    return datetime.combine(day, clock, tzinfo=scenario.site.local).astimezone(UTC)
