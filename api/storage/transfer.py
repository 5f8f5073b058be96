"""Whole clubs written as one file, and taken in again, here or in another database."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import Column, Connection, Table, insert, select

from ..errors import AlreadyKept, UnreadableClub
from . import club_file
from . import club_shape as shape
from .club_shape import ClubFile, Part
from .club_values import file_shown
from .clubs import found_club
from .database import Database
from .records import ClubRecord
from .results import JobState
from .tables import (
    calendars,
    clubs,
    entries,
    feeds,
    jobs,
    members,
    outcomes,
    plan_files,
    plans,
    revisions,
    scenarios,
    sites,
    telescopes,
)

_SHARED = {"members": members, "sites": sites, "telescopes": telescopes}


class ClubTransfer:
    """Clubs on their way out of the database and into it."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def club(self, club: str) -> str:
        """Return a club with everything it has as the text of one file, or raise `NoSuch`.

        Left out are keys, since nobody has their secrets, and jobs that have not ended. The same club gives
        the same text, wherever it is kept.
        """
        with self._database.reading() as connection:
            found_club(connection, club)
            return club_file.written(_told(connection, club))

    def take_in(self, text: str, check: Callable[[ClubFile], None] = lambda _: None) -> ClubRecord:
        """Keep the club a file holds, with the ids it had, and return its record; all of it or nothing.

        Parameters
        ----------
        text : The file.
        check : Called with what was read before anything is kept; what it raises is left to the caller.

        Raises
        ------
        UnreadableClub
            If the file is not as `club` writes it.
        AlreadyKept
            If the club, or anything it has, is kept already.
        """
        read = club_file.club_file_of(text)
        check(read)
        with self._database.writing() as connection:
            _refuse_kept(connection, read)
            _keep(connection, read)
            return found_club(connection, read.club.id)


def _told(connection: Connection, club: str) -> dict[str, Any]:
    def rows(part: type[Part], table: Table, *where: Any) -> list[dict[str, Any]]:
        order = table.c.number if "number" in table.c else next(iter(list(table.primary_key)[1:]))
        found = connection.execute(select(table).where(*where).order_by(order)).mappings().all()
        if table is plan_files:  # databases sort letters differently
            found = sorted(found, key=lambda row: str(row["name"]))
        return [{name: _shown(row[name]) for name in part.model_fields if name in row} for row in found]

    def calendar_told(calendar: dict[str, Any]) -> dict[str, Any]:
        return calendar | {"entries": rows(shape.EntryPart, entries, entries.c.calendar == calendar["id"])}

    def scenario_told(scenario: dict[str, Any]) -> dict[str, Any]:
        here = scenario["id"]
        made = rows(shape.PlanPart, plans, plans.c.scenario == here)
        shown = rows(shape.CalendarPart, calendars, calendars.c.scenario == here)
        return scenario | {
            "revisions": rows(shape.RevisionPart, revisions, revisions.c.scenario == here),
            "outcomes": rows(shape.OutcomePart, outcomes, outcomes.c.scenario == here),
            "plans": [
                plan | {"files": rows(shape.PlanFilePart, plan_files, plan_files.c.plan == plan["id"])}
                for plan in made
            ],
            "calendar": calendar_told(shown[0]) if shown else None,
        }

    ended = jobs.c.state.in_([state.value for state in JobState if state.ended])
    return {
        "club": rows(shape.ClubPart, clubs, clubs.c.id == club)[0],
        **{noun: rows(shape.SharedPart, table, table.c.club == club) for noun, table in _SHARED.items()},
        "scenarios": [
            scenario_told(one) for one in rows(shape.ScenarioPart, scenarios, scenarios.c.club == club)
        ],
        "feeds": rows(shape.FeedPart, feeds, feeds.c.club == club),
        "jobs": rows(shape.JobPart, jobs, jobs.c.club == club, ended),
    }


def _shown(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return file_shown(value) if isinstance(value, bytes) else value


def _refuse_kept(connection: Connection, read: ClubFile) -> None:
    """Raise `AlreadyKept` where an id is taken, `UnreadableClub` where one of another club is used."""
    made: list[tuple[str, Table, Iterable[str]]] = [
        ("club", clubs, [read.club.id]),
        *(
            (noun.removesuffix("s"), table, (one.id for one in getattr(read, noun)))
            for noun, table in _SHARED.items()
        ),
        ("scenario", scenarios, (one.id for one in read.scenarios)),
        ("plan", plans, (plan.id for one in read.scenarios for plan in one.plans)),
        ("calendar", calendars, (one.calendar.id for one in read.scenarios if one.calendar)),
        ("feed", feeds, (one.id for one in read.feeds)),
        ("job", jobs, (one.id for one in read.jobs)),
    ]
    for noun, table, ids in made:
        for taken in _kept(connection, table.c.id, ids):
            raise AlreadyKept(noun, taken)
    nights = [entry.uid for one in read.scenarios if one.calendar for entry in one.calendar.entries]
    for taken in _kept(connection, entries.c.uid, nights):
        raise AlreadyKept("night", taken)
    for _ in _kept(connection, feeds.c.secret, [one.secret for one in read.feeds]):
        raise AlreadyKept("feed", "of the same secret")
    used = {one for scenario in read.scenarios for ids in scenario.uses.values() for one in ids}
    for table in _SHARED.values():
        for other in _kept(connection, table.c.id, used):
            raise UnreadableClub("scenarios", f"to use nothing of another club, as {other} is")


def _kept(connection: Connection, column: Column[Any], values: Iterable[str]) -> Iterable[str]:
    asked = list(values)
    for start in range(0, len(asked), 500):
        query = select(column).where(column.in_(asked[start : start + 500]))
        yield from (str(row[0]) for row in connection.execute(query))


def _keep(connection: Connection, read: ClubFile) -> None:
    club = {"club": read.club.id}
    _insert(connection, clubs, [read.club], {})
    for noun, table in _SHARED.items():
        _insert(connection, table, getattr(read, noun), club)
    for scenario in read.scenarios:
        here = {"scenario": scenario.id}
        _insert(connection, scenarios, [scenario], club)
        _insert(connection, revisions, scenario.revisions, here)
        _insert(connection, outcomes, scenario.outcomes, here)
        _insert(connection, plans, scenario.plans, here)
        for plan in scenario.plans:
            _insert(connection, plan_files, plan.files, {"plan": plan.id})
        if scenario.calendar is not None:
            _insert(connection, calendars, [scenario.calendar], here)
            _insert(connection, entries, scenario.calendar.entries, {"calendar": scenario.calendar.id})
    _insert(connection, feeds, read.feeds, club)
    _insert(connection, jobs, read.jobs, club)


def _insert(connection: Connection, table: Table, parts: Sequence[Part], owner: Mapping[str, str]) -> None:
    """Keep parts in the order they stand in; their new numbers are in that order too."""
    rows = [
        {name: value for name, value in part if name in table.c} | dict(owner)
        for part in parts
    ]  # fmt: skip
    if rows:
        connection.execute(insert(table), rows)
