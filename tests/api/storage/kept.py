"""Something of everything the service keeps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

from api.storage import (
    JobRecord,
    NewEngagement,
    NewFeed,
    NewJob,
    NewKey,
    NewOutcome,
    NewPlan,
    NewScenario,
    NewShared,
    Noun,
    Publication,
    Role,
    ScenarioFiles,
    Sent,
    Shows,
    Storage,
    Work,
)  # fmt: skip
from scheduler.domain import Span

NEW = NewScenario("winter-year", "A year", 2, date(2026, 9, 1), 365, ScenarioFiles(b"toml", b"csv"))
NEWER = NewScenario(
    "winter-year", "Ein Jahr, größer", 3, date(2026, 10, 1), 300,
    ScenarioFiles("title = \"größer\"\r\n".encode(), b"\xef\xbb\xbfcsv\x00\xff", b"forecast"),
)  # fmt: skip
LINE = NewOutcome(date(2026, 9, 12), "clear", 240, ("M 13", "M 57"), (), ("M 1",), "dew, and an owl", 21.37)
CLOUD = NewOutcome(date(2026, 9, 13), "clouded")


def a_plan(version: int, **other: Any) -> NewPlan:
    """Return a plan of that version."""
    files = {"plan.json": f'{{"version": {version}}}', "schedule.csv": "target\r\nM 13 (größer)\r\n"}
    plan = NewPlan(version, objective=3.5, bound=4.0, visits=1, unplaced=1, files=files)
    return replace(plan, **other)


def a_scenario(storage: Storage) -> str:
    """Keep a scenario of a club of its own and return its id."""
    return storage.scenarios.add(storage.clubs.add("Larkmoor").id, NEW).id


def a_job(scenario: str, work: Work = Work.PLAN, key: str | None = None, **wish: Any) -> NewJob:
    """Return a job to be asked for."""
    return NewJob(scenario, work, wish, key)


def begun(storage: Storage, scenario: str, work: Work = Work.PLAN) -> str:
    """Return the id of a new job at work."""
    job, _ = storage.jobs.add(a_job(scenario, work), 99)
    assert storage.jobs.begin(job.id) is not None
    return job.id


def planned(storage: Storage, scenario: str, version: int, **other: Any) -> str:
    """Keep a plan of that version and return its id."""
    job = begun(storage, scenario)
    assert storage.jobs.finish(job, a_plan(version, **other))
    plan = storage.jobs.get(job).plan
    assert plan is not None
    return plan


def a_night(title: str = "Night out: M 13", hour: int = 20, **other: Any) -> dict[str, Any]:
    """What members are told of a night of September 2026."""
    start = datetime(2026, 9, 12, hour, 0, tzinfo=UTC)
    return {
        "start": start.isoformat(), "end": start.replace(hour=23).isoformat(), "title": title,
        "place": "Allotment", "observers": ["Jory"], "categories": ["Observing"],
        "lines": ["Meet at the größer gate.", "", "M 13 (globular cluster)"], "care": ["Mind the owl."],
        "clear_odds": 0.4, **other,
    }  # fmt: skip


def told(storage: Storage, scenario: str, plan: str, **nights: dict[str, Any]) -> Publication:
    """A plan held against what the calendar shows; nights by evening, as in e20260912."""
    by_evening = {f"{day[1:5]}-{day[5:7]}-{day[7:]}": night for day, night in nights.items()}
    today = date(2026, 9, 1)
    return Publication(
        plan, storage.calendars.shown(scenario), by_evening, today, {"2026-09-12": ["M 57 added"]}, (), today
    )


@dataclass(frozen=True)
class Filled:
    """What `fill` kept: ids, in the order they were made."""

    club: str
    shared: tuple[str, ...]
    scenarios: tuple[str, ...]
    plans: tuple[str, ...]
    jobs: tuple[str, ...]
    keys: tuple[str, ...]


def fill(storage: Storage, name: str = "Larkmoor") -> Filled:
    """Keep a club with something of everything; its jobs ended in every way."""
    club = storage.clubs.add(name).id
    settings = {"latitude_deg": 54.5, "horizon": [[0, 10], [90, 5.5]], "nested": {"a": None, "b": [True]}}
    shared = tuple(storage.shared[noun].add(club, NewShared(f"My {noun}", settings)).id for noun in Noun)
    known = {"zone": "Europe/London", "host": None, "read": None, "events": 1, "problem": None}
    night = Span(datetime(2026, 9, 12, 19, tzinfo=UTC), datetime(2026, 9, 12, 21, tzinfo=UTC))
    own = NewEngagement("choir", date(2026, 9, 1), date(2027, 9, 1), known, b"sealed", (night,))
    storage.engagements.add(shared[list(Noun).index(Noun.MEMBER)], own, 9)
    keys = (
        storage.keys.add(NewKey(club, Role.PLANNER, "the planner's"), "a" * 64).id,
        storage.keys.add(NewKey(club, Role.READER, "old", datetime(2026, 1, 1, tzinfo=UTC)), "b" * 64).id,
    )
    first = storage.scenarios.add(club, NEW, {"member": [shared[0]], "site": [shared[1]]}).id
    storage.outcomes.add(first, [LINE, CLOUD], 0)
    plan = planned(storage, first, 1)
    storage.scenarios.replace(first, NEWER, None)
    storage.outcomes.add(first, [CLOUD], 2, sent=Sent("a key of the sender's"))
    second = planned(storage, first, 2, previous=plan, objective=0.1 + 0.2, bound=1e300)
    storage.calendars.publish(first, told(storage, first, plan, e20260912=a_night(), e20260914=a_night()))
    storage.calendars.settle(first, True, 3, date(2026, 9, 1), None)
    storage.feeds.add(club, NewFeed(Shows.OBSERVER, observer="Jory"))
    storage.feeds.add(club, NewFeed(Shows.SCENARIO, scenario=first))
    publishing = begun(storage, first, Work.PUBLISH)
    assert storage.jobs.finish_by_publishing(
        publishing, told(storage, first, second, e20260912=a_night("Trip to größer")), '{"published": true}'
    )
    why = begun(storage, first, Work.WHY)
    assert storage.jobs.finish_with_answer(why, '{"why": "größer"}')
    failed = begun(storage, first)
    storage.jobs.stop(failed, {"type": "/problems/x", "errors": [{"pointer": "#/a"}]})
    cancelled, _ = storage.jobs.add(a_job(first, Work.ODDS, "a key", years=200, seconds=1.5), 99)
    storage.jobs.ask_cancel(cancelled.id)
    other = storage.scenarios.add(club, NEW).id
    kept = tuple(job.id for job in reversed(storage.jobs.page(club, None, 99).items))
    return Filled(club, shared, (first, other), (plan, second), kept, keys)


def jobs_of(storage: Storage, club: str) -> list[JobRecord]:
    """Return every job of a club, the newest first."""
    return list(storage.jobs.page(club, None, 1000).items)
