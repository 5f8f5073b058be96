"""What the service keeps, and the only package that speaks SQL. What leaves it are frozen records."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from . import copying
from .busy_records import EngagementRecord, Known, NewEngagement
from .calendars import StoredCalendars
from .club_shape import ClubFile
from .clubs import StoredClubs
from .collections import StoredCollections
from .database import Clock, Database, is_id
from .engagements import StoredEngagements
from .engines import name_of, url_of
from .entries import StoredEntries
from .feeds import StoredFeeds
from .jobs import StoredJobs
from .keys import StoredKeys
from .outcomes import StoredOutcomes, log_tag
from .owners import StoredOwners
from .plans import StoredPlans
from .pushes import push_wish
from .records import (
    ClubRecord,
    KeyRecord,
    NewKey,
    NewOutcome,
    NewScenario,
    NewShared,
    Noun,
    OutcomeRecord,
    Page,
    Role,
    ScenarioFiles,
    ScenarioRecord,
    Sent,
    SharedRecord,
    Uses,
    tag_of,
)  # fmt: skip
from .results import (
    NEWEST,
    CalendarRecord,
    JobRecord,
    JobState,
    JobTally,
    NewJob,
    NewPlan,
    PlanFile,
    PlanRecord,
    Work,
    WorkerRecord,
)  # fmt: skip
from .scenarios import StoredScenarios
from .shared import StoredShared
from .told import (
    CollectionRecord,
    EntryRecord,
    EntryState,
    EntryVersion,
    FeedRecord,
    NewCollection,
    NewFeed,
    Publication,
    PushedRecord,
    Shows,
)  # fmt: skip
from .transfer import ClubTransfer
from .workers import StoredWorkers

__all__ = [
    "NEWEST", "CalendarRecord", "ClubFile", "ClubRecord", "CollectionRecord", "EngagementRecord",
    "EntryRecord", "EntryState", "EntryVersion", "FeedRecord", "JobRecord", "JobState", "JobTally",
    "KeyRecord", "Known", "NewCollection", "NewEngagement", "NewFeed", "NewJob", "NewKey", "NewOutcome",
    "NewPlan", "NewScenario", "NewShared", "Noun", "OutcomeRecord", "Page", "PlanFile", "PlanRecord",
    "Publication", "PushedRecord", "Role", "ScenarioFiles", "ScenarioRecord", "Sent", "SharedRecord", "Shows",
    "Storage", "StoredJobs", "Uses", "Work", "WorkerRecord", "is_id", "log_tag", "name_of", "push_wish",
    "tag_of", "url_of",
]  # fmt: skip


def _utc_now() -> datetime:
    return datetime.now(UTC)


class Storage:
    """Everything the service keeps, in one database; safe to use from several threads and processes.

    Parameters
    ----------
    database : A path of a SQLite file, made when it does not exist, or a URL as in
        "postgresql://user@host/name".
    now : Tells the time, aware UTC.
    upgrade : Whether an older format is brought up to date on PostgreSQL too; on SQLite it always is.

    Raises
    ------
    DatabaseUnusable
        It cannot be reached or read, is damaged, or of another format.
    """

    def __init__(self, database: Path | str, now: Clock = _utc_now, *, upgrade: bool = False) -> None:
        self._database = Database(url_of(database), now, upgrade)
        self.clubs = StoredClubs(self._database)
        self.keys = StoredKeys(self._database)
        self.shared = {noun: StoredShared(self._database, noun) for noun in Noun}
        self.scenarios = StoredScenarios(self._database)
        self.outcomes = StoredOutcomes(self._database)
        self.plans = StoredPlans(self._database)
        self.jobs = StoredJobs(self._database)
        self.calendars = StoredCalendars(self._database)
        self.engagements = StoredEngagements(self._database)
        self.entries = StoredEntries(self._database)
        self.feeds = StoredFeeds(self._database)
        self.collections = StoredCollections(self._database)
        self.workers = StoredWorkers(self._database)
        self.owners = StoredOwners(self._database)
        self.transfer = ClubTransfer(self._database)

    @property
    def address(self) -> str:
        """Where the database is, as a URL with its password: not to be shown."""
        return self._database.url.set(drivername=self._database.url.get_backend_name()).render_as_string(
            hide_password=False
        )

    def now(self) -> datetime:
        """Return the time by the clock everything here goes by, aware UTC."""
        return self._database.now()

    def check(self) -> None:
        """Raise `NotReady` unless the database answers."""
        self._database.check()

    def back_up(self, to: Path) -> Mapping[str, int]:
        """Write everything kept at this moment into a new SQLite file; see `copying.back_up`."""
        return copying.back_up(self._database, to)

    def move_to(self, other: Storage, *, although_at_work: bool = False) -> Mapping[str, int]:
        """Copy everything kept into another, empty database; see `copying.move`."""
        return copying.move(self._database, other._database, although_at_work)

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()
