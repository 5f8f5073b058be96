"""What the form is asked beside the scenario's own rules: what reads well, and is not what was meant."""

from __future__ import annotations

import re
from collections.abc import Iterator

from scheduler.scenario import values as read_values
from scheduler.scenario.notes import Unreadable

from . import values
from .fields import DAYS, MONTHS
from .writing import Typed

DAY_OR_DAYS = "2027-07-10, or 2027-07-10 to 2027-07-24"
LEAST_WITH_A_POINT = 2.0
"""Percentages below this are taken for a part of the whole where they are written with a point or comma."""
_MONTH_FIELDS = tuple(f"odds_{month.lower()}" for month in MONTHS)
_DAY_FIRST = re.compile(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})")
_DAY = re.compile(r"\d{4}-(\d\d)-(\d\d)")


def form_faults(typed: Typed) -> dict[str, tuple[str, ...]]:
    """Return what is wrong with the fields by themselves, by field.

    Parameters
    ----------
    typed : As `typed_in` returns it.
    """
    found = {
        "away": tuple(_away(typed["away"])),
        **_evenings(typed),
        **{name: tuple(_odds(typed[name])) for name in _MONTH_FIELDS},
    }
    return {name: words for name, words in found.items() if words}


# Evenings away ----------------------------------------------------------------------------------------


def _away(text: str) -> Iterator[str]:
    """Yield what is wrong with each stretch of dates that cannot be read."""
    for number, line in enumerate(text.splitlines(), 1):
        for part in re.split("[,;]", line):
            for stretch in values.stretches(part):
                try:
                    read_values.days([stretch])
                except Unreadable as wrong:
                    yield f"line {number}, “{part.strip()}”: {_remedy(stretch, wrong.expected)}"


def _remedy(stretch: str, expected: str) -> str:
    iso = _DAY_FIRST.sub(lambda found: f"{found[3]}-{found[2]:0>2}-{found[1]:0>2}", stretch)
    if iso != stretch:
        try:
            read_values.days([iso])
        except Unreadable:
            pass
        else:
            return f"expected {iso.replace('..', ' to ')}."
    for found in _DAY.finditer(iso):
        month, day = int(found[1]), int(found[2])
        if 1 <= month <= 12 and not _is_day(found[0]):
            return f"{day} {MONTHS[month - 1]} {found[0][:4]} does not exist."
    if all(_is_day(end) for end in iso.split("..")):
        return f"expected {expected}."
    return f"expected {DAY_OR_DAYS}."


def _is_day(text: str) -> bool:
    return not isinstance(values.day(text), str)


# Evenings free ----------------------------------------------------------------------------------------


def _evenings(typed: Typed) -> dict[str, tuple[str, ...]]:
    """Return what is wrong where two sorts of evenings share a day: the planner goes by the first."""
    first, second = (_ticked(typed[f"weekdays_{rule}"]) for rule in (1, 2))
    if not any(typed[name].strip() for name in ("weekdays_2", "from_2", "until_2")):
        return {}
    if not first:
        words = "none ticked means every day, so that none is left for the other evenings; tick the days."
        return {"weekdays_1": (words,)}
    both = [day for day in DAYS if day in first and day in second]
    if not both:
        return {}
    days, stand = " and ".join(both), "stands" if len(both) == 1 else "stand"
    words = f"{days} {stand} in both sorts of evenings, which may have different hours; tick each day once."
    return {"weekdays_2": (words,)}


def _ticked(text: str) -> set[str]:
    return {one.strip() for one in text.split(",") if one.strip()}


# Odds -------------------------------------------------------------------------------------------------


def _odds(text: str) -> Iterator[str]:
    """Yield what is wrong with odds that look like a part of the whole."""
    percent = values.number(text)
    if isinstance(percent, str) or not re.search("[.,]", text) or not 0.0 < percent < LEAST_WITH_A_POINT:
        return
    yield f"read “{text.strip()}”, expected it in percent: 30, not 0.3; so few would be “{text.strip()} %”."
