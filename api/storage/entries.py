"""Entries of calendars: a night each, changed only where what members are told of it really changes.

References
----------
B. Desruisseaux (ed.), "Internet Calendaring and Scheduling Core Object Specification (iCalendar)", RFC 5545,
2009, sections 3.8.7.2 to 3.8.7.4 (DTSTAMP, LAST-MODIFIED, SEQUENCE).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

from sqlalchemy import ColumnElement, Connection, Select, and_, false, insert, or_, select, update

from .database import Database
from .results import CalendarRecord
from .tables import calendars, entries, scenarios
from .told import EntryRecord, EntryState, EntryVersion, FeedRecord, Publication, Shows

WITHDRAWN_SHOWN = timedelta(days=30)
"""How long a withdrawn night is still shown, as cancelled, so that every calendar hears of it."""
ODDS_MOVED = 0.1
"""Clear odds that move by less, as they do with every line of the log, are no change of a night."""
MOST_AMENDS = 8
_PLANNED, _WITHDRAWN = EntryState.PLANNED.value, EntryState.WITHDRAWN.value


class StoredEntries:
    """The entries of calendars as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def of_calendar(self, scenario: str) -> tuple[EntryRecord, ...]:
        """Return every entry of a scenario's calendar, by evening, the long withdrawn ones too."""
        query = _with_calendars(select(entries)).where(calendars.c.scenario == scenario)
        with self._database.reading() as connection:
            return _records(connection, query.order_by(entries.c.evening))

    def shown_by(self, feed: FeedRecord) -> tuple[EntryRecord, ...]:
        """Return the entries a feed shows now, by evening."""
        query = _with_calendars(select(entries)).where(self._shown(feed))
        with self._database.reading() as connection:
            found = _records(connection, query.order_by(entries.c.evening, entries.c.number))
        if feed.shows is Shows.OBSERVER:
            found = tuple(one for one in found if feed.observer in one.told["observers"])
        return found

    def versions_shown_by(self, feed: FeedRecord) -> tuple[EntryVersion, ...]:
        """Return what tells one state of a feed from another: the version of each entry it shows."""
        if feed.shows is Shows.OBSERVER:  # whose entries these are stands in what they tell
            return tuple(one.version for one in self.shown_by(feed))
        columns = select(entries.c.uid, entries.c.sequence, entries.c.changed)
        query = _with_calendars(columns).where(self._shown(feed))
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(entries.c.evening, entries.c.number)).all()
        return tuple((row[0], row[1], row[2]) for row in rows)

    def not_carried(self, scenario: str, today: date) -> tuple[EntryRecord, ...]:
        """Return the coming nights that are announced, which the scenario itself does not know yet."""
        query = _with_calendars(select(entries)).where(
            calendars.c.scenario == scenario, entries.c.announced.is_not(None),
            entries.c.carried.is_(False), entries.c.evening >= today, entries.c.state == _PLANNED,
        )  # fmt: skip
        with self._database.reading() as connection:
            return _records(connection, query.order_by(entries.c.evening))

    def carry(self, scenario: str, evenings: Sequence[date]) -> None:
        """Note that the scenario knows these evenings to be announced."""
        with self._database.writing() as connection:
            here = select(calendars.c.id).where(calendars.c.scenario == scenario).scalar_subquery()
            connection.execute(
                update(entries).where(entries.c.calendar == here, entries.c.evening.in_(evenings))
                .values(carried=True)
            )  # fmt: skip

    def _shown(self, feed: FeedRecord) -> ColumnElement[bool]:
        if feed.shows is Shows.SKY:  # the sky's dates alone, and nobody's nights
            return false()
        whose = (
            scenarios.c.id == feed.scenario if feed.shows is Shows.SCENARIO else scenarios.c.club == feed.club
        )
        recent = entries.c.changed > self._database.now() - WITHDRAWN_SHOWN
        return and_(whose, or_(entries.c.state == _PLANNED, recent))


def publish_nights(
    connection: Connection, calendar: CalendarRecord, publication: Publication, now: datetime
) -> bool:
    """Let a calendar's entries tell a plan's nights, and tell whether anything changed.

    Only nights from `open_from` and from today on are touched, and none that the log knows: the past stays as
    it was told.
    """
    query = select(entries).where(entries.c.calendar == calendar.id)
    known = {one.evening: one for one in _records(connection, query)}
    over = {evening for evening, entry in known.items() if entry.outcome is not None}
    first_open = max(publication.open_from, publication.today)
    nights = {date.fromisoformat(day): told for day, told in publication.nights.items()}
    changed = False
    for evening in sorted({*nights, *known} - over):
        if evening < first_open:
            continue
        entry = known.get(evening)
        if evening in nights:
            changed |= _publish(connection, calendar, publication, entry, evening, nights[evening], now)
        elif entry is not None and entry.state is EntryState.PLANNED:
            _change(connection, entry, now, state=_WITHDRAWN, amends=_amended(entry, publication))
            changed = True
    return changed


