"""What comes of a scenario: jobs, the plans they make, calendars that show them, and who is at work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from .records import Revised


class JobState(StrEnum):
    """Where a job stands. It ends done, failed or cancelled, and then never changes."""

    WAITING = "waiting"
    AT_WORK = "at work"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def ended(self) -> bool:
        """Whether nothing more will happen."""
        return self in {JobState.DONE, JobState.FAILED, JobState.CANCELLED}


class Work(StrEnum):
    """What a job does."""

    PLAN = "plan"
    REPLAN = "re-plan"
    ODDS = "odds"
    WHAT_IF = "what-if"
    WHY = "why"
    PRICES = "prices"
    PUBLISH = "publish"
    PUSH = "push"


NEWEST = "newest"
"""What a wish follows `after`, where it names no plan: the newest there is when the job is made, if any."""


@dataclass(frozen=True, slots=True)
class NewJob:
    """Long work asked for: on which scenario, and with which wish.

    Attributes
    ----------
    scenario : Whose newest revision and log are worked on.
    work : What is done.
    wish : The particulars, as JSON holds them: seed, seconds, years, plan, target ...
    key : Sent again with the same wish it returns the job made before; of its club alone.
    """

    scenario: str
    work: Work
    wish: Mapping[str, Any]
    key: str | None = None


@dataclass(frozen=True, slots=True)
class JobRecord:
    """A kept job. It works on `revision` of its scenario and the first `outcomes` lines of its log.

    `fraction` runs from 0 to 1; `objective` and `bound` are those of the best plan so far; `problem` says
    why it failed; `plan` is the id of the plan it made; `answered` tells that its answer can be read;
    `cancelling` tells that it has been asked to stop.
    """

    number: int
    id: str
    club: str
    scenario: str
    revision: int
    outcomes: int
    work: Work
    wish: Mapping[str, Any]
    state: JobState
    cancelling: bool
    stage: str
    fraction: float
    objective: float | None
    bound: float | None
    plan: str | None
    answered: bool
    problem: Mapping[str, Any] | None
    created: datetime
    started: datetime | None
    ended: datetime | None


@dataclass(frozen=True, slots=True)
class JobTally:
    """How many jobs of one work stand in one state, and how long those that ended were at work."""

    work: Work
    state: JobState
    jobs: int
    at_work_s: float


@dataclass(frozen=True, slots=True)
class NewPlan:
    """A plan as its job made it: its worth, and its files by name, as in "schedule.csv".

    `previous` is the id of the plan it follows, None for one planned from nothing.
    """

    version: int
    objective: float
    bound: float
    visits: int
    unplaced: int
    files: Mapping[str, str]
    previous: str | None = None


@dataclass(frozen=True, slots=True)
class PlanRecord:
    """A kept plan; `version` counts the plans of its scenario.

    It answers `revision` and the first `outcomes` lines of the log, and follows the plan `previous`.
    """

    number: int
    id: str
    scenario: str
    revision: int
    outcomes: int
    previous: str | None
    version: int
    objective: float
    bound: float
    visits: int
    unplaced: int
    created: datetime


@dataclass(frozen=True, slots=True)
class PlanFile:
    """One file of a plan; `digest` is the same exactly when the text is."""

    text: str
    digest: str


@dataclass(frozen=True, slots=True)
class CalendarRecord(Revised):
    """Which plan of a scenario its calendar shows; `revision` counts the publications.

    `follows` tells whether every re-plan is published by itself; nights within `announce_weeks` of their
    publication are announced.
    """

    number: int
    id: str
    scenario: str
    plan: str
    follows: bool
    announce_weeks: int
    revision: int
    created: datetime
    changed: datetime


@dataclass(frozen=True, slots=True)
class WorkerRecord:
    """A process at work: it raises `beat` while it lives."""

    executor: str
    host: str
    beat: int
    started: datetime
