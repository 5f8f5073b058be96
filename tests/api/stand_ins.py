"""A scheduler's door made by hand, so that the service is tested without sky or solver.

Its wish-list is `target,priority`, one a line; its plan visits the first target and leaves the last unplaced.
"""

from __future__ import annotations

import csv
import io
import json
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from threading import Event

from api.ports import Door
from api.storage import ScenarioFiles
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
    Telescope,
    Unplaced,
    View,
    Visit,
)  # fmt: skip
from scheduler.domain.kit import Eyepiece
from scheduler.errors import Cancelled, Fault, ScenarioFaults

TOML = b'title = "A year from the allotment"\n'
WISH_LIST = b"target,priority\r\nM 13,5\r\nM 57,3\r\n"

_EVENING = date(2026, 9, 12)
_DUSK = datetime(2026, 9, 12, 20, 0, tzinfo=UTC)
_DARK = Span(_DUSK, _DUSK + timedelta(hours=7))


def read_scenario(name: str, files: ScenarioFiles, outcomes_csv: bytes = b"") -> Scenario:
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
        if line["priority"] not in {"1", "2", "3", "4", "5"}:
            faults.append(
                Fault("wish-list.csv", row, "priority", line["priority"], "a whole number from 1 to 5")
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
    )  # fmt: skip


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
    body = {"scenario": plan.scenario, "version": plan.version, "seed": plan.seed, "visits": visits}
    return {
        "plan.json": json.dumps(body),
        "schedule.csv": "target,evening\r\n" + "".join(f"{name},{day}\r\n" for name, day in visits),
        "nights.csv": "evening\r\n" + "".join(f"{night.evening}\r\n" for night in plan.nights),
        "unplaced.csv": "target,reason\r\n" + "".join(f'{u.target},"{u.reason}"\r\n' for u in plan.unplaced),
        "moon.csv": "evening\r\n" + "".join(f"{night.evening}\r\n" for night in plan.diary),
        "changes.csv": "target\r\n",
        "odds.csv": "target\r\n" + "".join(f"{target.name}\r\n" for target in plan.targets),
    }


def targets_json(scenario: Scenario) -> str:
    told = [{"name": target.name, "priority": target.priority} for target in scenario.targets]
    return json.dumps({"targets": told})


def differences_json(earlier: str, later: str) -> str:
    versions = [json.loads(plan)["version"] for plan in (earlier, later)]
    return json.dumps({"from": versions[0], "to": versions[1]})


@dataclass
class StandInPlanner:
    """A planner under the test's thumb: it waits at its first stage until it is let go or cancelled.

    `fails_with` is raised instead of a plan; `deaf` does not listen to being cancelled.
    """

    held: bool = False
    deaf: bool = False
    fails_with: Exception | None = None
    began: Event = field(default_factory=Event)
    let_go: Event = field(default_factory=Event)
    asked: list[tuple[str, int, int, float]] = field(default_factory=list)

    def __call__(
        self, scenario: Scenario, *, version: int, seed: int, seconds: float, years: int, report: Report,
        cancel: Cancel,
    ) -> Plan:  # fmt: skip
        self.asked.append((scenario.name, version, seed, seconds))
        report(Progress("looking for opportunities", 0.25))
        report(Progress("assigning targets to nights", 0.5, objective=3.0, bound=4.5))
        self.began.set()
        deadline = time.monotonic() + 20
        while self.held and not self.let_go.is_set() and time.monotonic() < deadline:
            if cancel.is_set() and not self.deaf:
                raise Cancelled
            self.let_go.wait(0.005)
        if self.fails_with is not None:
            raise self.fails_with
        return plan_of(scenario, version, seed)

    @property
    def door(self) -> Door:
        """The scheduler's door with this planner behind it."""
        return Door(read_scenario, self, write_plan, targets_json, joined_wish_lists, differences_json)
