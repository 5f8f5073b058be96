"""Holds what is kept against what was acknowledged: all it finds is a loss, or one result too many."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

from api.storage import EntryState, JobRecord, JobState, Noun, Page, PlanRecord, ScenarioRecord, Storage, Work

from .crowd import Ledger
from .stand_ins import notices_json

Record = TypeVar("Record")


def everything_on(page: Callable[[int | None], Page[Record]]) -> list[Record]:
    """Return what all pages hold, the oldest first."""
    found: list[Record] = []
    cursor: int | None = None
    while True:
        one = page(cursor)
        found += one.items
        cursor = one.cursor
        if cursor is None:
            return found[::-1]


def faults_of(storage: Storage, club: str, ledger: Ledger, copy: Path) -> list[str]:
    """Return all that is lost, doubled, or otherwise than acknowledged; nothing of it should be there.

    Parameters
    ----------
    storage : What is kept, with nobody at work on it any more.
    club : The club everything is in.
    ledger : What was acknowledged.
    copy : A file not there yet: a backup, which counts only once it is checked, is written to it.
    """
    scenarios = everything_on(lambda cursor: storage.scenarios.page(club, cursor, 200))
    jobs = everything_on(lambda cursor: storage.jobs.page(club, cursor, 200))
    faults = [
        *ledger.odd,
        *_scenarios(scenarios, ledger),
        *_jobs(jobs, ledger),
        *_members(storage, club, ledger),
    ]
    for scenario in scenarios:
        faults += _revisions(storage, scenario, ledger)
        faults += _lines(storage, scenario, ledger)
        faults += _plans(storage, scenario, [job for job in jobs if job.scenario == scenario.id])
    storage.check()
    storage.back_up(copy)
    return faults


def _scenarios(scenarios: list[ScenarioRecord], ledger: Ledger) -> Iterator[str]:
    kept = {one.id: one.name for one in scenarios}
    for scenario, name in ledger.scenarios.items():
        if kept.get(scenario) != name:
            yield f"scenario {scenario} is lost: {name!r}, kept {kept.get(scenario)!r}"
    strange = set(kept.values()) - set(ledger.scenarios.values()) - ledger.unsure
    yield from (f"nobody sent the scenario {name!r}" for name in strange)
    yield from (f"{count} scenarios {name!r}" for name, count in Counter(kept.values()).items() if count > 1)


def _revisions(storage: Storage, scenario: ScenarioRecord, ledger: Ledger) -> Iterator[str]:
    for of, revision in ledger.edits:
        if of == scenario.id and revision > scenario.revision:
            yield f"revision {revision} of {of} is lost"
    for revision in range(2, scenario.revision + 1):
        kept = storage.scenarios.files(scenario.id, revision)[0].wish_list_csv
        acknowledged = ledger.edits.get((scenario.id, revision))
        if acknowledged is None and kept not in ledger.unsure:
            yield f"nobody made revision {revision} of {scenario.id}: {kept!r}"
        if acknowledged not in (None, kept):
            yield f"revision {revision} of {scenario.id}: {acknowledged!r} acknowledged, {kept!r} kept"


def _lines(storage: Storage, scenario: ScenarioRecord, ledger: Ledger) -> Iterator[str]:
    kept = storage.outcomes.lines(scenario.id)
    if [one.line for one in kept] != list(range(1, len(kept) + 1)):
        yield f"the log of {scenario.id} has gaps"
    notes = {one.line: one.notes for one in kept}
    mine = {line: note for (of, line), note in ledger.lines.items() if of == scenario.id}
    for line, note in mine.items():
        if notes.get(line) != note:
            yield f"line {line} of {scenario.id}: {note!r} acknowledged, {notes.get(line)!r} kept"
    for line, note in notes.items():
        if line not in mine and note not in ledger.unsure:
            yield f"nobody logged line {line} of {scenario.id}: {note!r}"
    yield from (f"{note!r} is logged {count} times" for note, count in Counter(notes.values()).items()
                if count > 1)  # fmt: skip


def _members(storage: Storage, club: str, ledger: Ledger) -> Iterator[str]:
    kept = everything_on(lambda cursor: storage.shared[Noun.MEMBER].page(club, cursor, 200))
    ages: dict[str, Any] = {one.id: one.settings.get("age") for one in kept}
    for member, age in ledger.members.items():
        if ages.get(member) != age:
            yield f"member {member}: age {age} acknowledged, {ages.get(member)} kept"
    yield from (f"nobody made the member {member}" for member in ages.keys() - ledger.members.keys())


def _jobs(jobs: list[JobRecord], ledger: Ledger) -> Iterator[str]:
    kept = {job.id: job for job in jobs}
    known = set(ledger.jobs.values())
    yield from (f"job {job} is lost" for job in known - kept.keys())
    yield from (f"nobody asked for job {job}" for job in kept.keys() - known)
    for job in jobs:
        if not job.state.ended or job.state is JobState.FAILED:
            yield f"job {job.id} is {job.state}: {job.problem}"
        if job.id in ledger.cancelled and job.state is not JobState.CANCELLED:
            yield f"job {job.id} was to be cancelled and is {job.state}"
        if job.state is JobState.CANCELLED and job.id not in ledger.cancelled:
            yield f"nobody cancelled job {job.id}"
        results = (job.plan is not None) + job.answered
        if results != (job.state is JobState.DONE):
            yield f"job {job.id} is {job.state} and has {results} results"


def _plans(storage: Storage, scenario: ScenarioRecord, jobs: list[JobRecord]) -> Iterator[str]:
    plans: list[PlanRecord] = everything_on(lambda cursor: storage.plans.page(scenario.id, cursor, 200))
    if [one.version for one in plans] != list(range(1, len(plans) + 1)):
        yield f"versions of {scenario.id}: {[one.version for one in plans]}"
    made = Counter(job.plan for job in jobs if job.work is Work.PLAN and job.state is JobState.DONE)
    if made != Counter(one.id for one in plans):
        yield f"plans of {scenario.id}: {made} made, {[one.id for one in plans]} kept"
    by_id = {one.id: one for one in plans}
    for job in jobs:
        plan = by_id.get(job.plan or "")
        if plan and (plan.revision, plan.outcomes) != (job.revision, job.outcomes):
            yield f"plan {plan.id} answers another scenario than job {job.id} was given"
    for plan in plans:
        text = storage.plans.file(plan.id, "plan.json").text
        if f'"version": {plan.version}' not in text or '"odds": {"years": 100}' not in text:
            yield f"plan {plan.id} is not whole: {text[:200]}"
    published = [job for job in jobs if job.work is Work.PUBLISH and job.state is JobState.DONE]
    if published:
        shown = storage.calendars.of(scenario.id).plan
        if shown != max(published, key=lambda job: job.number).wish["plan"]:
            yield f"the calendar of {scenario.id} does not show the plan published last"
        yield from _nights(storage, scenario.id, shown)


def _nights(storage: Storage, scenario: str, shown: str) -> Iterator[str]:
    """The nights members are told of are those of the plan that is shown, whatever was published before."""
    notices = json.loads(notices_json(storage.plans.file(shown, "plan.json").text, None))["nights"]
    wanted = {(one["evening"], one["title"]) for one in notices}
    entries = [one for one in storage.entries.of_calendar(scenario) if one.state is EntryState.PLANNED]
    told = {(one.evening.isoformat(), one.told["title"]) for one in entries}
    if told != wanted:
        yield f"the calendar of {scenario} tells other nights than its plan: {sorted(told ^ wanted)}"
