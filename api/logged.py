"""Lines added to a log: read with the wish-list as it stands, and added once however often they are sent."""

from __future__ import annotations

from scheduler.domain.outcome import MOST_OUTCOMES
from scheduler.errors import InvalidValue

from .deps import Services
from .kept import tried_again
from .log_csv import lines_of
from .storage import OutcomeRecord, Sent


def added_to_log(
    services: Services, scenario: str, csv: bytes, sent: Sent | None = None
) -> tuple[OutcomeRecord, ...]:
    """Read lines with the wish-list as it stands, keep them if it still stands so, and return them.

    Parameters
    ----------
    csv : A header, then a line a night, as in outcomes.csv; all are kept or none.
    sent : How a single line was sent: a line that came before under its key is returned, and none added,
        also where the log is full by now.

    Raises
    ------
    NoSuch
        There is no such scenario.
    ScenarioFaults, InvalidValue
        With everything wrong with the lines at once; there is none; or the log is full.
    KeyReused, LoggedMeanwhile
        See `StoredOutcomes.add`.
    """

    def once() -> tuple[OutcomeRecord, ...]:
        record = services.storage.scenarios.get(scenario)
        files, _ = services.storage.scenarios.files(scenario, record.revision)
        lines = lines_of(services.door.read_scenario(record.name, files, csv).outcomes)
        if not lines:
            raise InvalidValue("outcomes", "none", "at least one line below the header")
        kept = len(services.storage.outcomes.lines(scenario))
        if kept + len(lines) > MOST_OUTCOMES:
            raise InvalidValue("outcomes", kept + len(lines), f"at most {MOST_OUTCOMES} lines in a log")
        return services.storage.outcomes.add(scenario, lines, None, record.revision, sent)

    try:
        return tried_again(once, lambda: True)
    except InvalidValue:
        there = sent and sent.key and services.storage.outcomes.under(scenario, sent.key)
        if not there:
            raise
        return (there,)
