"""Kept logs: lines are added, never changed; a later line for an evening corrects an earlier one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, func, insert, select

from scheduler.domain.outcome import is_told

from ..errors import KeyReused, LoggedMeanwhile, NoSuch, Stale
from .database import LARGEST, Database
from .entries import tell_outcomes
from .pushes import jobs_for_pushes
from .records import NewOutcome, OutcomeRecord, Sent
from .tables import outcomes, scenarios


class StoredOutcomes:
    """The logs of scenarios as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self, scenario: str, new: Sequence[NewOutcome], after: int | None, revision: int | None = None,
        sent: Sent | None = None,
    ) -> tuple[OutcomeRecord, ...]:  # fmt: skip
        """Add lines to a log, all or none, and return them.

        Parameters
        ----------
        after : How many lines the log must have; any number where None.
        revision : The scenario's, with whose wish-list the lines were read; any where None.
        sent : How a single line was sent; one that is there already under its key is returned as it is.

        Raises
        ------
        NoSuch
            If there is no such scenario.
        Stale
            If lines have been added or the scenario changed meanwhile: what was checked was another.
        KeyReused
            If the key came with another line before.
        LoggedMeanwhile
            If another line stands for the evening than the sender knew, somebody wrote it, and it says
            something else.
        """
        now = self._database.now()
        with self._database.writing() as connection:
            if sent is not None:
                _revision(connection, scenario)
                (line,) = new
                there = _there_already(connection, scenario, line, sent)
                if there is not None:
                    return (there,)
            stands = _revision(connection, scenario)
            lines = count_lines(connection, scenario)
            if after not in (None, lines) or revision not in (None, stands):
                raise Stale(log_tag(lines))
            rows = [
                {"scenario": scenario, "line": line, "evening": one.evening, "outcome": one.outcome,
                 "usable_min": one.usable_min, "seen": list(one.seen), "seen_poorly": list(one.seen_poorly),
                 "not_seen": list(one.not_seen), "notes": one.notes, "logged": now,
                 "sky_brightness": one.sky_brightness, "key": sent.key if sent else None}
                for line, one in enumerate(new, start=lines + 1)
            ]  # fmt: skip
            if rows:
                connection.execute(insert(outcomes), rows)
                if tell_outcomes(connection, scenario, {one.evening: one.outcome for one in new}, now):
                    jobs_for_pushes(connection, scenario, now)
            return _lines(connection, scenario, lines, None)

    def under(self, scenario: str, key: str) -> OutcomeRecord | None:
        """Return the line that was sent under a key, None where there is none."""
        query = select(outcomes).where(outcomes.c.scenario == scenario, outcomes.c.key == key)
        with self._database.reading() as connection:
            row = connection.execute(query).mappings().first()
        return None if row is None else _record(row)

    def lines(self, scenario: str, upto: int | None = None) -> tuple[OutcomeRecord, ...]:
        """Return the first `upto` lines of a log (all where None), or raise `NoSuch`."""
        with self._database.reading() as connection:
            _revision(connection, scenario)
            return _lines(connection, scenario, 0, upto)


def _there_already(
    connection: Connection, scenario: str, new: NewOutcome, sent: Sent
) -> OutcomeRecord | None:  # fmt: skip
    """Return the line a sender may take for this one; None where it is to be added.

    Sent under the same key it is the same line, whatever was logged since. And a line that stands already,
    word for word, need not be told again, however it came there. One that nobody wrote, which only counts the
    night as past, gives way to whatever somebody tells.
    """
    query = select(outcomes).where(outcomes.c.scenario == scenario)
    if sent.key is not None:
        row = connection.execute(query.where(outcomes.c.key == sent.key)).mappings().first()
        if row is not None:
            if not _says(_record(row), new):
                raise KeyReused(sent.key)
            return _record(row)
    of_evening = query.where(outcomes.c.evening == new.evening).order_by(outcomes.c.line.desc())
    row = connection.execute(of_evening).mappings().first()
    stands = None if row is None else _record(row)
    line = stands.line if stands else 0
    if sent.over in (None, line):
        return None
    if stands and _says(stands, new):
        return stands
    if stands and not is_told(stands.outcome, stands.notes):
        return None
    raise LoggedMeanwhile(new.evening, line)


def _says(kept: OutcomeRecord, new: NewOutcome) -> bool:
    """Tell whether a kept line says the same as a new one."""
    return all(
        _plain(getattr(kept, one.name)) == _plain(getattr(new, one.name)) for one in fields(NewOutcome)
    )  # fmt: skip


def _plain(value: object) -> object:
    return tuple(value) if isinstance(value, list | tuple) else value


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