def announce_nights(connection: Connection, calendar: CalendarRecord, today: date, now: datetime) -> None:
    """Announce the coming nights within the calendar's weeks; none is taken back."""
    query = select(entries).where(
        entries.c.calendar == calendar.id, entries.c.state == _PLANNED, entries.c.announced.is_(None),
        entries.c.carried.is_(False), entries.c.evening >= today,
        entries.c.evening < today + timedelta(weeks=calendar.announce_weeks),
    )  # fmt: skip
    for entry in _records(connection, query):
        _change(connection, entry, now, announced=now)


def tell_outcomes(connection: Connection, scenario: str, outcomes: Mapping[date, str], now: datetime) -> None:
    """Let the entries of a scenario's calendar say how their nights went."""
    query = _with_calendars(select(entries)).where(
        calendars.c.scenario == scenario, entries.c.evening.in_(list(outcomes)), entries.c.state == _PLANNED
    )
    for entry in _records(connection, query):
        if entry.outcome != outcomes[entry.evening]:
            _change(connection, entry, now, outcome=outcomes[entry.evening])


def _publish(
    connection: Connection, calendar: CalendarRecord, publication: Publication, entry: EntryRecord | None,
    evening: date, told: Mapping[str, Any], now: datetime,
) -> bool:  # fmt: skip
    """Tell one night; True where that changed anything."""
    known = evening in publication.announced
    near = evening < publication.today + timedelta(weeks=calendar.announce_weeks)
    announced = known or near
    if entry is None:
        stamp = now.astimezone(UTC).replace(microsecond=0)
        connection.execute(insert(entries).values(
            calendar=calendar.id, uid=str(uuid4()), evening=evening, told=dict(told), state=_PLANNED,
            sequence=0, created=stamp, changed=stamp, announced=stamp if announced else None,
            carried=known, amends=[], outcome=None,
        ))  # fmt: skip
        return True
    if entry.carried:  # the scenario alone decides from then on: its planner may have thought better
        announced = known
    elif entry.announced is not None:
        announced = True
    values: dict[str, Any] = {}
    if entry.state is EntryState.WITHDRAWN or _differ(entry.told, told):
        values |= {"told": dict(told), "state": _PLANNED, "amends": _amended(entry, publication)}
    if announced != (entry.announced is not None):
        values["announced"] = now if announced else None
    if values:
        _change(connection, entry, now, **values)
    if known and not entry.carried:
        connection.execute(update(entries).where(entries.c.number == entry.number).values(carried=True))
    return bool(values)


def _differ(before: Mapping[str, Any], after: Mapping[str, Any]) -> bool:
    """Tell whether members must be told of a night anew; clear odds count where they moved far."""
    same = {**before, "clear_odds": None} == {**after, "clear_odds": None}
    return not same or abs(before["clear_odds"] - after["clear_odds"]) >= ODDS_MOVED


def _amended(entry: EntryRecord, publication: Publication) -> list[Mapping[str, Any]]:
    """Return what an entry says has changed since it was announced; while provisional it says nothing."""
    if entry.announced is None:
        return list(entry.amends)
    words = list(publication.amends.get(entry.evening.isoformat(), ()))
    amend = {"on": publication.today.isoformat(), "words": words or ["the club's planner changed the plan"]}
    return [*entry.amends, amend][-MOST_AMENDS:]


def _change(connection: Connection, entry: EntryRecord, now: datetime, **values: Any) -> None:
    """Change an entry; its stamp always moves on, also where the clock was set back."""
    stamp = max(now.astimezone(UTC).replace(microsecond=0), entry.changed + timedelta(seconds=1))
    connection.execute(
        update(entries).where(entries.c.number == entry.number)
        .values(sequence=entry.sequence + 1, changed=stamp, **values)
    )  # fmt: skip


def _with_calendars(query: Select[Any]) -> Select[Any]:
    return query.join(calendars, calendars.c.id == entries.c.calendar).join(
        scenarios, scenarios.c.id == calendars.c.scenario
    )


def _records(connection: Connection, query: Select[Any]) -> tuple[EntryRecord, ...]:
    rows = connection.execute(query).mappings().all()
    return tuple(EntryRecord(**{**row, "state": EntryState(row["state"])}) for row in rows)
