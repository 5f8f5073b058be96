"""A scheduler's door made by hand, so that the service is tested without sky or solver.

Its wish-list is `target,priority`, one a line; its plan visits the first target and leaves the last unplaced.
"""

from __future__ import annotations

import csv
import io
import json
import os
import pickle
import signal
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from itertools import accumulate
from pathlib import Path
from random import Random
from typing import Any

from api.ports import Door, Jobs
from api.seal import SEAL_KEY, Seal, made_seal_key
from api.settings import Settings
from api.shapes.samples import CALENDAR_ICS
from api.storage import JobRecord, NewJob, ScenarioFiles, Storage
from scheduler import joined_wish_lists
from scheduler.domain import (
    Availability,
    Cancel,
    ClearOdds,
    Darkness,
    FreeNight,
    Kind,
    Kit,
    Night,
    Odds,
    Outcome,
    OutcomeLog,
    Plan,
    Pointing,
    Progress,
    Reason,
    Report,
    Routine,
    Scenario,
    Season,
    Sight,
    Site,
    Span,
    Target,
    TargetOdds,
    Telescope,
    Unplaced,
    View,
    Visit,
    Went,
)  # fmt: skip
from scheduler.domain.kit import Eyepiece
from scheduler.errors import Cancelled, Fault, ScenarioFaults

TOML = b'title = "A year from the allotment"\n'
WISH_LIST = b"target,priority\r\nM 13,5\r\nM 57,3\r\n"

_EVENING = date(2026, 9, 12)
_DUSK = datetime(2026, 9, 12, 20, 0, tzinfo=UTC)
_DARK = Span(_DUSK, _DUSK + timedelta(hours=7))


def read_scenario(
    name: str, files: ScenarioFiles, outcomes_csv: bytes = b"", today: date | None = None
) -> Scenario:
    """Read the small format above; every fault of a wish-list is told, as the real reader does."""
    faults = []
    targets = []
    try:
        toml, text = files.scenario_toml.decode(), files.wish_list_csv.decode()
    except UnicodeDecodeError:
        raise ScenarioFaults((Fault("wish-list.csv", None, None, "bytes", "UTF-8 text"),)) from None
    if not toml.startswith("title"):
        faults.append(Fault("scenario.toml", None, "site.latitude_deg", toml, "a number from -90 to 90"))
    for row, line in enumerate(csv.DictReader(io.StringIO(text, newline="")), start=2):
        if not line["target"].startswith("M "):
            faults.append(Fault("wish-list.csv", row, "target", line["target"], "a known target", ("M 1",)))
        if line.get("priority") not in {"1", "2", "3", "4", "5"}:
            faults.append(
                Fault(
                    "wish-list.csv", row, "priority", str(line.get("priority")), "a whole number from 1 to 5"
                )
            )
        else:
            targets.append(Target(line["target"], Kind.DEEP_SKY, 250.4, 36.5, priority=int(line["priority"])))
    if faults:
        raise ScenarioFaults(tuple(faults))
    return Scenario(
        name=name, title="A year from the allotment", season=Season(date(2026, 9, 1)),
        site=Site("Allotment", 50.0, 8.0, 120.0, "Europe/Berlin", 20.5, 0.2),
        kit=Kit((Telescope("Dobsonian", 200.0, 1200.0),), (Eyepiece("Wide", 24.0),)),
        availability=Availability(), clear_odds=ClearOdds((0.4,) * 12), targets=tuple(targets),
        outcomes=_log(outcomes_csv),
    )  # fmt: skip


def _log(outcomes_csv: bytes) -> OutcomeLog:
    rows = csv.DictReader(io.StringIO(outcomes_csv.decode(), newline=""))
    return OutcomeLog(tuple(
        Outcome(date.fromisoformat(row["evening"]), Went(row["outcome"]), notes=row["notes"]) for row in rows
    ))  # fmt: skip


