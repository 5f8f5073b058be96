"""What a rule of repetition would bring, told before it is followed.

References
----------
B. Desruisseaux, "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545, 2009,
section 3.3.10.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from icalendar import vRecur

from .sieve import refused

MOST_OCCURRENCES = 50_000
"""In the time that is read, of all rules of a calendar."""
MOST_STEPS = 1_000_000
"""From the beginning of each rule on, of all rules of a calendar; measured at 2.5 microseconds each."""

_DAYS: Mapping[str, float] = {
    "YEARLY": 365.0, "MONTHLY": 28.0, "WEEKLY": 7.0, "DAILY": 1.0, "HOURLY": 1 / 24, "MINUTELY": 1 / 1440,
}  # fmt: skip
_COST: Mapping[str, float] = {"YEARLY": 15.0, "MONTHLY": 3.0}
"""Steps that looking at one period is worth, measured; one elsewhere."""
_CLOCK = {"BYHOUR": ("HOURLY", "MINUTELY"), "BYMINUTE": ("MINUTELY",), "BYSECOND": ()}
"""By what a period holds several times, but where it is shorter than that."""


@dataclass
class Effort:
    """What the rules of a calendar bring, summed up; `add` refuses what would be too much.

    Attributes
    ----------
    occurrences : At most, in the time that is read.
    steps : At most, from each rule's beginning on.
    """

    occurrences: float = 0.0
    steps: float = 0.0

    def add(
        self, component: int, rule: vRecur, start: date, first: date, last: date, length: timedelta
    ) -> None:
        """Count a rule in.

        Parameters
        ----------
        component : Its number.
        rule : As `checked` left it.
        start : Its first day.
        first, last : The days that are read.
        length : Of each of its events; a longer one that began earlier reaches into these days.
        """
        frequency, interval = str(rule["FREQ"][0]), int(_only(rule, "INTERVAL", 1))
        each, period = _each(rule, frequency), _DAYS[frequency] * interval
        end = min([last, *([_day(rule["UNTIL"][0])] if "UNTIL" in rule else [])])
        begin = max(start, first - timedelta(days=min(length.days + 1, 300_000)), date(1600, 1, 1))
        count = float(_only(rule, "COUNT", 10**9))
        periods = max(0.0, (end - start).days + 1) / period + 1
        within = max(0.0, (end - begin).days + 1) / period + 1
        self.occurrences += min(each * within, count)
        self.steps += min(periods * max(each, _COST.get(frequency, 1.0)), 20 * count)
        if self.occurrences > MOST_OCCURRENCES:
            expected = f"rules that bring at most {MOST_OCCURRENCES} events together in the time that is read"
            raise refused(component, "RRULE", expected)
        if self.steps > MOST_STEPS:
            expected = "rules that began later; let this one begin anew, nearer to now"
            raise refused(component, "RRULE", expected)


def checked(component: int, rule: vRecur, *, of_zone: bool = False) -> vRecur:
    """Return a rule that can be followed, or raise `CalendarFaults`.

    `of_zone` : Whether it tells when clocks are changed.
    """
    known = ("YEARLY",) if of_zone else tuple(_DAYS)
    if [str(one) for one in rule.get("FREQ", [])] not in [[one] for one in known]:
        raise refused(component, "RRULE", f"one FREQ, {' or '.join(known)}")
    for part in ("INTERVAL", "COUNT"):
        value = _only(rule, part, 1)
        if not isinstance(value, int) or not 1 <= value <= 100_000_000:
            raise refused(component, "RRULE", f"{part} as a whole number from 1 on")
    if "UNTIL" in rule:
        if len(rule["UNTIL"]) != 1 or not isinstance(rule["UNTIL"][0], date):
            raise refused(component, "RRULE", "UNTIL as one date or time")
        if rule["UNTIL"][0].year > 2300:  # as good as none, and beyond what zones reach
            rule = vRecur({name: value for name, value in rule.items() if name != "UNTIL"})
        elif rule["UNTIL"][0].year < 1600:
            raise refused(component, "RRULE", "UNTIL from the year 1600 on")
    return rule


def _each(rule: vRecur, frequency: str) -> float:
    """Return how often at most a rule can hit in one period."""
    times = 1.0
    for part, but in _CLOCK.items():
        if part in rule and frequency not in but:
            times *= len(rule[part])
    days, months = rule.get("BYDAY", []), len(rule.get("BYMONTH", [])) or 12
    if frequency == "WEEKLY":
        return times * max(1, len(days))
    if frequency == "MONTHLY":
        return times * min(31, max(1, 5 * len(days) + len(rule.get("BYMONTHDAY", []))))
    if frequency == "YEARLY":
        in_months = 5 * len(days) + len(rule.get("BYMONTHDAY", []))
        listed = len(rule.get("BYYEARDAY", [])) + 7 * len(rule.get("BYWEEKNO", []))
        single = len(rule.get("BYMONTH", [])) or 1
        return times * min(366, max(single, months * in_months + listed))
    return times


def _only(rule: Mapping[str, Any], part: str, default: int) -> Any:
    """Return the one value of a part; several are none that counts."""
    values = rule.get(part, [default])
    return values[0] if len(values) == 1 else None


def _day(moment: date) -> date:
    return moment.date() + timedelta(days=1) if isinstance(moment, datetime) else moment
