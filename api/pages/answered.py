"""Answers of jobs read back as the scheduler's nouns, and told in plain words."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import TypeAdapter

from scheduler.answer_words import LEAST, SURE
from scheduler.domain import MonthPrice, SeasonPrices, WhatIf, WhyNot, WhyThen
from scheduler.errors import DuskwrightError

from ..storage import JobRecord, Storage, Work

COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
          "twelve")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Why:
    """Why a visit is on its night, and why visits are missing; None where that was not asked."""

    then: WhyThen | None
    lacking: WhyNot | None


Answer = Why | SeasonPrices | WhatIf

_THEN: TypeAdapter[WhyThen | None] = TypeAdapter(WhyThen | None)
_LACKING: TypeAdapter[WhyNot | None] = TypeAdapter(WhyNot | None)
_PRICES, _WHAT_IF = TypeAdapter(SeasonPrices), TypeAdapter(WhatIf)
_READERS: Mapping[Work, Callable[[Any], Answer]] = {
    Work.WHY: lambda told: Why(_THEN.validate_python(told["then"]), _LACKING.validate_python(told["not"])),
    Work.PRICES: _PRICES.validate_python, Work.WHAT_IF: _WHAT_IF.validate_python,
}  # fmt: skip


def answer_of(storage: Storage, job: JobRecord) -> Answer | None:
    """Return the answer of a job that was a question; None where this version cannot read it."""
    try:
        return _READERS[job.work](json.loads(storage.jobs.answer(job.id)))
    except (DuskwrightError, ValueError, LookupError, TypeError):
        return None


@dataclass(frozen=True, slots=True)
class MonthShown:
    """What nights of a month are worth, with bars to compare months by.

    Attributes
    ----------
    free_night, hour, night_out : In words. [priority times merit]
    best : The evening a free night would bring that; None where it would bring nothing to speak of.
    free_night_bar, hour_bar : Parts of the largest of both. [0..100]
    """

    month: date
    free_night: str
    hour: str
    night_out: str
    best: date | None
    free_night_bar: float
    hour_bar: float


def months_of(prices: SeasonPrices) -> tuple[MonthShown, ...]:
    """Return the months of an answer about prices, as they are shown."""
    most = max((max(one.free_night, one.hour) for one in prices.months), default=0.0)

    def parts(of: Callable[[MonthPrice], float]) -> list[float]:
        return [round(100.0 * of(one) / most, 1) if of(one) >= LEAST else 0.0 for one in prices.months]

    bars = zip(parts(lambda one: one.free_night), parts(lambda one: one.hour), strict=True)
    return tuple(
        MonthShown(one.month, figure(one.free_night), figure(one.hour), figure(one.night_out),
                   one.evening if one.free_night >= LEAST else None, *two)
        for one, two in zip(prices.months, bars, strict=True)
    )  # fmt: skip


def best_month(prices: SeasonPrices) -> MonthPrice | None:
    """Return the month in which one more free night is worth most; None where it is worth nothing."""
    worth = [one for one in prices.months if one.evening and one.free_night >= LEAST]
    return max(worth, key=lambda one: one.free_night, default=None)


def figure(worth: float) -> str:
    """Return a worth rounded sensibly.

    Examples
    --------
    >>> figure(12.34), figure(1.234), figure(0.071), figure(0.001), figure(0.0)
    ('12', '1.2', '0.07', '0', '0')
    """
    if worth < LEAST:
        return "0"
    return f"{worth:.2f}" if worth < 0.995 else f"{worth:.1f}" if worth < 9.95 else f"{worth:.0f}"


def signed(difference: float, digits: int) -> str:
    """Return a difference with its sign, as printed and not as typed.

    Examples
    --------
    >>> signed(-0.5, 2), signed(1.44, 1), signed(-0.001, 2)
    ('−0.50', '+1.4', '0.00')
    """
    told = f"{abs(difference):.{digits}f}"
    if not float(told):
        return told
    return f"{'−' if difference < 0 else '+'}{told}"


def points(worth: float) -> str:
    """Return a worth with its unit.

    Examples
    --------
    >>> points(1.234), points(1.0), points(0.0)
    ('1.2 points', '1.0 points', 'nothing to speak of')
    """
    return "nothing to speak of" if worth < LEAST else f"{figure(worth)} points"


def is_sure(answer: WhatIf) -> bool:
    """Tell whether a difference is larger than chance makes it."""
    return abs(answer.gain) > SURE * answer.gain_error


def difference_words(answer: WhatIf) -> str:
    """Return what a change does to the targets finished, in plain words.

    Examples
    --------
    >>> from scheduler.domain import Amendment, Expected
    >>> some = Expected(130.0, 26.0, 370.0, 371.0)
    >>> def told(gain: float, error: float) -> str:
    ...     return difference_words(WhatIf(Amendment(), 40, 0, some, some, gain, error, ()))
    >>> told(1.73, 0.42)
    "About two more targets done by the season's end, give or take half a one"
    >>> told(-0.6, 0.1)
    "About half a target fewer done by the season's end, give or take a tenth of one"
    >>> told(0.5, 0.4)
    'No difference that these years can tell'
    """
    if not is_sure(answer):
        return "No difference that these years can tell"
    sort = "more" if answer.gain > 0 else "fewer"
    amount = _amount(abs(answer.gain), answer.gain_error, sort)
    spread = f", give or take {_spread(answer.gain_error)}" if answer.gain_error else ""
    return f"About {amount} done by the season's end{spread}"


def _amount(size: float, error: float, sort: str) -> str:
    if size < 0.4:
        return f"{max(size, 0.1):.1f} of a target {sort}"
    if size < 0.75:
        return f"half a target {sort}"
    halves = round(2 * size) if error < 0.3 and size < 9.5 else 2 * round(size)
    whole, half = divmod(halves, 2)
    if half:
        return f"{_count(whole)} and a half {sort} targets"
    return f"{_count(whole)} {sort} {'target' if whole == 1 else 'targets'}"


def _spread(error: float) -> str:
    if error < 0.15:
        return "a tenth of one"
    if error < 0.35:
        return "a quarter of one"
    return "half a one" if error < 0.75 else _count(round(error))


def _count(number: int) -> str:
    return COUNTS[number] if number < len(COUNTS) else str(number)


def nights_words(answer: WhatIf) -> str:
    """Return what a change costs in nights out.

    Examples
    --------
    >>> from scheduler.domain import Amendment, Expected
    >>> before, after = (Expected(130.0, nights, 370.0, 371.0) for nights in (26.5, 27.9))
    >>> nights_words(WhatIf(Amendment(), 40, 0, before, after, 1.0, 0.1, ()))
    'It costs 1.4 more nights out: 27.9 instead of 26.5 in the mean of the years.'
    """
    before, after = answer.before.nights_out, answer.after.nights_out
    more = after - before
    if abs(more) < 0.05:
        return f"It takes as many nights out as before: {before:.1f} in the mean of the years."
    sort = f"costs {more:.1f} more" if more > 0 else f"saves {-more:.1f}"
    return f"It {sort} nights out: {after:.1f} instead of {before:.1f} in the mean of the years."
