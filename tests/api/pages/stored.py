"""A plan made beforehand, kept as its job would have kept it."""

from __future__ import annotations

from dataclasses import dataclass

from api.storage import NewJob, NewOutcome, NewPlan, NewScenario, ScenarioFiles, Storage, Work
from scheduler.domain import Plan
from scheduler.export import OUTPUTS

NO_FILES = ScenarioFiles(b"", b"", b"")


@dataclass(frozen=True)
class Stored:
    """Ids of what was kept."""

    club: str
    scenario: str
    plan: str


def stored(
    storage: Storage, plan: Plan, name: str = "winter-year", files: ScenarioFiles = NO_FILES
) -> Stored:
    """Keep a plan and its scenario in a database, in its first club, made if there is none."""
    clubs = storage.clubs.page(None, 1).items
    club = clubs[0] if clubs else storage.clubs.add("Hendra Stargazers")
    season = plan.season
    new = NewScenario(name, plan.scenario, len(plan.targets), season.start, season.nights, files)
    scenario = storage.scenarios.add(club.id, new)
    return Stored(club.id, scenario.id, kept(storage, scenario.id, plan))


def kept(storage: Storage, scenario: str, plan: Plan, previous: str | None = None) -> str:
    """Keep a plan of a scenario and return its id."""
    job, _ = storage.jobs.add(NewJob(scenario, Work.PLAN, {}), 100)
    assert storage.jobs.begin(job.id)
    texts = {file: text(plan) for file, text in OUTPUTS.items()}
    made = NewPlan(
        plan.version, plan.objective, plan.bound, len(plan.visits), len(plan.unplaced), texts, previous
    )
    assert storage.jobs.finish(job.id, made)
    newest = storage.plans.newest(scenario)
    assert newest is not None
    return newest.id


def logged(storage: Storage, scenario: str, *lines: NewOutcome) -> None:
    """Add lines to a scenario's log."""
    storage.outcomes.add(scenario, lines, None, storage.scenarios.get(scenario).revision)
