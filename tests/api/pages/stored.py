"""A plan made beforehand, kept as its job would have kept it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime

from api.publishing import publication_of
from api.storage import NewFeed, NewJob, NewOutcome, NewPlan, NewScenario, ScenarioFiles, Shows, Storage, Work
from scheduler.answers import answer_to_json
from scheduler.domain import Plan
from scheduler.export import OUTPUTS
from scheduler.notices import notices_of

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


def told(storage: Storage, of: Stored, plan: Plan) -> str:
    """Let a scenario's calendar tell of a plan, and return the secret of a feed of its club."""
    notices = json.loads(answer_to_json(notices_of(plan)))
    files, then = ScenarioFiles(b"", b"", b""), datetime(2026, 12, 1, tzinfo=UTC)
    storage.calendars.publish(of.scenario, publication_of(of.plan, None, notices, files, then))
    return storage.feeds.add(of.club, NewFeed(Shows.CLUB)).secret
