"""Whatever happens to a child, the caller hears what, and the next task gets a sound one."""

from __future__ import annotations

import logging
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from api.errors import OutOfMemory, OutOfTime, WorkCrashed, WorkFailed
from api.hands import InlineHands, Limits, ProcessHands, process
from api.hands.process import PATIENCE_S
from api.jobs.watch import LOOK_EVERY_S
from api.ports import Hands, Task
from scheduler.domain import Progress
from scheduler.errors import Cancelled, InvalidValue

from .rough_deeds import rough_deeds

ROOT = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def hands() -> Iterator[ProcessHands]:
    made = ProcessHands(rough_deeds, limits=Limits(minutes=1.0, memory_mb=400))
    yield made
    made.close()


@pytest.fixture(params=["process", "inline"])
def either(request: pytest.FixtureRequest, hands: ProcessHands) -> Hands:
    return hands if request.param == "process" else InlineHands(rough_deeds)


def never() -> bool:
    return False


def quiet(progress: Progress, /) -> None:
    pass


def done(hands: Hands, deed: str, cancel: Callable[[], bool] = never, **given: object) -> str:
    return hands.do(Task(deed, given), quiet, cancel)


def counted(hands: Hands) -> tuple[int, int]:
    child, count = done(hands, "count").split()
    return int(child), int(count)


def assert_is_fresh(hands: Hands, before: int) -> None:
    child, count = counted(hands)
    assert child != before
    assert count == 1


def test_a_task_is_done_and_its_progress_heard(either: Hands) -> None:
    heard: list[Progress] = []
    assert either.do(Task("add", {"one": 2, "other": 3}), heard.append, never) == "5"
    assert heard == [Progress("adding", 0.25, 1.0, 2.0), Progress("adding", 0.75)]


def test_an_error_of_our_tree_comes_back_as_itself(either: Hands) -> None:
    with pytest.raises(InvalidValue, match="seconds: read") as caught:
        done(either, "refuse")
    assert (caught.value.field, caught.value.value) == ("seconds", -1.0)


def test_an_unforeseen_error_is_logged_and_only_referred_to(
    either: Hands, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.ERROR), pytest.raises(WorkFailed) as caught:
        done(either, "break")
    assert "cellar" not in str(caught.value)
    told = caplog.records[-1].__dict__["told"]
    assert (told["reference"], told["work"]) == (caught.value.reference, "break")
    assert told["error"] == "ZeroDivisionError"
    assert told["at"].startswith("hands/rough_deeds.py:")
    assert "cellar" not in str(told)


def test_work_is_done_in_another_process_that_is_kept(hands: ProcessHands) -> None:
    first, second = counted(hands), counted(hands)
    assert first[0] == second[0] != os.getpid()
    assert second[1] == first[1] + 1


def test_a_child_that_listens_is_stopped_and_kept(hands: ProcessHands, tmp_path: Path) -> None:
    before = counted(hands)
    began = tmp_path / "began"
    with pytest.raises(Cancelled):
        done(hands, "sleep", began.exists, began=str(began))
    assert counted(hands) == (before[0], before[1] + 1)


def test_a_deaf_child_is_killed_within_a_second(hands: ProcessHands, tmp_path: Path) -> None:
    before = counted(hands)
    began = tmp_path / "began"
    with pytest.raises(Cancelled):
        done(hands, "sleep deaf", began.exists, began=str(began))
    assert time.time() - began.stat().st_mtime < 30, "it was waited for"
    assert has_ended(before[0])
    assert_is_fresh(hands, before[0])


def test_waits_on_the_way_to_a_cancel_are_less_than_a_second_in_all() -> None:
    """What a watch may be late, what a child may take, and a look at it on either side."""
    assert LOOK_EVERY_S + PATIENCE_S + 2 * process._LOOK_EVERY_S <= 0.8


