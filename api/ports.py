"""What the service needs from others, as small interfaces: the scheduler's door, and a doer of long work."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from scheduler.domain import Cancel, Plan, Report, Scenario

from .storage import JobRecord, NewJob, ScenarioFiles

PLAN_JSON, SCHEDULE_CSV, NIGHTS_CSV, UNPLACED_CSV = "plan.json", "schedule.csv", "nights.csv", "unplaced.csv"
MOON_CSV, ODDS_CSV, CHANGES_CSV = "moon.csv", "odds.csv", "changes.csv"


class ReadScenario(Protocol):
    """Reads a scenario from its files' bytes."""

    def __call__(self, name: str, files: ScenarioFiles, outcomes_csv: bytes = b"") -> Scenario:
        """Return the scenario, or raise `ScenarioFaults` with everything wrong with the files."""


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


@dataclass(frozen=True, slots=True)
class Door:
    """The scheduler's door as the service uses it."""

    read_scenario: ReadScenario
    plan_year: PlanYear
    write_plan: WritePlan
    targets_json: Callable[[Scenario], str]
    joined_wish_lists: Callable[[bytes, bytes], bytes]
    differences_json: Callable[[str, str], str]


class Jobs(Protocol):
    """Does long work outside requests; where it stands is kept in storage."""

    def start(self, new: NewJob) -> JobRecord:
        """Keep a job and work on it when a worker is free; a repeated key returns the job made before."""

    def cancel(self, job: str) -> JobRecord:
        """Ask a job to stop; one that was waiting never begins, one at work keeps nothing."""

    def check(self) -> None:
        """Raise `NotReady` unless new jobs will be worked on."""

    def close(self) -> None:
        """Stop all work; what is unfinished ends as interrupted."""


def scheduler_door() -> Door:
    """Return the real scheduler's door; its heavy libraries are imported when it is first used."""
    return Door(_read_scenario, _plan_year, _write_plan, _targets_json, _joined_wish_lists, _differences_json)


def _read_scenario(name: str, files: ScenarioFiles, outcomes_csv: bytes = b"") -> Scenario:
    import scheduler

    scenario: Scenario = scheduler.read_scenario_texts(
        name, files.scenario_toml, files.wish_list_csv, outcomes_csv, files.forecast_csv
    )
    return scenario


def _plan_year(
    scenario: Scenario, *, version: int, seed: int, seconds: float, years: int, report: Report,
    cancel: Cancel,
) -> Plan:  # fmt: skip
    import scheduler

    plan: Plan = scheduler.plan_year(
        scenario, version=version, seed=seed, seconds=seconds, years=years, report=report, cancel=cancel
    )
    return plan


def _write_plan(plan: Plan) -> Mapping[str, str]:
    from scheduler import export

    return {
        PLAN_JSON: export.plan_to_json(plan),
        SCHEDULE_CSV: export.schedule_csv(plan),
        NIGHTS_CSV: export.nights_csv(plan),
        UNPLACED_CSV: export.unplaced_csv(plan),
        MOON_CSV: export.moon_diary_csv(plan),
        ODDS_CSV: export.odds_csv(plan),
        CHANGES_CSV: export.changes_csv(plan),
    }


def _targets_json(scenario: Scenario) -> str:
    import scheduler

    told: str = scheduler.answer_to_json({"targets": scenario.targets})
    return told


def _joined_wish_lists(kept: bytes, added: bytes) -> bytes:
    import scheduler

    joined: bytes = scheduler.joined_wish_lists(kept, added)
    return joined


def _differences_json(earlier: str, later: str) -> str:
    import scheduler

    first, second = scheduler.plan_from_json(earlier), scheduler.plan_from_json(later)
    told: str = scheduler.answer_to_json(scheduler.differences_of(first, second))
    return told
