"""Which plan each scenario's calendar shows, and how it tells of it."""

from __future__ import annotations

from collections.abc import Set
from datetime import date

from sqlalchemy import Connection, insert, select, update

from ..errors import CalendarMoved, NoSuch, Stale
from .database import Database, new_id
from .entries import announce_nights, publish_nights
from .results import CalendarRecord
from .tables import calendars, plans
from .told import Publication


class StoredCalendars:
    """Calendars as they are kept, one a scenario once a plan of it has been published."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def publish(self, scenario: str, publication: Publication) -> CalendarRecord:
        """Let a scenario's calendar show a plan; the same one again changes nothing.

        Raises
        ------
        NoSuch
            If it is no plan of the scenario.
        CalendarMoved
            If the calendar does not show the plan it was held against.
        """
        with self._database.writing() as connection:
            return publish_plan(connection, scenario, publication, self._database)

    def of(self, scenario: str) -> CalendarRecord:
        """Return a scenario's calendar; raise `NoSuch` where no plan has been published."""
        with self._database.reading() as connection:
            return _found(connection, scenario)

    def shown(self, scenario: str) -> str | None:
        """Return the id of the plan a scenario's calendar shows, None where none has been published."""
        with self._database.reading() as connection:
            row = _row(connection, scenario)
        return None if row is None else row.plan

    def announce(self, scenario: str, today: date) -> None:
        """Announce the nights that have come within the weeks of a scenario's calendar, if it has one."""
        with self._database.writing() as connection:
            record = _row(connection, scenario)
            if record is not None:
                announce_nights(connection, record, today, self._database.now())

    def settle(
        self, scenario: str, follows: bool, announce_weeks: int, today: date, expected: Set[int] | None
    ) -> CalendarRecord:
        """Decide how a calendar tells of plans if its revision is `expected`, or raise `Stale`.

        Parameters
        ----------
        follows : Whether every re-plan is published by itself.
        announce_weeks : Nights so near are announced: at once, whenever a plan is published, and before one
            is made.
        today : The date at the site.
        """
        with self._database.writing() as connection:
            record = _found(connection, scenario)
            if expected is not None and record.revision not in expected:
                raise Stale(record.tag)
            if (follows, announce_weeks) != (record.follows, record.announce_weeks):
                now = self._database.now()
                connection.execute(update(calendars).where(calendars.c.scenario == scenario).values(
                    follows=follows, announce_weeks=announce_weeks, revision=record.revision + 1, changed=now
                ))  # fmt: skip
                record = _found(connection, scenario)
                announce_nights(connection, record, today, now)
            return record


def publish_plan(
    connection: Connection, scenario: str, publication: Publication, database: Database
) -> CalendarRecord:
    """Do as `StoredCalendars.publish` inside a transaction."""
    plan = publication.plan
    known = select(plans.c.id).where(plans.c.id == plan, plans.c.scenario == scenario)
    if connection.execute(known).first() is None:
        raise NoSuch("plan", plan)
    now, shown = database.now(), _row(connection, scenario)
    if publication.previous != (shown.plan if shown else None):
        raise CalendarMoved
    if shown is None:
        connection.execute(insert(calendars).values(
            id=new_id(), scenario=scenario, plan=plan, follows=False, announce_weeks=0, revision=1,
            created=now, changed=now,
        ))  # fmt: skip
        publish_nights(connection, _found(connection, scenario), publication, now)
    elif publish_nights(connection, shown, publication, now) or shown.plan != plan:
        connection.execute(update(calendars).where(calendars.c.scenario == scenario).values(
            plan=plan, revision=shown.revision + 1, changed=now
        ))  # fmt: skip
    return _found(connection, scenario)


def _row(connection: Connection, scenario: str) -> CalendarRecord | None:
    row = connection.execute(select(calendars).where(calendars.c.scenario == scenario)).mappings().first()
    return None if row is None else CalendarRecord(**row)


def _found(connection: Connection, scenario: str) -> CalendarRecord:
    found = _row(connection, scenario)
    if found is None:
        raise NoSuch("calendar", scenario)
    return found
