"""What storage takes and gives: frozen records, none of them tied to the database."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any, Generic, TypeVar

Record = TypeVar("Record")


@dataclass(frozen=True, slots=True)
class Page(Generic[Record]):
    """A page of records, newest first; `cursor` continues after its last one, None at the end."""

    items: tuple[Record, ...]
    cursor: int | None


@dataclass(frozen=True, slots=True)
class ScenarioFiles:
    """A scenario's two files, byte for byte as they came."""

    scenario_toml: bytes
    wish_list_csv: bytes


@dataclass(frozen=True, slots=True)
class NewScenario:
    """A scenario that has been read without a fault, and what lists say about it."""

    name: str
    title: str
    targets: int
    season_start: date
    season_nights: int
    files: ScenarioFiles


@dataclass(frozen=True, slots=True)
class ScenarioRecord:
    """A kept scenario; `revision` counts its changes from 1, `number` orders all scenarios by age."""

    number: int
    id: str
    revision: int
    name: str
    title: str
    targets: int
    season_start: date
    season_nights: int
    created: datetime
    changed: datetime

    @property
    def tag(self) -> str:
        """Its entity tag, as If-Match and If-None-Match quote it."""
        return tag_of(self.revision)


def tag_of(revision: int) -> str:
    """Return the entity tag of a revision.

    Examples
    --------
    >>> tag_of(3)
    '"r3"'
    """
    return f'"r{revision}"'


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


@dataclass(frozen=True, slots=True)
class NewJob:
    """A plan asked for: of which scenario, with which solver seed, for how long. `key` repeats a request."""

    scenario: str
    seed: int
    seconds: float
    key: str | None = None


@dataclass(frozen=True, slots=True)
class JobRecord:
    """A kept job. It plans `revision` of its scenario, however that changes meanwhile.

    `fraction` runs from 0 to 1; `objective` and `bound` are those of the best plan so far; `problem` says
    why it failed, `plan` is the id of what it made; `cancelling` tells that it has been asked to stop.
    """

    number: int
    id: str
    scenario: str
    revision: int
    seed: int
    seconds: float
    state: JobState
    cancelling: bool
    stage: str
    fraction: float
    objective: float | None
    bound: float | None
    plan: str | None
    problem: Mapping[str, Any] | None
    created: datetime
    started: datetime | None
    ended: datetime | None


@dataclass(frozen=True, slots=True)
class NewPlan:
    """A plan as its job made it: its worth, and its files by name, as in "schedule.csv"."""

    version: int
    objective: float
    bound: float
    visits: int
    unplaced: int
    files: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class PlanRecord:
    """A kept plan; `version` counts the plans of its scenario, `revision` is the one it answers."""

    number: int
    id: str
    scenario: str
    revision: int
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
