"""Several processes on one database, and what becomes of a job when one dies, stalls or is stopped."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import psycopg
import pytest

from api.storage import JobState

from ..databases import Where
from ..stand_ins import StandInPlanner
from .benches import Bench, bench_on, child_hands, wait_for

ROOT = Path(__file__).parents[3]


@dataclass
class Worker:
    """A process that works on jobs."""

    process: subprocess.Popen[str]

    def end(self, how: signal.Signals) -> str:
        """End it and return what it said on the error stream."""
        self.process.send_signal(how)
        _, said = self.process.communicate(timeout=60)
        return said


StartWorker: TypeAlias = Callable[[], Worker]


@pytest.fixture
def start_worker(database: Where, planner: StandInPlanner) -> Iterator[StartWorker]:
    """Start processes that work on the jobs of one database."""
    folder = planner.door.args[0]  # type: ignore[attr-defined]
    with ExitStack() as running:

        def start() -> Worker:
            command = [sys.executable, "-W", "error", "-m", "tests.api.jobs.work_stand_in"]
            process = subprocess.Popen(
                [*command, str(database), str(folder), "1"], cwd=ROOT, text=True,
                stdout=subprocess.PIPE, stderr=subprocess.PIPE, env={**os.environ, "PYTHONPATH": str(ROOT)},
            )  # fmt: skip
            running.callback(_end, process)
            assert process.stdout is not None
            told = process.stdout.readline()
            assert told.startswith("Duskwright works on jobs"), process.communicate()
            return Worker(process)

        yield start


def _end(process: subprocess.Popen[str]) -> None:
    if process.poll() is None:
        process.send_signal(signal.SIGCONT)
        process.kill()
        process.communicate()
    for stream in (process.stdout, process.stderr):
        if stream is not None:
            stream.close()


@pytest.fixture
def desk(start_worker: StartWorker, database: Where, planner: StandInPlanner) -> Iterator[Bench]:
    """A service that takes jobs in and works on none."""
    bench = bench_on(database, planner, workers=0)
    yield bench
    planner.let_go.set()
    bench.close()


def test_a_job_of_a_killed_process_goes_on_at_the_next_start(
    desk: Bench, start_worker: StartWorker, planner: StandInPlanner
) -> None:
    planner.years_held = True
    first = start_worker()
    scenario = desk.scenario()
    job = desk.start(scenario, years=50)
    wait_for(lambda: planner.lived != [])
    planner.held = True  # a plan solved again would wait for ever
    killed_s = time.monotonic()
    first.end(signal.SIGKILL)
    planner.years_held = False
    start_worker()
    assert desk.ended(job).state is JobState.DONE
    print(f"killed, started anew, done after {time.monotonic() - killed_s:.1f} s")
    assert len(planner.asked) == 1, "the plan was solved again"
    assert desk.plans(scenario) == 1


def test_a_killed_process_is_taken_over_from(
    desk: Bench, start_worker: StartWorker, planner: StandInPlanner, capsys: pytest.CaptureFixture[str]
) -> None:
    """Three processes: one takes jobs in, two work; whichever of these has the job is killed."""
    planner.years_held = True
    workers = [start_worker(), start_worker()]
    scenario = desk.scenario()
    job = desk.start(scenario, years=50)
    wait_for(lambda: planner.lived != [])
    at_work = planner.lived[0][2]
    victim = next(one for one in workers if one.process.pid == parent_of(at_work))
    killed_s = time.monotonic()
    victim.end(signal.SIGKILL)
    wait_for(lambda: has_ended(at_work))
    wait_for(lambda: len(planner.lived) == 2, told=lambda: desk.get(job))
    with capsys.disabled():
        print(f"\ntaken over after {time.monotonic() - killed_s:.1f} s")
    planner.let_go.set()
    record = desk.ended(job)
    assert record.state is JobState.DONE
    assert len(planner.asked) <= 2
    assert desk.plans(scenario) == 1
    for worker in workers:
        if worker is not victim:
            said = worker.end(signal.SIGTERM)
            assert "is dead" in said or "taking over" in said or said == ""


def test_a_process_that_slept_past_its_burial_keeps_nothing_twice(
    desk: Bench, start_worker: StartWorker, planner: StandInPlanner
) -> None:
    planner.years_held = True
    sleeper = start_worker()
    scenario = desk.scenario()
    job = desk.start(scenario, years=50)
    wait_for(lambda: planner.lived != [])
    sleeper.process.send_signal(signal.SIGSTOP)
    other = start_worker()
    wait_for(lambda: len(planner.lived) == 2, told=lambda: desk.get(job))
    planner.let_go.set()
    record = desk.ended(job)
    sleeper.process.send_signal(signal.SIGCONT)
    second = desk.start(scenario)
    assert desk.ended(second).state is JobState.DONE
    time.sleep(2)
    assert desk.get(job) == record
    assert desk.plans(scenario) == 2
    wait_for(lambda: len(desk.storage.workers.all()) == 3)
    for worker in (sleeper, other):
        worker.end(signal.SIGTERM)
        assert worker.process.returncode == 0
    assert len(desk.storage.workers.all()) == 1


def test_a_worker_asked_to_stop_hands_its_job_to_another(
    desk: Bench, start_worker: StartWorker, planner: StandInPlanner
) -> None:
    planner.held = planner.deaf = True
    first = start_worker()
    job = desk.start()
    assert planner.began.wait(60)
    stopped_s = time.monotonic()
    assert first.end(signal.SIGTERM) == ""
    assert time.monotonic() - stopped_s < 30
    assert first.process.returncode == 0
    assert desk.get(job).state is JobState.WAITING
    start_worker()
    wait_for(lambda: len(planner.asked) == 2, told=lambda: desk.get(job))
    planner.let_go.set()
    assert desk.ended(job).state is JobState.DONE


def test_a_job_is_cancelled_from_another_process(
    desk: Bench, start_worker: StartWorker, planner: StandInPlanner
) -> None:
    planner.held = planner.deaf = True
    start_worker()
    job = desk.start()
    assert planner.began.wait(60)
    asked_s = time.monotonic()
    desk.jobs.cancel(job)
    assert desk.ended(job).state is JobState.CANCELLED
    assert time.monotonic() - asked_s < 30


def test_shares_go_to_every_worker(desk: Bench, start_worker: StartWorker, planner: StandInPlanner) -> None:
    planner.years_held = True
    start_worker()
    start_worker()
    job = desk.start(years=1000)
    wait_for(lambda: len({share[2] for share in planner.lived}) >= 3, told=lambda: planner.lived)
    assert len({parent_of(share[2]) for share in planner.lived}) == 2
    planner.let_go.set()
    record = desk.ended(job)
    assert record.plan is not None
    kept = json.loads(desk.storage.plans.file(record.plan, "plan.json").text)
    assert kept["odds"] == {"years": 1000}
    assert sorted(share[0] for share in planner.lived) == list(range(0, 1000, 50))


def test_a_job_carried_twice_at_the_same_time_has_one_result(
    database: Where, planner: StandInPlanner
) -> None:
    planner.held = True
    bench = bench_on(database, planner, hands=child_hands(planner), workers=2)
    scenario = bench.scenario()
    job = bench.start(scenario)
    assert planner.began.wait(60)
    bench.jobs._engine.resume(bench.jobs._pulse.executor)
    wait_for(lambda: len(planner.asked) == 2)
    planner.let_go.set()
    assert bench.ended(job).state is JobState.DONE
    plan = bench.get(job).plan
    assert bench.ended(bench.start(scenario)).state is JobState.DONE
    assert bench.get(job).plan == plan
    assert bench.plans(scenario) == 2
    bench.close()


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_a_database_away_for_a_while_is_waited_for(
    database: Where, planner: StandInPlanner, start_worker: StartWorker
) -> None:
    bench = bench_on(database, planner, hands=child_hands(planner))
    planner.held = True
    scenario = bench.scenario()
    at_work, waiting = bench.start(scenario), bench.start(scenario)
    assert planner.began.wait(60)
    with gone(database):
        planner.let_go.set()
        began_s = time.process_time()
        time.sleep(4)
        assert time.process_time() - began_s < 2.0, "a busy loop"
    assert [bench.ended(job).state for job in (at_work, waiting)] == [JobState.DONE] * 2
    assert bench.plans(scenario) == 2
    bench.jobs.check()
    bench.close()


@contextmanager
def gone(database: Where) -> Iterator[None]:
    """The database lets nobody in, and whoever is in is thrown out."""
    server, _, name = str(database).rpartition("/")
    with psycopg.connect(f"{server}/postgres", autocommit=True) as admin:
        admin.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS false")
        admin.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [name])
        try:
            yield
        finally:
            admin.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS true")


def parent_of(process: int) -> int:
    return int(Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[1])


def has_ended(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] in "ZX"
    except FileNotFoundError:
        return True


def test_the_command_line_works_on_jobs_until_it_is_asked_to_stop(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "scheduler", "work", "--database", str(tmp_path / "kept.sqlite3")]
    with ended(command) as process:
        assert process.stdout is not None
        assert process.stdout.readline().startswith("Duskwright works on jobs of ")
        process.send_signal(signal.SIGTERM)
        assert process.communicate(timeout=60) == ("", "")
        assert process.returncode == 0


def test_a_signal_given_to_a_thread_that_does_not_wait_for_it_is_heard(tmp_path: Path) -> None:
    """As with one that comes a moment before the waiting begins: it is heard when the main thread wakes."""
    program = """
import signal, sys, threading
from api.settings import Settings
from api.worker import work
later = lambda told: threading.Timer(1.0, signal.raise_signal, [signal.SIGTERM]).start()
work(Settings(database=sys.argv[1]), announce=later)
print("stopped in good order")
"""
    with ended([sys.executable, "-c", program, str(tmp_path / "kept.sqlite3")]) as process:
        assert process.communicate(timeout=60) == ("stopped in good order\n", "")


@contextmanager
def ended(command: list[str]) -> Iterator[subprocess.Popen[str]]:
    """Start a process that is killed at the end should it still run."""
    process = subprocess.Popen(command, cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    try:
        yield process
    finally:
        _end(process)


def test_a_worker_that_works_on_nothing_is_refused(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "scheduler", "work", "--database", str(tmp_path / "k"), "--workers", "0"]
    said = subprocess.run(command, cwd=ROOT, text=True, capture_output=True, timeout=60)
    assert said.returncode == 1
    assert said.stderr == "duskwright: workers: read 0, expected at least 1 where nothing else is done\n"
    assert list(tmp_path.iterdir()) == []
