"""What the service needs from others, as small interfaces: the scheduler's door, and a doer of long work."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Protocol, TypeAlias

import httpx2

from scheduler.domain import Cancel, Plan, Report, Scenario

from .caldav import PinnedTransport
from .storage import JobRecord, NewJob, ScenarioFiles

PLAN_JSON, SCHEDULE_CSV, NIGHTS_CSV, UNPLACED_CSV = "plan.json", "schedule.csv", "nights.csv", "unplaced.csv"
MOON_CSV, ODDS_CSV, CHANGES_CSV = "moon.csv", "odds.csv", "changes.csv"


class ReadScenario(Protocol):
    """Reads a scenario from its files' bytes."""

    def __call__(
        self, name: str, files: ScenarioFiles, outcomes_csv: bytes = b"", today: date | None = None
    ) -> Scenario:
        """Return the scenario, or raise `ScenarioFaults` with everything wrong with the files.

        `today` : When a season without a start of its own begins; None for the site's date now.
        """


class PlanYear(Protocol):
    """Plans a scenario."""

    def __call__(
        self, scenario: Scenario, *, version: int, seed: int, seconds: float, years: int, report: Report,
        cancel: Cancel,
    ) -> Plan:  # fmt: skip
        """Return the plan, or raise `Cancelled` soon after `cancel` is set."""


class WritePlan(Protocol):
    """Writes a plan as files."""

    def __call__(self, plan: Plan) -> Mapping[str, str]:
        """Return the text of plan.json and of the six CSV files by these names."""


class Replan(Protocol):
    """Plans a scenario anew, near a plan before."""

    def __call__(
        self, previous: Plan, scenario: Scenario, *, seed: int, seconds: float, years: int, report: Report,
        cancel: Cancel,
    ) -> Plan:  # fmt: skip
        """Return the plan with its changes, or raise `Cancelled` soon after `cancel` is set."""


class ReadPlan(Protocol):
    """Reads a plan back from its plan.json."""

    def __call__(self, text: str) -> Plan:
        """Return the plan, or raise `UnreadablePlan`."""


class Ahead(Protocol):
    """A plan ready for its weather years to be lived through, by the plan's own policy."""

    def lived(self, *, first: int, years: int, seed: int, report: Report, cancel: Cancel) -> str:
        """Return a share of the years as JSON, or raise `Cancelled` soon after `cancel` is set."""

    def with_odds(self, shares: Sequence[str], *, seed: int) -> Plan:
        """Return the plan with the odds that all shares tell together."""

    def odds(self, shares: Sequence[str], *, seed: int) -> str:
        """Return these odds alone, as JSON."""


class AheadOf(Protocol):
    """Makes a plan ready for its years; what it returns may be kept, for making it takes seconds."""

    def __call__(self, plan: Plan, scenario: Scenario) -> Ahead:
        """Return what lies ahead of a plan of this scenario."""


class Answer(Protocol):
    """Answers a question about a scenario, and a plan of it where the question names one."""

    def __call__(
        self, plan: Plan | None, scenario: Scenario, wish: Mapping[str, Any], report: Report, cancel: Cancel
    ) -> str:
        """Return the answer as JSON, or raise `Cancelled` soon after `cancel` is set."""


class SkyQuestion(Protocol):
    """Answers a question about the sky over a scenario's site."""

    def __call__(self, scenario: Scenario, at: str | None) -> str:
        """Return the answer as text; `at` is a local date, or date and time, now where None."""


class Fetch(Protocol):
    """Fetches what lies at an address elsewhere."""

    def __call__(self, address: str) -> bytes:
        """Return it, or raise `AddressRefused` or `NotFetched`; neither tells more of it than its host."""


@dataclass(frozen=True, slots=True)
class Door:
    """The scheduler's door as the service uses it: `answers` by the name of the work, `sky` by question."""

    read_scenario: ReadScenario
    plan_year: PlanYear
    replan: Replan
    write_plan: WritePlan
    read_plan: ReadPlan
    ahead_of: AheadOf
    answers: Mapping[str, Answer]
    targets_json: Callable[[Scenario], str]
    joined_wish_lists: Callable[[bytes, bytes], bytes]
    differences_json: Callable[[str, str], str]
    notices_json: Callable[[str, str | None], str]
    sky: Mapping[str, SkyQuestion]


@dataclass(frozen=True, slots=True)
class Task:
    """A deed by its name, and what it is given: plain data only, so that another process can do it."""

    deed: str
    given: Mapping[str, Any]


Deed: TypeAlias = Callable[[Mapping[str, Any], Report, Cancel], str]
"""Does heavy work with what it is given and returns text; raises `Cancelled` when asked to stop."""
Deeds: TypeAlias = Callable[[], Mapping[str, Deed]]
"""Makes the deeds by their names; can be pickled, so that it can be called in another process."""


class Hands(Protocol):
    """Do heavy work, so that nobody else has to wait for it."""

    def do(self, task: Task, report: Report, cancel: Callable[[], bool]) -> str:
        """Do a task and return what it made.

        Parameters
        ----------
        task : What to do.
        report : Told how far the work has come.
        cancel : Asked a few times a second whether the work should stop; it then does within a second.

        Raises
        ------
        Cancelled
            If the work was asked to stop.
        OutOfTime, OutOfMemory
            If it took more than a job may.
        WorkCrashed
            If the process doing it died.
        WorkFailed
            If it met an error nobody foresaw.
        DuskwrightError
            Whatever else of our tree the deed raises, as itself.
        """

    def close(self) -> None:
        """Stop everything; what is at work is not finished."""


def _nobody_of_ours() -> httpx2.BaseTransport:
    return PinnedTransport(frozenset())


@dataclass(frozen=True, slots=True)
class Outside:
    """How work reaches beyond this service.

    Attributes
    ----------
    address : Where others reach the service, as links in events name it; no link where empty.
    transport : Makes what carries requests to calendar servers.
    """

    address: str = ""
    transport: Callable[[], httpx2.BaseTransport] = field(default=_nobody_of_ours)


class Jobs(Protocol):
    """Does long work outside requests; where it stands is kept in storage."""

    def start(self, new: NewJob) -> JobRecord:
        """Keep a job and work on it when a worker is free; a repeated key returns the job made before."""

    def cancel(self, job: str) -> JobRecord:
        """Ask a job to stop; one that was waiting never begins, one at work keeps nothing."""

    def check(self) -> None:
        """Raise `NotReady` unless new jobs are taken care of."""

    def close(self) -> None:
        """Stop all work and hand it back: it waits for another process, or for the next start."""
