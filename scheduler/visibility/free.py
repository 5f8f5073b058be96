"""The free nights of a season: where the observer's evenings meet the sky."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from ..domain import PACKING_MIN, FreeNight, Night, Scenario, Span, Trip
from ..sky.season import noons_of


def free_nights_of(
    scenario: Scenario, nights: Sequence[Night], clear_odds: Sequence[float]
) -> tuple[FreeNight, ...]:
    """Return the nights on which an observer is free and the sky gets past civil dusk, in order.

    Parameters
    ----------
    scenario : Whose weekly pattern decides.
    nights : Every night of the season, in order.
    clear_odds : Probability that each of them is usable, as many as `nights`.

    Notes
    -----
    Without a start of their own, evenings begin early enough to be set up at civil dusk; without a finish
    they end at civil dawn, and with guests at the guests' finish, should it come first. A time of the clock
    means the one moment between the night's noon and the next at which the clock shows it. Where the clocks
    are put back it shows twice: an evening starts at the first and finishes at the second. Where they are put
    forward past it, the moment of the change stands for it.

    Evenings up to the last one in the log of outcomes are past: they are not free any more. An evening is
    free for those who come along, and not at all where nobody does; all come on club nights.
    """
    found = []
    noons = np.transpose(noons_of(scenario.site, [night.evening for night in nights])).tolist()
    logged = scenario.outcomes.standing
    for night, day, odds in zip(nights, noons, clear_odds, strict=True):
        if logged and night.evening <= logged[-1].evening:
            continue
        noon, next_noon = (datetime.fromtimestamp(unix_s, UTC) for unix_s in day)
        free = _free_time(scenario, night, noon, next_noon)
        people = scenario.guests.people if night.evening in scenario.guests.evenings else 0
        free = _until_guests_leave(scenario, free, noon, next_noon) if free and people else free
        if free is not None and night.twilit is not None and free.meet(night.twilit) is not None:
            who, club = coming_on(scenario, night.evening), night.evening in scenario.club.evenings
            if who is not None:
                found.append(FreeNight(night, free, float(odds), people, observers=who, club=club))
    return tuple(found)


def coming_on(scenario: Scenario, evening: date) -> tuple[str, ...] | None:
    """Return who comes along on an evening, none named if all do; None where nobody does."""
    names = tuple(one.name for one in scenario.observers if one.comes_on(evening))
    if evening in scenario.club.evenings or len(names) == len(scenario.observers):
        return ()
    return names or None


def nights_away_of(
    scenario: Scenario, trip: Trip, home: Sequence[FreeNight], nights: Sequence[Night]
) -> tuple[FreeNight, ...]:
    """Return the free nights that leave time for a trip, as they are spent there, in order.

    Parameters
    ----------
    scenario : Whose evenings.
    trip : Where to.
    home : The free nights at home, in order.
    nights : Every night of the season at the trip's site, in order.

    Notes
    -----
    A start and a finish of the evening are those at home's door: what is left between the drives, and after
    packing, is spent there. Without a start one leaves early enough to be set up there at civil dusk, without
    a finish one stays until civil dawn; both drives lie between the noons at home. Guests stay at home.
    """
    if not home:
        return ()
    there = {night.evening: night for night in nights}
    noons = np.transpose(noons_of(scenario.site, [one.evening for one in home])).tolist()
    found = []
    for one, day in zip(home, noons, strict=True):
        noon, next_noon = (datetime.fromtimestamp(unix_s, UTC) for unix_s in day)
        night, rule = there[one.evening], scenario.availability.rule_of(one.evening)
        if one.guests or rule is None or night.twilit is None:
            continue
        travel = timedelta(minutes=trip.travel_min)
        back = timedelta(minutes=PACKING_MIN) + travel
        set_up = timedelta(minutes=scenario.routine.setup_min)
        start = one.free.start + travel if rule.start else max(noon + travel, night.twilit.start - set_up)
        end = one.free.end - back if rule.finish else min(next_noon - back, night.twilit.end)
        if start < end and Span(start, end).meet(night.twilit) is not None:
            found.append(replace(one, night=night, free=Span(start, end), trip=trip))
    return tuple(found)


def _until_guests_leave(scenario: Scenario, free: Span, noon: datetime, next_noon: datetime) -> Span | None:
    finish = scenario.guests.finish
    left = _moments(scenario.site.local, noon, next_noon, finish) if finish else []
    end = min(free.end, left[-1]) if left else free.end
    return Span(free.start, end) if free.start < end else None


def _free_time(scenario: Scenario, night: Night, noon: datetime, next_noon: datetime) -> Span | None:
    rule = scenario.availability.rule_of(night.evening)
    if rule is None or night.twilit is None:
        return None
    zone = scenario.site.local
    early_enough = max(noon, night.twilit.start - timedelta(minutes=scenario.routine.setup_min))
    starts = _moments(zone, noon, next_noon, rule.start) if rule.start else [early_enough]
    finishes = _moments(zone, noon, next_noon, rule.finish) if rule.finish else [night.twilit.end]
    if not starts or not finishes or starts[0] >= finishes[-1]:
        return None
    return Span(starts[0], finishes[-1])


def _moments(zone: ZoneInfo, noon: datetime, next_noon: datetime, clock: time) -> list[datetime]:
    """Return when the clock shows a time between two noons, in order: once, or twice where it is put back.

    A time the clock skips becomes the moment it is put forward; no moment means the time never comes.
    """
    first_day, skipped = noon.astimezone(zone).date(), []
    for day in (first_day + timedelta(days=days) for days in range(3)):
        local = datetime.combine(day, clock, tzinfo=zone)
        # a time shown twice has its first moment at fold 0; of a skipped one, fold 0 comes out later
        first, second = (local.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
        moments = sorted({first, second}) if first <= second else [_change(zone, second, first)]
        within = [moment for moment in moments if noon <= moment < next_noon]
        if within and first <= second:
            return within
        skipped += within
    return skipped


def _change(zone: ZoneInfo, before: datetime, after: datetime) -> datetime:
    """Return the first second of new time between two moments that see a zone's clock put forward."""

    def changed(unix_s: int) -> bool:
        return datetime.fromtimestamp(unix_s, zone).utcoffset() == after.astimezone(zone).utcoffset()

    seconds = range(int(before.timestamp()), int(after.timestamp()) + 1)
    return datetime.fromtimestamp(seconds[bisect_left(seconds, True, key=changed)], UTC)
