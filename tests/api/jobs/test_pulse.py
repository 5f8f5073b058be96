from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from api.jobs.pulse import LOOKS_UNTIL_DEAD, Pulse, host_name, new_executor
from api.storage import Storage


@pytest.fixture
def storage(tmp_path: Path) -> Iterator[Storage]:
    made = Storage(tmp_path / "kept.sqlite3")
    yield made
    made.close()


def names(storage: Storage) -> set[str]:
    return {one.executor for one in storage.workers.all()}


def pair(storage: Storage) -> tuple[Pulse, Pulse]:
    """Two processes that cannot tell by each other's number who is gone."""
    pulses = Pulse(storage, "one:1:a", one_machine=False), Pulse(storage, "other:2:b", one_machine=False)
    for pulse in pulses:
        pulse.beat()
    return pulses


def test_who_stands_still_long_enough_is_buried(storage: Storage) -> None:
    one, other = pair(storage)
    found = [one.bury() for _ in range(LOOKS_UNTIL_DEAD + 1)]
    assert found == [[]] * LOOKS_UNTIL_DEAD + [[other.executor]]
    assert names(storage) == {one.executor}
    assert one.strangers([one.executor, other.executor]) == [other.executor]


def test_who_beats_now_and_then_lives(storage: Storage) -> None:
    one, other = pair(storage)
    for _ in range(4):
        for _ in range(LOOKS_UNTIL_DEAD - 1):
            assert one.bury() == []
        other.beat()
    assert names(storage) == {one.executor, other.executor}


def test_two_that_bury_a_third_bury_it_once(storage: Storage) -> None:
    one, other = pair(storage)
    Pulse(storage, "third:3:c", one_machine=False).beat()
    buried = []
    for _ in range(LOOKS_UNTIL_DEAD + 1):
        for pulse in (one, other):
            pulse.beat()
            buried += pulse.bury()
    assert buried == ["third:3:c"]


def test_one_that_beats_at_the_last_moment_is_not_buried(
    storage: Storage, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, other = pair(storage)
    for _ in range(LOOKS_UNTIL_DEAD):
        one.bury()
    looked = storage.workers.all

    def looks_then_other_beats() -> object:
        seen = looked()
        other.beat()
        return seen

    monkeypatch.setattr(storage.workers, "all", looks_then_other_beats)
    assert one.bury() == []


def test_a_process_buried_by_mistake_is_known_again_at_its_next_beat(storage: Storage) -> None:
    one, other = pair(storage)
    for _ in range(LOOKS_UNTIL_DEAD + 1):
        one.bury()
    other.beat()
    assert names(storage) == {one.executor, other.executor}


def test_on_one_machine_a_process_that_is_gone_is_buried_at_once(storage: Storage) -> None:
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    me = Pulse(storage, new_executor(), one_machine=True)
    for number in (gone.pid, os.getpid()):
        Pulse(storage, f"{host_name()[:36]}:{number}:x", one_machine=True).beat()
    Pulse(storage, f"elsewhere:{gone.pid}:x", one_machine=True).beat()
    assert me.bury() == [f"{host_name()[:36]}:{gone.pid}:x"]


def test_names_of_processes_are_never_the_same() -> None:
    assert len({new_executor() for _ in range(99)}) == 99
    assert max(len(new_executor()) for _ in range(9)) <= 64


def test_who_stops_in_good_order_is_forgotten(storage: Storage) -> None:
    one, other = pair(storage)
    other.stop()
    assert names(storage) == {one.executor}
