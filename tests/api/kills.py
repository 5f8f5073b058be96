"""The service at work for a crowd of clients while its processes are killed, one after the other."""

from __future__ import annotations

import random
import signal
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Event

from api.storage import JobState, Storage

from .audit import everything_on, faults_of
from .crowd import Client, Ledger
from .databases import Where
from .servers import Processes, Served, Worker, children_of, free_port, has_ended, processes_on, wait_until

CLIENTS = 4
STEP_S = 0.3
LONGEST_S = 120.0
"""How long the jobs left may take to end."""
_OPTIONS = ("plan_years=100", "workers=2", "waiting_jobs=1000")


@dataclass(frozen=True)
class Told:
    """How it went; what was lost, doubled or otherwise wrong stands in `faults`."""

    kills: int
    writes: int
    stale: int
    unsure: int
    jobs: int
    done: int
    cancelled: int
    interrupted: int
    longest_takeover_s: float
    longest_since_last_s: float
    longest_restart_s: float
    faults: tuple[str, ...]

    def __str__(self) -> str:
        return (
            f"{self.kills} kills: {self.writes} writes acknowledged ({self.unsure} without an answer, "
            f"{self.stale} stale), {self.jobs} jobs ({self.done} done, {self.cancelled} cancelled), "
            f"{self.interrupted} steps interrupted, begun anew {self.longest_takeover_s:.1f} s later at "
            f"most, {self.longest_since_last_s:.1f} s after the last kill before; serving again after "
            f"{self.longest_restart_s:.1f} s at most; {len(self.faults)} faults"
        )


def killed_again_and_again(database: Where, folder: Path, kills: int, seed: int, workers: int) -> Told:
    """Kill a random process at random moments, start it again, and hold what is kept against what was told.

    Parameters
    ----------
    database : Where everything is kept.
    folder : For logs and notes.
    kills, seed : How often, and what is chosen by chance.
    workers : Processes that work beside the serving one.
    """
    with processes_on(database, folder) as ours:
        ours.planner.pace_s = STEP_S
        town = _Town(ours, workers, seed)
        with town.crowded():
            for _ in range(kills):
                town.kill_one()
        town.let_jobs_end()
        town.stop()
        return _told(town, database, folder, kills)


class _Town:
    """The processes, the crowd, and what happened to them."""

    def __init__(self, ours: Processes, workers: int, seed: int) -> None:
        self._ours, self._seed, self._chance = ours, seed, random.Random(seed)
        self.server: Served = ours.serve(*_OPTIONS, port=free_port())
        self._workers: list[Worker] = [ours.work() for _ in range(workers)]
        self._all: list[Worker] = [self.server, *self._workers]
        self.ledger = Ledger()
        self.faults: list[str] = []
        self.restarts_s: list[float] = []
        self._interrupted: list[tuple[float, list[int]]] = []
        self.club = self.server.service.club

    @contextmanager
    def crowded(self) -> Iterator[None]:
        """Let clients write all the time."""
        shared = self.server.service.kept("of all")
        self.ledger.note(self.ledger.scenarios, shared.rpartition("/")[2], "of all")
        stopping = Event()
        address = f"http://127.0.0.1:{self.server.port}"
        crowd = [
            Client(address, self.club, shared, self.ledger, number, self._seed, stopping)
            for number in range(CLIENTS)
        ]
        with ThreadPoolExecutor(CLIENTS) as pool:
            running: list[Future[None]] = [pool.submit(client.run) for client in crowd]
            try:
                yield
            finally:
                stopping.set()
        for one in running:
            one.result()

    def kill_one(self) -> None:
        """Kill a process at a moment nobody knows before, and start it again a little later."""
        time.sleep(self._chance.uniform(0.5, 5.0))
        number = self._chance.randrange(1 + len(self._workers))
        victim = self._workers[number - 1] if number else self.server
        children = children_of(victim.process.pid)
        killed_s = time.monotonic()
        victim.stop(signal.SIGKILL)
        self._interrupted.append((killed_s, children))
        wait_until(lambda: all(has_ended(child) for child in children), 60)
        time.sleep(self._chance.uniform(0.0, 0.5))
        begun_s = time.monotonic()
        if number:
            self._workers[number - 1] = self._ours.work()
        else:
            self.server = self._ours.serve(*_OPTIONS, port=self.server.port)
            wait_until(lambda: self.server.service.get("/readyz").status_code == 200, 60)
            self.restarts_s.append(time.monotonic() - begun_s)
        self._all.append(self._workers[number - 1] if number else self.server)

    def let_jobs_end(self) -> None:
        """Wait until no job waits or is at work."""

        def left() -> list[str]:
            jobs = self.server.service.get(f"{self.club}/jobs?limit=200").json()["items"]
            return [job["id"] for job in jobs if job["state"] in {"waiting", "at work"}]

        wait_until(lambda: not left(), LONGEST_S, left)

    def stop(self) -> None:
        """Stop everything in good order; nothing is left, and nobody has complained of a fault of ours."""
        for one in [self.server, *self._workers]:
            one.stop(signal.SIGTERM)
        wait_until(lambda: not self._ours.alive(), 60, self._ours.alive)
        for one in self._all:
            self.faults += [line for line in one.said() if " error " in line or "Traceback" in line]

    def takeovers(self) -> Iterator[tuple[float, float]]:
        """Yield when each step that a kill interrupted was begun anew; that of a job cancelled never is.

        Told is how long after its kill, and after the last kill of any process before it was begun.
        """
        ended = {(step, process) for step, _, process in self._ours.planner.ended}
        begun = self._ours.planner.begun
        for killed_s, children in self._interrupted:
            for step, _, process in begun:
                if process in children and (step, process) not in ended:
                    later = [at_s for other, at_s, _ in begun if other == step and at_s > killed_s]
                    for at_s in later[:1]:
                        last_s = max(one for one, _ in self._interrupted if one < at_s)
                        yield at_s - killed_s, at_s - last_s


def _told(town: _Town, database: Where, folder: Path, kills: int) -> Told:
    ledger, club = town.ledger, town.club.rpartition("/")[2]
    storage = Storage(database)
    try:
        faults = [*town.faults, *faults_of(storage, club, ledger, folder / "copy.sqlite3")]
        states = [one.state for one in everything_on(lambda cursor: storage.jobs.page(club, cursor, 200))]
    finally:
        storage.close()
    gaps = list(town.takeovers())
    return Told(
        kills=kills, writes=ledger.writes, stale=ledger.stale, unsure=len(ledger.unsure), jobs=len(states),
        done=states.count(JobState.DONE), cancelled=states.count(JobState.CANCELLED), interrupted=len(gaps),
        longest_takeover_s=max((gap for gap, _ in gaps), default=0.0),
        longest_since_last_s=max((gap for _, gap in gaps), default=0.0),
        longest_restart_s=max(town.restarts_s, default=0.0),
        faults=tuple(faults),
    )  # fmt: skip
