"""Devices save, lose the network, send again and correct each other: the log is what a plain model says.

The service is what is tested. The devices are written here once more, in the way `queue.js` keeps and sends
lines, so that the service is asked what browsers ask of it; that `queue.js` itself does so, only the tests in
real browsers can tell (`tests/api/browser/test_queue.py`).
"""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from api.pages.silent import count_as_past
from scheduler.domain.outcome import COUNTED_AS_PAST, is_told

from .desk import FRIDAY, Desk, a_desk

SECOND = "2027-01-15"
FREE = (FRIDAY, SECOND)
EVENINGS = st.sampled_from(FREE)
DEVICES = st.sampled_from(["phone", "tablet"])
WENT = st.sampled_from(["clear", "clouded out", "could not go"])
FATES = st.lists(st.sampled_from(["arrives", "arrives", "answer lost", "no network"]), min_size=4, max_size=4)


@dataclass
class Waiting:
    """A line on a device; where `then` is "plan", nights since are to be counted as past."""

    key: str
    evening: str
    went: str
    over: int
    then: str = "save"
    tried: bool = False
    meanwhile: int | None = None


@dataclass
class Device:
    """A device: which line it last saw for each evening, and what waits on it."""

    seen: dict[str, int] = field(default_factory=dict)
    waiting: list[Waiting] = field(default_factory=list)


class Story(RuleBasedStateMachine):
    """The service beside a model of its log: a list of (evening, went, key); nobody wrote what has no key."""

    def __init__(self) -> None:
        super().__init__()
        self._open = ExitStack()
        folder = Path(self._open.enter_context(TemporaryDirectory()))
        self.desk: Desk = self._open.enter_context(a_desk(folder))
        self.model: list[tuple[str, str, str | None]] = []
        self.devices = {"phone": Device(), "tablet": Device()}
        self.keys = (f"key-{number}" for number in count(1))
        self.let_go: set[str] = set()
        self.written: set[str] = set()

    def teardown(self) -> None:
        self._open.close()

    def standing(self, evening: str) -> int:
        return max((at for at, line in enumerate(self.model, 1) if line[0] == evening), default=0)

    @initialize()
    def nothing_is_logged(self) -> None:
        assert self.desk.log == ()

    @rule(device=DEVICES, evening=EVENINGS)
    def open_the_page(self, device: str, evening: str) -> None:
        text = self.desk.page(evening).text
        over = int(text.partition('name="over" value="')[2].partition('"')[0])
        assert over == self.standing(evening)
        self.devices[device].seen[evening] = over

    @rule(device=DEVICES, evening=EVENINGS, went=WENT, then=st.sampled_from(["save", "save", "plan"]))
    def save(self, device: str, evening: str, went: str, then: str) -> None:
        """Keep a line on the device; one that certainly never reached the service gives way to it."""
        here = self.devices[device]
        before = next((one for one in reversed(here.waiting) if one.evening == evening), None)
        fresh = Waiting(next(self.keys), evening, went, here.seen.get(evening, 0), then)
        if before is not None:
            if before.meanwhile is None:
                fresh.over = before.over
            if not before.tried or before.meanwhile is not None:
                here.waiting.remove(before)
                self.let_go.add(before.key)
        here.waiting.append(fresh)
        self.written.add(fresh.key)

    @rule(device=DEVICES, fates=FATES)
    def send(self, device: str, fates: list[str]) -> None:
        here, held = self.devices[device], set()
        fate = iter(fates)
        for one in list(here.waiting):
            if one.meanwhile is not None or one.evening in held:
                held.add(one.evening)
                continue
            becomes = next(fate, "no network")
            one.tried = True
            if becomes == "no network":
                return
            told = self._asked(one)
            if becomes == "answer lost":
                return
            if told is None:
                held.add(one.evening)
                continue
            here.waiting.remove(one)
            here.seen[one.evening] = told
            for later in here.waiting:
                if later.evening == one.evening and later.over == one.over:
                    later.over = told

    @rule()
    def count_as_past(self) -> None:
        """A planner says that nobody told of the nights behind; what waits on devices nobody can know."""
        count_as_past(self.desk.service.client.app.state.services, self.desk.scenario)
        self._count()

    def _count(self) -> None:
        last = max((line[0] for line in self.model), default="")
        silent = [evening for evening in FREE if evening > last]
        if silent:
            self.model.append((silent[-1], "could not go", None))

    @rule(device=DEVICES, mine=st.booleans())
    def decide(self, device: str, mine: bool) -> None:
        """Say which line is to stand, where the service asked."""
        here = self.devices[device]
        one = next((one for one in here.waiting if one.meanwhile is not None), None)
        if one is None:
            return
        if not mine:
            here.waiting.remove(one)
            self.let_go.add(one.key)
            return
        self.let_go.add(one.key)
        assert one.meanwhile is not None
        one.key, one.over, one.meanwhile, one.tried = next(self.keys), one.meanwhile, None, False
        self.written.add(one.key)

    def _asked(self, one: Waiting) -> int | None:
        """Send a line, hold the answer against the model, and return the line it became."""
        answer = self.desk.save(
            one.evening, by_form=False, key=one.key, over=str(one.over), went=one.went, then=one.then,
            since=SECOND,
        )  # fmt: skip
        known = next((at for at, line in enumerate(self.model, 1) if line[2] == one.key), None)
        standing = self.standing(one.evening)
        expected: tuple[int, Any]
        if known is not None:
            expected = 201, known
        elif standing == one.over or (standing and self.model[standing - 1][2] is None):
            self.model.append((one.evening, one.went, one.key))
            expected = 201, len(self.model)
        elif standing and self.model[standing - 1][1] == one.went:
            self.let_go.add(one.key)
            expected = 201, standing
        else:
            expected = 409, standing
        assert (answer.status_code, answer.json()["line"]) == expected
        if expected[0] == 201 and one.then == "plan":
            self._count()
        if expected[0] == 409:
            stands = self.desk.log[standing - 1]
            assert is_told(stands.outcome, stands.notes), "what somebody wrote gives way only to somebody"
            one.meanwhile = standing
            return None
        return int(expected[1])

    @invariant()
    def the_log_is_what_the_model_says(self) -> None:
        kept = [(str(line.evening), line.outcome, line.key) for line in self.desk.log]
        assert kept == self.model

    @invariant()
    def nothing_is_lost_and_nothing_doubled(self) -> None:
        logged = [line[2] for line in self.model if line[2] is not None]
        assert len(logged) == len(set(logged))
        waiting = {one.key for device in self.devices.values() for one in device.waiting}
        assert self.written == {*logged} | waiting | self.let_go

    @invariant()
    def what_nobody_wrote_stands_over_nothing(self) -> None:
        for at, line in enumerate(self.desk.log):
            if line.notes == COUNTED_AS_PAST:
                assert line.evening not in {before.evening for before in self.desk.log[:at]}


def test_the_log_lives_on_as_the_model_says() -> None:
    told = settings(
        max_examples=10, stateful_step_count=25, database=None, deadline=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    story = type("Story", (Story,), {})
    seed(20270108)(story)
    run_state_machine_as_test(story, settings=told)
