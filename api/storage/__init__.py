"""What the service keeps, and the only package that speaks SQL. What leaves it are frozen records."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from .database import Clock, Database
from .jobs import StoredJobs
from .plans import StoredPlans
from .records import (
    JobRecord,
    JobState,
    NewJob,
    NewPlan,
    NewScenario,
    Page,
    PlanFile,
    PlanRecord,
    ScenarioFiles,
    ScenarioRecord,
    tag_of,
)  # fmt: skip
from .scenarios import StoredScenarios

__all__ = [
    "JobRecord", "JobState", "NewJob", "NewPlan", "NewScenario", "Page", "PlanFile", "PlanRecord",
    "ScenarioFiles", "ScenarioRecord", "Storage", "tag_of",
]  # fmt: skip


def _utc_now() -> datetime:
    return datetime.now(UTC)


class Storage:
    """Scenarios, jobs and plans in one SQLite file; safe to use from several threads.

    Parameters
    ----------
    path : The file; made when it does not exist.
    now : Tells the time, aware UTC.

    Raises
    ------
    DatabaseUnusable
        If the file is no database, or one of another version.
    """

    def __init__(self, path: Path, now: Clock = _utc_now) -> None:
        self._database = Database(path, now)
        self.scenarios = StoredScenarios(self._database)
        self.jobs = StoredJobs(self._database)
        self.plans = StoredPlans(self._database)

    def check(self) -> None:
        """Raise `NotReady` unless the database answers."""
        self._database.check()

    def close(self) -> None:
        """Let go of the file."""
        self._database.close()