@pytest.mark.parametrize(
    ("deed", "said"), [("segfault", "SIGSEGV"), ("kill", "SIGKILL"), ("leave", "exit code 7")]
)
def test_a_crash_is_told_with_its_signal(hands: ProcessHands, deed: str, said: str) -> None:
    before, _ = counted(hands)
    with pytest.raises(WorkCrashed) as caught:
        done(hands, deed)
    assert caught.value.signal == said
    assert_is_fresh(hands, before)


def test_memory_has_an_end(hands: ProcessHands) -> None:
    before, _ = counted(hands)
    assert done(hands, "eat", megabytes=200) == "200000000 eaten"
    with pytest.raises(OutOfMemory, match="400 MB"):
        done(hands, "eat", megabytes=600)
    assert_is_fresh(hands, before)


def test_time_has_an_end() -> None:
    hands = ProcessHands(rough_deeds, limits=Limits(minutes=0.08))
    with pytest.raises(OutOfTime, match=r"0\.08 minutes"):
        done(hands, "sleep deaf")
    hands._limits = Limits()  # on a busy machine a child takes long to start
    assert_is_fresh(hands, 0)
    hands.close()


def test_a_child_that_died_between_two_tasks_is_replaced(hands: ProcessHands) -> None:
    victim, _ = counted(hands)
    os.kill(victim, signal.SIGKILL)
    wait_for(lambda: has_ended(victim))
    assert_is_fresh(hands, victim)


def test_as_many_tasks_as_there_are_hands_are_done_at_once(tmp_path: Path) -> None:
    hands = ProcessHands(rough_deeds, most=2)
    stop = tmp_path / "stop"
    began = [tmp_path / "first", tmp_path / "second", tmp_path / "third"]
    with ThreadPoolExecutor() as pool:
        works = [pool.submit(done, hands, "sleep", stop.exists, began=str(file)) for file in began[:2]]
        wait_for(lambda: began[0].exists() and began[1].exists())
        third = pool.submit(done, hands, "sleep", stop.exists, began=str(began[2]))
        time.sleep(0.3)
        assert not began[2].exists(), "three at once"
        stop.touch()
        for work in (*works, third):
            with pytest.raises(Cancelled):
                work.result(30)
    assert not began[2].exists()
    hands.close()


def test_closing_ends_work_and_children(tmp_path: Path) -> None:
    hands = ProcessHands(rough_deeds)
    began = tmp_path / "began"
    with ThreadPoolExecutor() as pool:
        work = pool.submit(done, hands, "sleep deaf", began=str(began))
        wait_for(lambda: began.exists() and began.read_text() != "")
        hands.close()
        with pytest.raises(Cancelled):
            work.result(30)
    assert has_ended(int(began.read_text()))
    with pytest.raises(Cancelled):
        done(hands, "count")


def test_a_child_dies_with_a_killed_parent(tmp_path: Path) -> None:
    began = tmp_path / "began"
    program = (
        "from api.hands import ProcessHands\nfrom api.ports import Task\n"
        "from tests.api.hands.rough_deeds import rough_deeds\n"
        f"ProcessHands(rough_deeds).do(Task('sleep deaf', {{'began': {str(began)!r}}}), print, lambda: False)"
    )
    with subprocess.Popen([sys.executable, "-c", program], cwd=ROOT) as parent:
        wait_for(lambda: began.exists() and began.read_text() != "")
        child = int(began.read_text())
        assert not has_ended(child)
        parent.kill()
    wait_for(lambda: has_ended(child))


def has_ended(child: int) -> bool:
    """Tell whether a process is gone, or only waits to be buried, its last thread gone."""
    try:
        state = Path(f"/proc/{child}/stat").read_text().rpartition(")")[2].split()[0]
        return state in "ZX" and len(list(Path(f"/proc/{child}/task").iterdir())) == 1
    except (FileNotFoundError, ProcessLookupError):
        return True


def wait_for(holds: Callable[[], bool], within_s: float = 30.0) -> None:
    deadline = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.01)