def plan_of(scenario: Scenario, version: int, seed: int) -> Plan:
    """Return a small plan that obeys the nouns' own checks."""
    night = Night(_EVENING, Darkness.NIGHT, _DARK, _DARK, 0.1, 140.0, True, (), 420.0)
    sight = Sight(250.4, 36.5, "Hercules", 60.0, 270.0, 0.1, -20.0, 90.0, -30.0, 120.0, 0.8)
    visit = Visit(
        scenario.targets[0].name, _EVENING, 1, Span(_DUSK, _DUSK + timedelta(minutes=20)), sight, "dark",
        View("Dobsonian", "Wide", False, None, 50.0, 1.0, 4.0, "lowest power"),
        Pointing(None, None, None, "west"),
    )  # fmt: skip
    left = Unplaced(scenario.targets[-1].name, 1, Reason.NIGHTS_FULL, "every suitable night is full")
    return Plan(
        scenario=scenario.name, version=version, seed=seed, site=scenario.site, season=scenario.season,
        availability=scenario.availability, routine=Routine(), targets=scenario.targets,
        nights=(FreeNight(night, _DARK, 0.4),), visits=(visit,), standbys=(),
        unplaced=(left,), objective=3.5, bound=4.0, kit=scenario.kit, observers=scenario.observers,
        guests=scenario.guests, diary=(night,),
    )  # fmt: skip


def write_plan(plan: Plan) -> Mapping[str, str]:
    """Write the plan's bare bones under the names of its files."""
    visits = [[v.target, str(v.evening)] for v in plan.visits]
    targets = [[target.name, target.priority] for target in plan.targets]
    body = {
        "scenario": plan.scenario, "version": plan.version, "seed": plan.seed, "visits": visits,
        "targets": targets, "odds": None if plan.odds is None else {"years": plan.odds.years},
    }  # fmt: skip
    return {
        "plan.json": json.dumps(body),
        "schedule.csv": "target,evening\r\n" + "".join(f"{name},{day}\r\n" for name, day in visits),
        "nights.csv": "evening\r\n" + "".join(f"{night.evening}\r\n" for night in plan.nights),
        "unplaced.csv": "target,reason\r\n" + "".join(f'{u.target},"{u.reason}"\r\n' for u in plan.unplaced),
        "moon.csv": "evening\r\n" + "".join(f"{night.evening}\r\n" for night in plan.diary),
        "changes.csv": "target\r\n",
        "odds.csv": "target\r\n" + "".join(f"{target.name}\r\n" for target in plan.targets),
    }


def read_plan(text: str) -> Plan:
    """Read back what `write_plan` wrote as plan.json."""
    body = json.loads(text)
    targets = tuple(Target(name, Kind.DEEP_SKY, 250.4, 36.5, priority=at) for name, at in body["targets"])
    scenario = read_scenario(body["scenario"], ScenarioFiles(TOML, WISH_LIST))
    return plan_of(replace(scenario, targets=targets), body["version"], body["seed"])


def targets_json(scenario: Scenario) -> str:
    told = [{"name": target.name, "priority": target.priority} for target in scenario.targets]
    return json.dumps({"targets": told})


def sky_json(scenario: Scenario, at: str | None) -> str:
    return json.dumps({"over": scenario.site.name, "at": at})


def dates_json(scenario: Scenario, at: str | None) -> str:
    """Tell of a whole day for each target from the season's first on, and of a night."""
    first = scenario.season.start
    dates = [
        {
            "sort": "new Moon", "day": str(first + timedelta(days=day)), "whole_day": True,
            "start": f"{first + timedelta(days=day)}T00:00:00Z",
            "end": f"{first + timedelta(days=day + 1)}T00:00:00Z", "title": f"A day for {target.name}",
            "lines": ["What to see.", "And when; where, too."], "categories": ["Sky", "Moon"],
        }
        for day, target in enumerate(scenario.targets)
    ]  # fmt: skip
    night = {
        "sort": "lunar eclipse", "day": str(first), "whole_day": False, "start": f"{first}T20:00:00Z",
        "end": f"{first}T21:30:00Z", "title": "An eclipse", "lines": ["Look up."],
        "categories": ["Sky", "Eclipses"],
    }  # fmt: skip
    return json.dumps({"dates": [*dates, night]})


