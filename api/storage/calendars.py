"""Which plan each scenario's calendar shows."""

from __future__ import annotations

from sqlalchemy import Connection, insert, select, update

from ..errors import NoSuch
from .database import Database, new_id
from .results import CalendarRecord
from .tables import calendars, plans


class StoredCalendars:
    """Calendars as they are kept, one a scenario once a plan of it has been published."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def publish(self, scenario: str, plan: str) -> CalendarRecord:
        """Let a scenario's calendar show this plan; the same one again changes nothing."""
        with self._database.writing() as connection:
            return publish_plan(connection, scenario, plan, self._database)

    def of(self, scenario: str) -> CalendarRecord:
        """Return a scenario's calendar; raise `NoSuch` where no plan has been published."""
        with self._database.reading() as connection:
            row = _row(connection, scenario)
        if row is None:
            raise NoSuch("calendar", scenario)
        return row


def publish_plan(connection: Connection, scenario: str, plan: str, database: Database) -> CalendarRecord:
    """Do as `StoredCalendars.publish` inside a transaction."""
    known = select(plans.c.id).where(plans.c.id == plan, plans.c.scenario == scenario)
    if connection.execute(known).first() is None:
        raise NoSuch("plan", plan)
    now, shown = database.now(), _row(connection, scenario)
    if shown is None:
        connection.execute(insert(calendars).values(
            id=new_id(), scenario=scenario, plan=plan, follows=False, announce_weeks=0, revision=1,
            created=now, changed=now,
        ))  # fmt: skip
    elif shown.plan != plan:
        connection.execute(update(calendars).where(calendars.c.scenario == scenario).values(
            plan=plan, revision=shown.revision + 1, changed=now
        ))  # fmt: skip
    found = _row(connection, scenario)
    assert found is not None
    return found


def _row(connection: Connection, scenario: str) -> CalendarRecord | None:
    row = connection.execute(select(calendars).where(calendars.c.scenario == scenario)).mappings().first()
    return None if row is None else CalendarRecord(**row)
