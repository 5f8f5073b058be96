"""Kept scenarios and every revision of their files."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Set
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, update

from ..errors import NoSuch, Stale, StillAtWork
from .clubs import found_club
from .database import LARGEST, Database, new_id, page_of
from .outcomes import count_lines
from .records import NewScenario, Page, ScenarioFiles, ScenarioRecord, Uses, tag_of
from .results import JobState
from .tables import jobs, revisions, scenarios

_UNFINISHED = [state.value for state in JobState if not state.ended]


class StoredScenarios:
    """Scenarios as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, club: str, new: NewScenario, uses: Uses | None = None) -> ScenarioRecord:
        """Keep a new scenario of a club and return its record; raise `NoSuch` if there is no such club."""
        now = self._database.now()
        values = _columns(new) | {
            "id": new_id(), "club": club, "revision": 1, "uses": _plain(uses or {}), "created": now,
            "changed": now,
        }  # fmt: skip
        with self._database.writing() as connection:
            found_club(connection, club)
            connection.execute(insert(scenarios).values(values))
            _keep_files(connection, values["id"], 1, new.files)
            return _found(connection, values["id"])

    def get(self, scenario: str) -> ScenarioRecord:
        """Return the record of a scenario, or raise `NoSuch`."""
        with self._database.reading() as connection:
            return _found(connection, scenario)

    def page(self, club: str, cursor: int | None, limit: int) -> Page[ScenarioRecord]:
        """Return a page of a club's scenarios, newest first; raise `NoSuch` if there is no such club."""
        with self._database.reading() as connection:
            found_club(connection, club)
            query = select(scenarios).where(scenarios.c.club == club)
            rows, following = page_of(connection, scenarios, query, cursor, limit)
        return Page(tuple(ScenarioRecord(**row) for row in rows), following)

    def newest_of(self, clubs: Collection[str], most: int) -> Mapping[str, tuple[ScenarioRecord, ...]]:
        """Return up to `most` scenarios of each club that has any, newest first, by club."""
        newest = func.row_number().over(partition_by=scenarios.c.club, order_by=scenarios.c.number.desc())
        placed = (
            select(scenarios.c.number, newest.label("place")).where(scenarios.c.club.in_(clubs)).subquery()
        )
        query = select(scenarios).join(placed, scenarios.c.number == placed.c.number)
        query = query.where(placed.c.place <= most).order_by(scenarios.c.number.desc())
        found: dict[str, list[ScenarioRecord]] = defaultdict(list)
        with self._database.reading() as connection:
            for row in connection.execute(query).mappings():
                found[row["club"]].append(ScenarioRecord(**row))
        return {club: tuple(records) for club, records in found.items()}

    def files(self, scenario: str, revision: int | None = None) -> tuple[ScenarioFiles, int]:
        """Return the files of a revision (the newest where None) and its number, or raise `NoSuch`."""
        query = select(revisions).where(revisions.c.scenario == scenario)
        if revision is not None:
            query = query.where(revisions.c.revision == max(0, min(revision, LARGEST)))
        with self._database.reading() as connection:
            row = connection.execute(query.order_by(revisions.c.revision.desc()).limit(1)).mappings().first()
        if row is None:
            raise NoSuch("scenario", scenario)
        files = ScenarioFiles(row["scenario_toml"], row["wish_list_csv"], row["forecast_csv"])
        return files, row["revision"]

    def replace(
        self, scenario: str, new: NewScenario, expected: Set[int] | None, uses: Uses | None = None,
        log_lines: int | None = None,
    ) -> ScenarioRecord:  # fmt: skip
        """Make `new` the next revision if this one is `expected` (any where None), or raise `Stale`.

        What it takes over from its club stays as it is where `uses` is None. With `log_lines` it is stale
        too if the log, which was read with it, has not just so many lines.
        """
        with self._database.writing() as connection:
            revision = _expected(connection, scenario, expected).revision + 1
            _keep_files(connection, scenario, revision, new.files)
            if log_lines not in (None, count_lines(connection, scenario)):
                raise Stale(tag_of(revision - 1))
            values = _columns(new) | {"revision": revision, "changed": self._database.now()}
            values |= {} if uses is None else {"uses": _plain(uses)}
            connection.execute(update(scenarios).where(scenarios.c.id == scenario).values(values))
            return _found(connection, scenario)

    def delete(self, scenario: str, expected: Set[int] | None) -> None:
        """Delete a scenario with its plans and jobs, unless it is `Stale` or `StillAtWork`."""
        with self._database.writing() as connection:
            _expected(connection, scenario, expected)
            unfinished = select(jobs.c.id).where(jobs.c.scenario == scenario, jobs.c.state.in_(_UNFINISHED))
            job = connection.execute(unfinished.limit(1)).scalar()
            if job is not None:
                raise StillAtWork(job)
            connection.execute(delete(scenarios).where(scenarios.c.id == scenario))


def _columns(new: NewScenario) -> dict[str, Any]:
    return {
        "name": new.name, "title": new.title, "targets": new.targets, "season_start": new.season_start,
        "season_nights": new.season_nights,
    }  # fmt: skip


def _plain(uses: Uses) -> dict[str, list[str]]:
    return {noun: list(ids) for noun, ids in uses.items()}


def _keep_files(connection: Connection, scenario: str, revision: int, files: ScenarioFiles) -> None:
    connection.execute(insert(revisions).values(
        scenario=scenario, revision=revision, scenario_toml=files.scenario_toml,
        wish_list_csv=files.wish_list_csv, forecast_csv=files.forecast_csv,
    ))  # fmt: skip


def _found(connection: Connection, scenario: str) -> ScenarioRecord:
    row = connection.execute(select(scenarios).where(scenarios.c.id == scenario)).mappings().first()
    if row is None:
        raise NoSuch("scenario", scenario)
    return ScenarioRecord(**row)


def _expected(connection: Connection, scenario: str, expected: Set[int] | None) -> ScenarioRecord:
    record = _found(connection, scenario)
    if expected is not None and record.revision not in expected:
        raise Stale(record.tag)
    return record