def differences_json(earlier: str, later: str) -> str:
    versions = [json.loads(plan)["version"] for plan in (earlier, later)]
    return json.dumps({"from": versions[0], "to": versions[1]})


def notices_json(plan: str, shown: str | None) -> str:
    """Tell of a score of nights far ahead, which ones the plan's seed says; of the same seed, the same."""
    seed, targets = json.loads(plan)["seed"], json.loads(plan)["targets"]
    nights = []
    for day in sorted(Random(f"nights {seed}").sample(range(365), 20)):
        evening = date(2051, 1, 1) + timedelta(days=day)
        start = datetime(evening.year, evening.month, evening.day, 18 + (day + seed) % 3, 40, tzinfo=UTC)
        nights.append({
            "evening": evening.isoformat(), "start": start.isoformat(), "place": "Allotment",
            "end": (start + timedelta(hours=3, minutes=day % 60)).isoformat(),
            "title": f"Night out: {targets[day % len(targets)][0]}", "observers": [("Jory", "Wren")[day % 2]],
            "categories": ["Observing"], "lines": [f"Meet at {start:%H:%M}.", "", f"seed {seed}"],
            "care": ["Mind the owl."], "clear_odds": 0.25,
        })  # fmt: skip
    amends = {} if shown is None else {one["evening"]: ["the solver thought better"] for one in nights}
    return json.dumps({"nights": nights, "open_from": "2051-01-01", "amends": amends})


