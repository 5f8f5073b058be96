"""The form of a what-if: what somebody filled in, read so that every fault is told beside its field."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import time
from typing import Any, TypeAlias

from pydantic import BaseModel, Field

from scheduler.domain import Availability, EveningRule, Plan, Scenario
from scheduler.domain.amendment import WEEKDAYS

from ..amending import WEEKDAYS as SHORT
from ..beginning.choices import SKIES
from ..shapes import WhatIfWish
from .names import named, near

YEARS, MOST_YEARS = 50, 2000
LATER_MIN = (30, 60, 90, 120)
"""By so much later a finish is offered. [min]"""
SKIES_SHOWN = tuple((one.words, one.figure) for one in SKIES.values())
"""Skies in plain words. [mag/arcsec2]"""

_WHOLE, _NUMBER, _CLOCK = r"\d{1,6}", r"\d{1,3}([.,]\d{1,3})?", r"([01]?\d|2[0-3])[:.]([0-5]\d)"


class Filled(BaseModel):
    """What was filled in, as it came; blank stays as it is."""

    nights_per_week: str = Field("", max_length=20)
    nights_per_month: str = Field("", max_length=20)
    weekdays: list[str] = Field([], max_length=7)
    start: str = Field("", max_length=20)
    finish: str = Field("", max_length=20)
    lowest_altitude_deg: str = Field("", max_length=20)
    target: str = Field("", max_length=200)
    sky_brightness: str = Field("", max_length=20)
    years: str = Field(str(YEARS), max_length=20)


AsItIs: TypeAlias = Scenario | Plan
"""A scenario, or a plan of it: what a what-if would change."""


class _Faulty(Exception):
    """A field that cannot be read; its words say what may stand there."""


def read_form(filled: Filled, now: AsItIs) -> tuple[WhatIfWish | None, Mapping[str, str]]:
    """Return what is asked, or else every fault by its field; "" is the form as a whole."""
    faults: dict[str, str] = {}
    told: dict[str, Any] = {}
    for field, read in _READERS.items():
        text = getattr(filled, field)
        try:
            if text:
                told[field] = read(text)
        except _Faulty as fault:
            faults[field] = str(fault)
    if not faults and not told.keys() - {"years", "target"}:
        faults["" if "target" not in told else "lowest_altitude_deg"] = (
            "Change something: all of it is as it is."
        )
    name = told.pop("target", None)
    target = named(now.targets, name) if name else None
    if name and target is None:
        faults["target"] = _unknown(name, now)
    if target and "lowest_altitude_deg" in told:
        told["targets"] = [target.name]
    return (None, faults) if faults else (WhatIfWish.model_validate({"years": YEARS, **told}), {})


def _unknown(name: str, now: AsItIs) -> str:
    alike = near(now.targets, name)
    hint = f"; near it: {', '.join(alike)}" if alike else ""
    return f"No target of the wish-list has this name{hint}."


def _whole(least: int, most: int) -> Callable[[str], int]:
    def read(text: str) -> int:
        if not re.fullmatch(_WHOLE, text.strip()) or not least <= int(text) <= most:
            raise _Faulty(f"A whole number from {least} to {most}.")
        return int(text)

    return read


def _number(least: float, most: float, unit: str) -> Callable[[str], float]:
    def read(text: str) -> float:
        plain = text.strip().replace(",", ".")
        if not re.fullmatch(_NUMBER, text.strip()) or not least <= float(plain) <= most:
            raise _Faulty(f"A number from {least:g} to {most:g} {unit}.")
        return float(plain)

    return read


def _clock(text: str) -> str:
    found = re.fullmatch(_CLOCK, text.strip())
    if not found:
        raise _Faulty("A time of the clock, as in 23:30 or 01:00.")
    return f"{int(found[1]):02}:{found[2]}"


def _weekdays(names: Sequence[str]) -> list[str]:
    if not set(names) <= set(SHORT):
        raise _Faulty("Weekdays alone.")
    return sorted(set(names), key=SHORT.index)


_READERS: Mapping[str, Callable[[Any], Any]] = {
    "nights_per_week": _whole(1, 7), "nights_per_month": _whole(1, 31), "weekdays": _weekdays,
    "start": _clock, "finish": _clock, "lowest_altitude_deg": _number(0, 85, "degrees"), "target": str.strip,
    "sky_brightness": _number(15, 23, "mag/arcsec²"), "years": _whole(2, MOST_YEARS),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Offered:
    """What the ready questions offer, and what stands now.

    Attributes
    ----------
    now : Of evenings, nights out and sky, in words.
    weekdays : Not free yet: the word a form sends, and its name.
    finishes : Later than the latest finish, as in "23:30".
    skies : Darker than the present one: words and figure. [mag/arcsec2]
    """

    now: tuple[str, ...]
    weekdays: tuple[tuple[str, str], ...]
    finishes: tuple[str, ...]
    skies: tuple[tuple[str, float], ...]


def offered(now: AsItIs) -> Offered:
    """Return what may be asked with one tap."""
    rules, given = now.availability.rules, now.site.sky_brightness
    known = {day for rule in rules for day in rule.weekdays}
    finishes = [_after_noon_min(rule.finish) for rule in rules if rule.finish]
    later = (max(finishes) + more for more in LATER_MIN) if finishes else ()
    return Offered(
        (*map(evening_words, rules), *_limits(now.availability), f"under a sky of {given:g} mag/arcsec²"),
        tuple((SHORT[day], WEEKDAYS[day]) for day in range(7) if day not in known),
        tuple(_clock_of(one) for one in later if one < 1080),
        tuple((words, figure) for words, figure in SKIES_SHOWN if figure > given + 0.05),
    )  # fmt: skip


def evening_words(rule: EveningRule) -> str:
    """Return when a rule leaves one free.

    Examples
    --------
    >>> evening_words(EveningRule((4, 5), time(19), time(1)))
    'Fridays and Saturdays from 19:00 to 01:00'
    >>> evening_words(EveningRule())
    'every evening from dusk to dawn'
    """
    days = (
        "every evening" if len(set(rule.weekdays)) == 7 else _joined(WEEKDAYS[day] for day in rule.weekdays)
    )
    start = f"{rule.start:%H:%M}" if rule.start else "dusk"
    return f"{days} from {start} to {f'{rule.finish:%H:%M}' if rule.finish else 'dawn'}"


def _limits(given: Availability) -> Iterable[str]:
    for most, span in ((given.nights_per_week, "week"), (given.nights_per_month, "month")):
        if most is not None:
            yield f"up to {most} {'night' if most == 1 else 'nights'} out a {span}"


def _joined(words: Iterable[str]) -> str:
    *before, last = words
    return f"{', '.join(before)} and {last}" if before else last


def _after_noon_min(clock: time) -> int:
    return (clock.hour * 60 + clock.minute - 720) % 1440


def _clock_of(after_noon_min: int) -> str:
    minute = (after_noon_min + 720) % 1440
    return f"{minute // 60:02}:{minute % 60:02}"
