"""Kept logs: lines are added, never changed; a later line for an evening corrects an earlier one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, func, insert, select

from ..errors import NoSuch, Stale
from .database import LARGEST, Database
from .entries import tell_outcomes
from .records import NewOutcome, OutcomeRecord
from .tables import outcomes, scenarios


class StoredOutcomes:
    """The logs of scenarios as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self, scenario: str, new: Sequence[NewOutcome], after: int | None, revision: int | None = None
    ) -> tuple[OutcomeRecord, ...]:
        """Add lines to a log, all or none, and return them.

        Parameters
        ----------
        after : How many lines the log must have; any number where None.
        revision : The scenario's, with whose wish-list the lines were read; any where None.

        Raises
        ------
        NoSuch
            If there is no such scenario.
        Stale
            If lines have been added or the scenario changed meanwhile: what was checked was another.
        """
        now = self._database.now()
        with self._database.writing() as connection:
            stands = _revision(connection, scenario)
            lines = count_lines(connection, scenario)
            if after not in (None, lines) or revision not in (None, stands):
                raise Stale(log_tag(lines))
            rows = [
                {"scenario": scenario, "line": line, "evening": one.evening, "outcome": one.outcome,
                 "usable_min": one.usable_min, "seen": list(one.seen), "seen_poorly": list(one.seen_poorly),
                 "not_seen": list(one.not_seen), "notes": one.notes, "logged": now}
                for line, one in enumerate(new, start=lines + 1)
            ]  # fmt: skip
            if rows:
                connection.execute(insert(outcomes), rows)
                tell_outcomes(connection, scenario, {one.evening: one.outcome for one in new}, now)
            return _lines(connection, scenario, lines, None)

    def lines(self, scenario: str, upto: int | None = None) -> tuple[OutcomeRecord, ...]:
        """Return the first `upto` lines of a log (all where None), or raise `NoSuch`."""
        with self._database.reading() as connection:
            _revision(connection, scenario)
            return _lines(connection, scenario, 0, upto)


def log_tag(lines: int) -> str:
    """Return the entity tag of a log of so many lines.

    Examples
    --------
    >>> log_tag(3)
    '"l3"'
    """
    return f'"l{lines}"'


def count_lines(connection: Connection, scenario: str) -> int:
    """Return how many lines a scenario's log has."""
    query = select(func.count()).select_from(outcomes).where(outcomes.c.scenario == scenario)
    return connection.execute(query).scalar_one()


def _revision(connection: Connection, scenario: str) -> int:
    found: int | None = connection.execute(
        select(scenarios.c.revision).where(scenarios.c.id == scenario)
    ).scalar()
    if found is None:
        raise NoSuch("scenario", scenario)
    return found


def _lines(connection: Connection, scenario: str, after: int, upto: int | None) -> tuple[OutcomeRecord, ...]:
    query = select(outcomes).where(outcomes.c.scenario == scenario, outcomes.c.line > after)
    if upto is not None:
        query = query.where(outcomes.c.line <= min(upto, LARGEST))
    rows = connection.execute(query.order_by(outcomes.c.line)).mappings().all()
    return tuple(_record(row) for row in rows)


def _record(row: Mapping[Any, Any]) -> OutcomeRecord:
    lists = {name: tuple(row[name]) for name in ("seen", "seen_poorly", "not_seen")}
    return OutcomeRecord(**{**row, **lists})