class _Mark:
    """An event that other processes see: a file that is there or not."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def set(self) -> None:
        self._path.touch()

    def clear(self) -> None:
        self._path.unlink(missing_ok=True)

    def is_set(self) -> bool:
        return self._path.exists()

    def wait(self, within_s: float) -> bool:
        deadline = time.monotonic() + within_s
        while not self.is_set() and time.monotonic() < deadline:
            time.sleep(0.005)
        return self.is_set()


class StandInPlanner:
    """A planner under the test's thumb, in whatever process: it waits until it is let go or cancelled.

    Everything said to it, and by it, is a file in `folder`.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self.began, self.let_go = _Mark(folder / "began"), _Mark(folder / "let_go")
        self._held, self._deaf = _Mark(folder / "held"), _Mark(folder / "deaf")
        self._years_held = _Mark(folder / "years_held")

    @property
    def held(self) -> bool:
        """Whether it waits."""
        return self._held.is_set()

    @held.setter
    def held(self, held: bool) -> None:
        (self._held.set if held else self._held.clear)()

    @property
    def years_held(self) -> bool:
        """Whether weather years wait."""
        return self._years_held.is_set()

    @years_held.setter
    def years_held(self, held: bool) -> None:
        (self._years_held.set if held else self._years_held.clear)()

    @property
    def deaf(self) -> bool:
        """Whether it does not listen to being cancelled."""
        return self._deaf.is_set()

    @deaf.setter
    def deaf(self, deaf: bool) -> None:
        (self._deaf.set if deaf else self._deaf.clear)()

    @property
    def pace_s(self) -> float:
        """How long each step takes that is not held."""
        kept = self._folder / "pace_s"
        return float(kept.read_text()) if kept.exists() else 0.0

    @pace_s.setter
    def pace_s(self, pace_s: float) -> None:
        (self._folder / "pace_s").write_text(str(pace_s))

    @property
    def rough(self) -> str:
        """What it does to its process instead of planning: "eat" its memory, "crash", or nothing."""
        kept = self._folder / "rough"
        return kept.read_text() if kept.exists() else ""

    @rough.setter
    def rough(self, rough: str) -> None:
        (self._folder / "rough").write_text(rough)

    @property
    def fails_with(self) -> Exception | None:
        """What it raises instead of a plan."""
        kept = self._folder / "fails_with"
        error: Exception | None = pickle.loads(kept.read_bytes()) if kept.exists() else None
        return error

    @fails_with.setter
    def fails_with(self, error: Exception | None) -> None:
        kept = self._folder / "fails_with"
        if error is None:
            kept.unlink(missing_ok=True)
        else:
            kept.write_bytes(pickle.dumps(error))

    @property
    def asked(self) -> list[tuple[str, int, int, float]]:
        """Scenario, version, seed and seconds of every plan asked for."""
        return [tuple(entry) for entry in self._told("asked")]

    @property
    def lived(self) -> list[tuple[int, int, int]]:
        """First year, years, and the number of the process of every share of years lived through."""
        return [tuple(entry) for entry in self._told("lived")]

    @property
    def begun(self) -> list[tuple[str, float, int]]:
        """Which step (its sort, seed and first year), when by the monotonic clock, and by which process."""
        return [(step, at_s, process) for step, at_s, process in self._told("begun")]

    @property
    def ended(self) -> list[tuple[str, float, int]]:
        """Every step that came to its end, as in `begun`."""
        return [(step, at_s, process) for step, at_s, process in self._told("ended")]

    @contextmanager
    def step(self, sort: str, seed: int, first: int, cancel: Cancel) -> Iterator[None]:
        """Take a step's time, told when it begins and when it ends."""
        name = f"{sort} {seed} {first}"
        self.tell("begun", name, time.monotonic(), os.getpid())
        until_s = time.monotonic() + self.pace_s
        while time.monotonic() < until_s:
            if cancel.is_set():
                raise Cancelled
            time.sleep(0.005)
        yield
        self.tell("ended", name, time.monotonic(), os.getpid())

    def tell(self, what: str, *entry: object) -> None:
        """Note something for the test to read."""
        with (self._folder / what).open("a") as notes:
            notes.write(json.dumps(entry) + "\n")

    def _told(self, what: str) -> list[list[Any]]:
        notes = self._folder / what
        return [json.loads(line) for line in notes.read_text().splitlines()] if notes.exists() else []

    def wait(self, cancel: Cancel) -> None:
        """Wait as told, and fail as told."""
        if self.rough == "crash":
            os.kill(os.getpid(), signal.SIGSEGV)
        eaten = []
        while self.rough == "eat":
            eaten.append(bytearray(10_000_000))
        deadline = time.monotonic() + 60
        while self.held and not self.let_go.is_set() and time.monotonic() < deadline:
            if cancel.is_set() and not self.deaf:
                raise Cancelled
            time.sleep(0.005)
        if self.fails_with is not None:
            raise self.fails_with

    @property
    def door(self) -> Callable[[], Door]:
        """Makes the scheduler's door with this planner behind it, in any process."""
        return partial(stand_in_door, self._folder)


def stand_in_door(folder: Path) -> Door:
    """Return a door with the planner of a folder behind it."""
    told = StandInPlanner(folder)

    def plan_year(
        scenario: Scenario, *, version: int, seed: int, seconds: float, years: int, report: Report,
        cancel: Cancel,
    ) -> Plan:  # fmt: skip
        told.tell("asked", scenario.name, version, seed, seconds)
        report(Progress("looking for opportunities", 0.25))
        report(Progress("assigning targets to nights", 0.5, objective=3.0, bound=4.5))
        told.began.set()
        with told.step("plan", seed, 0, cancel):
            told.wait(cancel)
            return plan_of(scenario, version, seed)

    def replan(
        previous: Plan, scenario: Scenario, *, seed: int, seconds: float, years: int, report: Report,
        cancel: Cancel,
    ) -> Plan:  # fmt: skip
        told.tell("asked", scenario.name, previous.version + 1, seed, seconds)
        told.began.set()
        told.wait(cancel)
        return plan_of(scenario, previous.version + 1, seed)

    def answer(
        plan: Plan | None, scenario: Scenario, wish: Mapping[str, Any], report: Report, cancel: Cancel
    ) -> str:
        told.began.set()
        told.wait(cancel)
        of = None if plan is None else plan.version
        return json.dumps({"of": of, "scenario": scenario.name, "target": wish.get("target")})

    return Door(
        read_scenario, plan_year, replan, write_plan, read_plan, partial(_StandInAhead, told),
        {"why": answer, "prices": answer, "what-if": answer}, targets_json, joined_wish_lists,
        differences_json, notices_json,
        {
            "up": sky_json, "moon": sky_json, "planets": sky_json, "weather": sky_json, "moon.csv": sky_json,
            "dates": dates_json,
        },
    )  # fmt: skip


