"""Why a target that shows on free nights has no visit there, or too few, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from ..domain import Availability, FreeNight, Outcome, Reason, Target, Visit, sightings_in


def crowded_out(
    target: Target,
    offered: Sequence[FreeNight],
    availability: Availability,
    visits: Sequence[Visit],
    log: Sequence[Outcome] = (),
    away: frozenset[date] = frozenset(),
) -> tuple[Reason, str]:
    """Return why a target that shows on these free nights has too few visits, beside those the log tells.

    `away` : Evenings of trips.
    """
    reason, words = _beside_the_log(target, offered, availability, visits, log)
    evenings = [night.evening for night in offered if night.ever_clear]
    crowded = reason in (Reason.NOT_ALONE, Reason.NIGHTS_FULL)
    if crowded and all(night.trip for night in offered) and not away.issuperset(evenings):
        return _not_worth_a_trip(availability, away, evenings)
    return reason, words


def _beside_the_log(
    target: Target,
    offered: Sequence[FreeNight],
    availability: Availability,
    visits: Sequence[Visit],
    log: Sequence[Outcome],
) -> tuple[Reason, str]:
    suitable = sorted({night.evening for night in offered if night.ever_clear})
    if not suitable:
        return Reason.NEVER_CLEAR, "by your clear odds it is never clear on the free nights on which it shows"
    seen = [sighting.evening for sighting in sightings_in(log) if sighting.target == target.name]
    if not seen:
        return _crowded_out(target, suitable, availability, visits, log)
    suitable = [one for one in suitable if (one - seen[-1]).days >= target.spacing_days]
    if not suitable:
        rest = _many(target.spacing_days, "day")
        return Reason.SPACING, f"seen on {seen[-1]}, and no suitable free night is left {rest} later or more"
    target = replace(target, visits=target.visits - len(seen))
    longest_days = target.longest_spacing_days
    soon = [one for one in suitable if (one - seen[-1]).days <= (longest_days or np.inf)]
    if longest_days is None or not soon or any(visit.target == target.name for visit in visits):
        return _crowded_out(target, suitable, availability, visits, log)
    reason, words = _crowded_out(replace(target, visits=1), soon, availability, visits, log)
    return reason, f"seen on {seen[-1]} and due again within {_many(longest_days, 'day')}: {words}"


def _crowded_out(
    target: Target,
    suitable: Sequence[date],
    availability: Availability,
    visits: Sequence[Visit],
    log: Sequence[Outcome],
) -> tuple[Reason, str]:
    """Return why a target with these suitable nights has fewer visits than it still wants."""
    if len(suitable) < target.visits:
        short = f"only {_many(len(suitable), 'suitable free night')} for the {target.visits} visits wanted"
        return Reason.TOO_FEW_NIGHTS, short
    most, gap = _most_visits(suitable, target), _gap(target)
    if most < target.visits:
        wanted = f"of the {target.visits} visits wanted, {gap} apart"
        return Reason.SPACING, f"its {len(suitable)} suitable free nights hold only {most} {wanted}"
    out = {visit.evening for visit in visits}
    own = [visit.evening for visit in visits if visit.target == target.name]
    left = [one for one in suitable if _most_visits(sorted([*own, one]), target) > len(own)]
    idle = [one for one in left or suitable if one not in out]
    been_out = {outcome.evening for outcome in log if outcome.out}
    limits = _limits_reached(availability, out | been_out, idle)
    if limits:
        return Reason.NIGHTS_LIMIT, f"one more night out for it would break your limit of {limits}"
    apart = f" {gap} from the visits it has" if own else ""
    if not left:
        reason = Reason.SPACING if idle else Reason.NIGHTS_FULL
        return reason, f"no suitable free night is{apart}, and moving them is not worth it"
    if any(one not in out for one in left):
        full = ", and the nights already spent outside are full" if out.intersection(left) else ""
        return Reason.NOT_ALONE, f"by itself it is not worth the effort of one more night out{full}"
    some = f"its one suitable free night{apart} is"
    if len(left) > 1:
        some = f"all its {len(left)} suitable free nights{apart} are"
    return Reason.NIGHTS_FULL, f"{some} full with what matters more"


def _gap(target: Target) -> str:
    """Return in words how far apart visits of a target are wanted."""
    least, most = target.spacing_days, target.longest_spacing_days
    if most is None:
        return f"at least {_many(least, 'day')}"
    return f"exactly {_many(least, 'day')}" if least == most else f"{least} to {most} days"


def _most_visits(evenings: Sequence[date], target: Target) -> int:
    """Return how many visits these evenings hold, in order, each as far from the last as wanted."""
    day = np.array([evening.toordinal() for evening in evenings])
    longest_days = target.longest_spacing_days or np.inf
    count = np.ones(len(day), np.int64)
    for here in range(1, len(day)):
        apart = day[here] - day[:here]
        allowed = (apart >= target.spacing_days) & (apart <= longest_days)
        count[here] += count[:here][allowed].max(initial=0)
    return int(count.max(initial=0))


def _limits_reached(availability: Availability, out: Collection[date], idle: Sequence[date]) -> str:
    """Return, in words, the limits that keep every one of these evenings from being spent outside too."""
    weeks = Counter(evening.isocalendar()[:2] for evening in out)
    months = Counter((evening.year, evening.month) for evening in out)
    a_week, a_month = availability.nights_per_week, availability.nights_per_month
    by_week = [a_week is not None and weeks[one.isocalendar()[:2]] >= a_week for one in idle]
    by_month = [a_month is not None and months[one.year, one.month] >= a_month for one in idle]
    if not all(week or month for week, month in zip(by_week, by_month, strict=True)):
        return ""
    limits = [f"{_many(a_week or 0, 'night')} a week"] if any(by_week) else []
    return " or ".join(limits + [f"{_many(a_month or 0, 'night')} a month"] * any(by_month))


def _not_worth_a_trip(
    availability: Availability, away: Collection[date], wanted: Sequence[date]
) -> tuple[Reason, str]:
    """Return why a target that shows on these trips only has none of them more."""
    months = Counter((evening.year, evening.month) for evening in away)
    a_month, a_season = availability.trips_per_month, availability.trips_per_season
    full = ""
    if a_season is not None and len(away) >= a_season:
        full = f"{_many(a_season, 'trip')} a season"
    elif a_month is not None and all(months[one.year, one.month] >= a_month for one in wanted):
        full = f"{_many(a_month, 'trip')} a month"
    if full and not any(one in away for one in wanted):
        return Reason.NIGHTS_LIMIT, f"one more trip for it would break your limit of {full}"
    return Reason.NOT_ALONE, "shows well enough on trips only, and is not worth one more of them"


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
