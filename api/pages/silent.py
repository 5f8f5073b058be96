"""Nights behind one of which the log says nothing: plans count on them, until a later one has a line."""

from __future__ import annotations

from contextlib import suppress
from datetime import date

from scheduler.domain import ChangeReason, Outcome, Went
from scheduler.domain.outcome import COUNTED_AS_PAST, is_told

from ..deps import Services
from ..errors import LoggedMeanwhile
from ..log_csv import outcomes_csv
from ..logged import added_to_log
from ..storage import NewOutcome, OutcomeRecord, Sent
from .standing import Standing, standing_of

NOT_TOLD = f"not told; {COUNTED_AS_PAST}"
"""What is said of a night that counts as past, though nobody told how it went."""


def is_counted_as_past(line: Outcome | OutcomeRecord) -> bool:
    """Tell whether a line of the log is none that anybody wrote, but one of `count_as_past`.

    Examples
    --------
    >>> is_counted_as_past(Outcome(date(2027, 1, 8), Went.COULD_NOT_GO, notes=COUNTED_AS_PAST))
    True
    >>> is_counted_as_past(Outcome(date(2027, 1, 8), Went.COULD_NOT_GO, notes="the car"))
    False
    """
    return not is_told(line.went if isinstance(line, Outcome) else line.outcome, line.notes)


def is_silent(standing: Standing, evening: date) -> bool:
    """Tell whether an evening is past and the log silent on it and since: plans still count on it.

    Whatever lies before a line of the log counts as past, whether it was told of or not.
    """
    last = max((one.evening for one in standing.log), default=date.min)
    return last < evening < standing.today


def silent_of(standing: Standing) -> tuple[date, ...]:
    """Return the free nights that are silent, by date."""
    return tuple(one.evening for one in standing.plan.nights if is_silent(standing, one.evening))


def unlogged_of(standing: Standing) -> tuple[date, ...]:
    """Return the past evenings with a programme and no line, by date: somebody is still to tell of them.

    A plan made anew since then has no programme for them any more, but still tells that they are past. What
    `count_as_past` settled is asked about no more.
    """
    told = {one.before for one in standing.plan.changes if one.reason is ChangeReason.PAST and one.before}
    logged = {one.evening for one in standing.log}
    settled = max((one.evening for one in standing.log if is_counted_as_past(one)), default=date.min)
    wanted = {*standing.planned, *told} - logged
    return tuple(sorted(one for one in wanted if settled < one < standing.today))


def count_as_past(services: Services, scenario: str, until: date | None = None) -> None:
    """Let the log say that nobody went out on the last silent night, up to `until`.

    One line is enough: whatever lies before a line of the log is past. Whoever logs that night all the same
    puts a line over it, as ever; and who has logged it since the log was read here has told of it.
    """
    standing = standing_of(services, scenario)
    silent = [one for one in silent_of(standing) if until is None or one <= until] if standing else []
    if silent:
        line = NewOutcome(silent[-1], Went.COULD_NOT_GO.value, notes=COUNTED_AS_PAST)
        with suppress(LoggedMeanwhile):
            added_to_log(services, scenario, outcomes_csv([line]), Sent(over=0))  # silent: it has no line
