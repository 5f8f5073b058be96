"""Nights behind one of which the log says nothing: plans count on them, until a later one has a line."""

from __future__ import annotations

from datetime import date

from scheduler.domain import Went

from ..deps import Services
from ..log_csv import outcomes_csv
from ..logged import added_to_log
from ..storage import NewOutcome
from .standing import Standing, standing_of

COUNTED_AS_PAST = "counted as past"


def silent_of(standing: Standing) -> tuple[date, ...]:
    """Return the free nights that are past, the log silent on them and since: plans still use them."""
    last = max((one.evening for one in standing.log), default=date.min)
    return tuple(one.evening for one in standing.plan.nights if last < one.evening < standing.today)


def count_as_past(services: Services, scenario: str, until: date | None = None) -> None:
    """Let the log say that nobody went out on the last silent night, up to `until`.

    One line is enough: whatever lies before a line of the log is past. Whoever logs that night all the same
    puts a line over it, as ever.
    """
    standing = standing_of(services, scenario)
    silent = [one for one in silent_of(standing) if until is None or one <= until] if standing else []
    if silent:
        line = NewOutcome(silent[-1], Went.COULD_NOT_GO.value, notes=COUNTED_AS_PAST)
        added_to_log(services, scenario, outcomes_csv([line]))
