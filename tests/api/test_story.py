"""Clubs live on as a plain model says, whatever order things are done in, on both databases."""

from __future__ import annotations

import json
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    consumes,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from api.app import create_app
from api.auth import first_key
from api.settings import Settings

from .client import Client, Json, Refused, Tagged
from .databases import KINDS, fresh_database, the_server
from .stand_ins import StandInPlanner, jobs_here, notices_json
from .test_parts import real_reader
from .test_real_scheduler import TOML, WISH_LIST

NAMES = st.sampled_from(["Hendra", "Tolven", "Larkmoor", "Aurora Point"])
EVENINGS = st.integers(20, 27).map(lambda day: f"2027-02-{day}")
OUTCOMES = st.sampled_from(["clear", "part-clear", "clouded out", "could not go"])
MESSIER = st.lists(st.sampled_from(["M 36", "M 37", "M 38", "M 41", "M 47", "M 67"]), min_size=1, unique=True)
STALE = '"r999"'


class Story(RuleBasedStateMachine):
    """The service beside a model of it: what every club has, and nothing else."""

    kind = "sqlite"
    clubs, scenarios, keys = Bundle("clubs"), Bundle("scenarios"), Bundle("keys")

    def __init__(self) -> None:
        super().__init__()
        self._open = ExitStack()
        folder = Path(self._open.enter_context(TemporaryDirectory()))
        database = self._open.enter_context(fresh_database(self.kind, folder))
        door = partial(real_reader, StandInPlanner(folder / "planner"))
        chosen = Settings(database=database, keys="required", requests_per_minute=0, plan_years=0)
        app = create_app(chosen, door, jobs_here)
        http = self._open.enter_context(TestClient(app, base_url="http://127.0.0.1:8075"))
        self.owner = Client(http, first_key(app.state.services.storage))
        self.model: dict[str, Json] = {}

    def teardown(self) -> None:
        self._open.close()

    # clubs

    @initialize(target=clubs)
    def the_first_club(self) -> str:
        return self._made("Hendra")

    @rule(target=clubs, name=NAMES)
    def make_a_club(self, name: str) -> str:
        return self._made(name)

    def _made(self, name: str) -> str:
        club = self.owner.make_club(name).id
        self.model[club] = {"name": name, "scenarios": {}, "keys": {}}
        return club

    @rule(club=clubs, name=NAMES, stale=st.booleans())
    def rename_a_club(self, club: str, name: str, stale: bool) -> None:
        read = self.owner.club(club)
        if stale:
            self._refused("stale", lambda: self.owner.rename_club(Tagged(read.body, STALE), name))
        else:
            self.owner.rename_club(read, name)
            self.model[club]["name"] = name

    @rule(club=clubs)
    def take_a_club_away_and_bring_it_back(self, club: str) -> None:
        before = self.owner.export_club(club)
        plans = {plan: self.owner.plan_json(plan) for plan in self._plans(club)}
        self._refused("already-kept", lambda: self.owner.import_club(before))
        self.owner.delete_club(self.owner.club(club))
        self._refused("no-such-thing", lambda: self.owner.club(club))
        assert club not in {one["id"] for one in self.owner.clubs()}
        assert self.owner.import_club(before).id == club
        assert self.owner.export_club(club) == before
        assert plans == {plan: self.owner.plan_json(plan) for plan in plans}
        for token in self.model[club]["keys"].values():  # keys do not travel
            self._refused("key-needed", self.owner.with_key(token).clubs)
        self.model[club]["keys"] = {}

    # keys

    @rule(target=keys, club=clubs, role=st.sampled_from(["reader", "member", "planner", "owner"]))
    def make_a_key(self, club: str, role: str) -> tuple[str, str]:
        key, token = self.owner.make_key(club, role, "for the tablet")
        self.model[club]["keys"][key] = token
        assert [one["id"] for one in self.owner.with_key(token).clubs()] == [club]
        for other in self.model.keys() - {club}:
            self._refused("no-such-thing", lambda other=other: self.owner.with_key(token).club(other))
        return club, key

    @rule(made=consumes(keys))
    def revoke_a_key(self, made: tuple[str, str]) -> None:
        club, key = made
        token = self.model[club]["keys"].pop(key, None)
        if token is None:
            self._refused("no-such-thing", lambda: self.owner.revoke(key))  # it went with its club
            return
        self.owner.revoke(key)
        self._refused("key-needed", self.owner.with_key(token).clubs)

    # scenarios

    @rule(target=scenarios, club=clubs, name=NAMES)
    def keep_a_scenario(self, club: str, name: str) -> tuple[str, str]:
        made = self.owner.keep_scenario(club, name, TOML, WISH_LIST)
        self.model[club]["scenarios"][made.id] = {
            "name": name, "revision": 1, "targets": 4, "log": [], "plans": [], "shown": None, "free": None,
        }  # fmt: skip
        return club, made.id

    @rule(which=scenarios, names=MESSIER, stale=st.booleans())
    def add_targets(self, which: tuple[str, str], names: list[str], stale: bool) -> None:
        kept, read = self._scenario(which), self.owner.scenario(which[1])
        rows = "target,priority\r\n" + "".join(f"{name},2\r\n" for name in names)
        if stale:
            self._refused("stale", lambda: self.owner.add_targets(Tagged(read.body, STALE), rows.encode()))
        elif any(name in self.owner.part(which[1], "wish-list.csv").decode() for name in names):
            self._refused("scenario-faults", lambda: self.owner.add_targets(read, rows.encode()))
        else:
            self.owner.add_targets(read, rows.encode())
            kept["targets"] += len(names)
            kept["revision"] += 1

    @rule(which=scenarios, nights=st.integers(1, 7), stale=st.booleans())
    def change_when_one_is_free(self, which: tuple[str, str], nights: int, stale: bool) -> None:
        kept, read = self._scenario(which), self.owner.scenario(which[1])
        free = {"nights_per_week": nights}
        if stale:
            self._refused("stale", lambda: self.owner.set_availability(Tagged(read.body, STALE), free))
            return
        kept["revision"] = self.owner.set_availability(read, free).body["revision"]
        kept["free"] = nights

    @rule(which=scenarios, evening=EVENINGS, outcome=OUTCOMES)
    def log_a_night(self, which: tuple[str, str], evening: str, outcome: str) -> None:
        added = self.owner.add_outcome(which[1], evening, outcome)
        self._scenario(which)["log"].append((evening, outcome))
        assert [line["line"] for line in added] == [len(self._scenario(which)["log"])]

    @rule(which=consumes(scenarios))
    def delete_a_scenario(self, which: tuple[str, str]) -> None:
        club, scenario = which
        read = self.owner.scenario(scenario)
        self._refused("stale", lambda: self.owner.delete_scenario(Tagged(read.body, STALE)))
        self.owner.delete_scenario(read)
        del self.model[club]["scenarios"][scenario]
        self._refused("no-such-thing", lambda: self.owner.scenario(scenario))

    # plans

    @rule(which=scenarios, after=st.sampled_from([None, "newest"]))
    def plan_and_plan_anew(self, which: tuple[str, str], after: str | None) -> None:
        for one in (after, "newest"):
            self._plan(which, one)

    def _plan(self, which: tuple[str, str], after: str | None) -> None:
        kept = self._scenario(which)
        plan = self.owner.plan(which[1], after=after, seed=len(kept["plans"]))
        previous = kept["plans"][-1]["id"] if after and kept["plans"] else None
        told = next(one for one in self.owner.plans(which[1]) if one["id"] == plan)
        assert told["version"] == len(kept["plans"]) + 1
        assert (told["revision"], told["outcomes"]) == (kept["revision"], len(kept["log"]))
        assert told["previous"] == previous
        kept["plans"].append({"id": plan, "json": self.owner.plan_json(plan)})
        if len(kept["plans"]) > 1:
            first = kept["plans"][0]["id"]
            assert self.owner.differences(plan, first) == {"from": 1, "to": len(kept["plans"])}
            for chosen in (plan, first):  # the newest, then the oldest
                self.owner.publish(chosen)
                assert self.owner.calendar(which[1])["plan"] == chosen
            kept["shown"] = first

    @rule(which=scenarios, number=st.integers(0, 5))
    def publish(self, which: tuple[str, str], number: int) -> None:
        kept = self._scenario(which)
        if not kept["plans"]:
            self._refused("no-such-thing", lambda: self.owner.calendar(which[1]))
            return
        chosen = kept["plans"][number % len(kept["plans"])]["id"]  # a newer or an older one
        self.owner.publish(chosen)
        kept["shown"] = chosen

    # what must always be so

    @invariant()
    def the_clubs_are_as_the_model_says(self) -> None:
        names = {one["id"]: one["name"] for one in self.owner.clubs()}
        assert names == {club: kept["name"] for club, kept in self.model.items()}

    @invariant()
    def every_club_has_just_what_the_model_says(self) -> None:
        for club, kept in self.model.items():
            found = {one["id"]: one for one in self.owner.scenarios(club)}
            assert found.keys() == kept["scenarios"].keys()
            counting = {one["id"] for one in self.owner.keys(club) if one["revoked"] is None}
            assert counting == kept["keys"].keys()
            for scenario, expected in kept["scenarios"].items():
                told = {name: found[scenario][name] for name in ("name", "revision", "targets")}
                assert told == {name: expected[name] for name in told}
                self._look(scenario, expected)

    def _look(self, scenario: str, expected: Json) -> None:
        assert [(line["evening"], line["outcome"]) for line in self.owner.log(scenario)] == expected["log"]
        plans = [one["id"] for one in reversed(self.owner.plans(scenario))]
        assert plans == [one["id"] for one in expected["plans"]]
        for one in expected["plans"]:
            assert self.owner.plan_json(one["id"]) == one["json"], "a plan never changes"
        if expected["shown"] is not None:
            assert self.owner.calendar(scenario)["plan"] == expected["shown"]
            self._look_at_nights(scenario, expected)
        free = json.loads(self.owner.part(scenario, "availability"))
        assert free["nights_per_week"] == expected["free"]

    def _look_at_nights(self, scenario: str, expected: Json) -> None:
        """Members are told of the shown plan's nights; each keeps its name, and its changes are counted."""
        shown = next(one["json"] for one in expected["plans"] if one["id"] == expected["shown"])
        wanted = {one["evening"]: one["title"] for one in json.loads(notices_json(shown, None))["nights"]}
        nights = self.owner.nights(scenario)
        assert {one["evening"]: one["title"] for one in nights if one["state"] == "planned"} == wanted
        known = expected.setdefault("nights", {})
        for one in nights:
            uid, sequence = known.get(one["evening"], (one["uid"], 0))
            assert one["uid"] == uid
            assert one["sequence"] >= sequence
        expected["nights"] = {one["evening"]: (one["uid"], one["sequence"]) for one in nights}
        assert expected["nights"].keys() >= known.keys(), "what members were told of is not forgotten"

    def _scenario(self, which: tuple[str, str]) -> Json:
        kept: Json = self.model[which[0]]["scenarios"][which[1]]
        return kept

    def _plans(self, club: str) -> list[str]:
        return [one["id"] for each in self.model[club]["scenarios"].values() for one in each["plans"]]

    @staticmethod
    def _refused(kind: str, deed: Any) -> None:
        with pytest.raises(Refused) as found:
            deed()
        assert found.value.kind == kind, found.value


@pytest.mark.parametrize(("kind", "examples"), [(KINDS[0], 8), (KINDS[1], 2)])
def test_the_service_does_as_the_model_says(kind: str, examples: int) -> None:
    told = settings(
        max_examples=examples, stateful_step_count=25, database=None,
        suppress_health_check=list(HealthCheck), phases=[Phase.generate],
    )  # fmt: skip
    if kind != "sqlite":
        the_server()  # where there is none, nothing is begun
    story = type("Story", (Story,), {"kind": kind})
    seed(20270220)(story)
    run_state_machine_as_test(story, settings=told)
