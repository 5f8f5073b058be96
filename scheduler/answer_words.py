"""Answers about a plan in words, the same in the terminal and on pages."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from .domain import Amendment, GivesWay, Sight, TargetGain, WhatIf
from .figures import percent

NAMED = 3
"""So many targets are named before the rest are counted."""
GAINS = 8
"""So many targets are told that gain most."""
SURE = 2.0
"""A gain of fewer standard errors than this may be chance."""
LEAST = 0.005
"""What is worth less than this is worth nothing. [priority times merit]"""

SETTLED = (
    "What the plan loses is priority times merit, expected. It is settled anew, not guessed: the visit is "
    "put on that night, the nights this touches are worked out again, and the rest of the plan is held."
)
WORKED_OUT = (
    "Each step was worked out again: when the target then shows, and whether the plan is worth more with the "
    "visit than without. Larger changes, or two at a time, were not tried."
)
NEAR_SUN = "Low in twilight the Sun is not far: never point a telescope, finder or binoculars near it."
TIRED = "Later out is later home: do not drive tired."
STRANGE_GROUND = (
    "Know dark ground by daylight first, and tell somebody where you are; do not drive home tired."
)


def cautions_of(change: Amendment) -> tuple[str, ...]:
    """Return what a change makes one beware of."""
    late = change.finish is not None or change.later_min
    elsewhere = change.sky_brightness is not None
    said = (
        (change.lowest_altitude_deg is not None, NEAR_SUN), (late, TIRED), (elsewhere, STRANGE_GROUND)
    )  # fmt: skip
    return tuple(words for asked, words in said if asked)


def ways_given(changes: Sequence[GivesWay]) -> tuple[str, ...]:
    """Return what else changes, one line for each way.

    Examples
    --------
    >>> there, here = date(2027, 1, 13), date(2027, 1, 1)
    >>> ways_given([GivesWay("M 34", there, here), GivesWay("M 1", None, there)])
    ('M 34: from 13 Jan to 1 Jan', 'M 1: a visit more, on 13 Jan')
    """
    ways: dict[tuple[date | None, date | None], list[str]] = defaultdict(list)
    for one in changes:
        ways[one.evening, one.to].append(one.target)
    said = []
    for (evening, to), names in ways.items():
        if evening is None:
            said.append(f"{named(names)}: a visit more, on {short_day(to)}")
        elif to is None:
            said.append(f"{named(names)}: no visit any more (was {short_day(evening)})")
        else:
            said.append(f"{named(names)}: from {short_day(evening)} to {short_day(to)}")
    return tuple(said)


def named(names: Sequence[str]) -> str:
    """Return the first names and how many more there are.

    >>> named(["M 1", "M 2", "M 3", "M 4", "M 5"])
    'M 1, M 2, M 3 and 2 more'
    """
    rest = len(names) - NAMED
    return ", ".join(names) if rest <= 1 else f"{', '.join(names[:NAMED])} and {rest} more"


def stands(sight: Sight) -> str:
    """Return how a target stands: how high, where, and what the Moon does; on the Moon it is not away."""
    moon = "Moon down"
    if sight.moon_altitude_deg > 0:
        away = f", {sight.moon_separation_deg:.0f}° away" if sight.moon_separation_deg > 0 else ""
        moon = f"Moon {percent(sight.moon_lit_fraction)} lit{away}"
    return f"{sight.altitude_deg:.0f}° up in the {sight.direction}, {moon}"


def sure_changes(answer: WhatIf) -> tuple[tuple[TargetGain, ...], tuple[TargetGain, ...]]:
    """Return the targets that gain most and those that lose most, beyond what may be chance."""
    gain = [one for one in answer.targets if one.gain > SURE * one.error]
    lose = [one for one in reversed(answer.targets) if -one.gain > SURE * one.error]
    return tuple(gain[:GAINS]), tuple(lose[:GAINS])


def short_day(evening: date | None) -> str:
    """Return a date as in "8 Jan", nothing for none."""
    return f"{evening.day} {evening:%b}" if evening else ""