class _StandInAhead:
    """The years ahead of a stand-in's plan: every target is done in half of them."""

    def __init__(self, told: StandInPlanner, plan: Plan, scenario: Scenario) -> None:
        self._told, self._plan = told, plan

    def lived(self, *, first: int, years: int, seed: int, report: Report, cancel: Cancel) -> str:
        self._told.tell("lived", first, years, os.getpid())
        report(Progress("living through weather years", 0.5))
        while self._told.years_held and not self._told.let_go.is_set():
            if cancel.is_set() and not self._told.deaf:
                raise Cancelled
            time.sleep(0.005)
        with self._told.step("years", seed, first, cancel):
            return json.dumps([first, years, seed])

    def with_odds(self, shares: Sequence[str], *, seed: int) -> Plan:
        lived = sorted(json.loads(share) for share in shares)
        starts = [0, *accumulate(years for _, years, _ in lived)]
        assert [first for first, _, _ in lived] == starts[:-1], "years left out or lived through twice"
        assert {of for _, _, of in lived} == {seed}
        years, count = starts[-1], len(self._plan.targets)
        odds = Odds(
            "stand-in", years, seed, tuple(TargetOdds(one.name, 0.5, 0.01, ()) for one in self._plan.targets),
            0.5 * count, 0.1, 0.0, 0.5 * count, float(count), 12.0, (),
        )  # fmt: skip
        return replace(self._plan, odds=odds)

    def odds(self, shares: Sequence[str], *, seed: int) -> str:
        return json.dumps({"years": sum(json.loads(share)[1] for share in shares), "seed": seed})


class StandInFetch:
    """What lies elsewhere, without a connection: calendars by address, one for every other address.

    An exception in place of a calendar is raised.
    """

    def __init__(self, calendars: Mapping[str, bytes | Exception] | None = None) -> None:
        self.calendars = dict(calendars or {})
        self.asked: list[str] = []

    def __call__(self, address: str) -> bytes:
        self.asked.append(address)
        found = self.calendars.get(address, CALENDAR_ICS.encode())
        if isinstance(found, Exception):
            raise found
        return found


_SEAL = Seal({SEAL_KEY: made_seal_key()})


def a_seal() -> Seal:
    """Return the seal of the tests, whatever the environment holds."""
    return _SEAL


def jobs_here(settings: Settings, storage: Storage, door: Callable[[], Door]) -> Jobs:
    """Work on jobs in this very process, without children, and without reaching any calendar server."""
    # Not at the top: children of ours need the stand-ins, and nothing of these.
    from api.ports import Outside
    from api.worker import jobs_of

    from .caldav.rough_server import RoughServer

    outside = Outside(settings.address, RoughServer().transport)
    return jobs_of(settings, storage, door, in_children=False, outside=outside)


def no_work(settings: Settings, storage: Storage, door: Callable[[], Door]) -> Jobs:
    """Take jobs in and let them wait: for a service beside another one in the same process."""
    return _Waiting(storage, settings.waiting_jobs)


class _Waiting:
    def __init__(self, storage: Storage, most: int) -> None:
        self._kept, self._most = storage.jobs, most

    def start(self, new: NewJob) -> JobRecord:
        return self._kept.add(new, self._most)[0]

    def cancel(self, job: str) -> JobRecord:
        return self._kept.ask_cancel(job)

    def check(self) -> None:
        pass

    def close(self) -> None:
        pass
