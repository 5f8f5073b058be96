"""The service as processes of its own, over a real socket: started, killed, started again."""

from __future__ import annotations

import os
import re
import secrets
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

import httpx2 as httpx

from .databases import Where
from .journeys import Service
from .stand_ins import StandInPlanner

ROOT = Path(__file__).parents[2]
MARK = "DUSKWRIGHT_TEST_MARK"
"""In the environment of whatever a test started, and of its children: by it they are found again."""


@dataclass
class Worker:
    """A running process that works on jobs."""

    process: subprocess.Popen[str]
    log: Path

    def stop(self, how: signal.Signals) -> str:
        """Stop the process and return what it said on the error stream, but for what is as it should be."""
        self.process.send_signal(how)
        self.process.communicate(timeout=60)
        return "".join(line for line in self.said() if " info " not in line)

    def said(self) -> list[str]:
        """Return the lines it said on the error stream."""
        return self.log.read_text().splitlines(keepends=True)


@dataclass
class Served(Worker):
    """A running server and a client of it."""

    port: int
    service: Service


Serve: TypeAlias = Callable[..., Served]


class Processes:
    """Processes on one database; all of them are ended when it closes.

    Parameters
    ----------
    database : The database they share.
    folder : Where their logs are, and what is said to the stand-in planner.
    before : Words before the interpreter, as to let a process see another clock.
    """

    def __init__(self, database: Where, folder: Path, before: tuple[str, ...] = ()) -> None:
        self.database, self.folder = database, folder
        self.planner = StandInPlanner(folder / "planner")
        self.mark = secrets.token_hex(8)
        self.environment = {**os.environ, "PYTHONPATH": str(ROOT), MARK: self.mark}
        self._before, self._running, self._started = before, ExitStack(), 0

    def serve(self, *options: str, port: int = 0) -> Served:
        """Start a server with the stand-in planner; see `serve_stand_in`."""
        where = [str(port), str(self.database), str(self.folder / "planner")]
        process, told, log = self.start(["-m", "tests.api.serve_stand_in", *where, *options])
        found = re.search(r"http://127\.0\.0\.1:(\d+)", told)
        assert found, (told, log.read_text())
        client = httpx.Client(base_url=found[0], timeout=30, trust_env=False)
        return Served(process, log, int(found[1]), Service(self._running.enter_context(client)))

    def work(self, workers: int = 1) -> Worker:
        """Start a process that works on jobs with the stand-in planner."""
        where = [str(self.database), str(self.folder / "planner"), str(workers)]
        process, told, log = self.start(["-m", "tests.api.jobs.work_stand_in", *where])
        assert told.startswith("Duskwright works on jobs"), (told, log.read_text())
        return Worker(process, log)

    def start(self, words: list[str]) -> tuple[subprocess.Popen[str], str, Path]:
        """Start Python with these words; return the process, its first line and where it logs."""
        self._started += 1
        log = self.folder / f"log-{self._started}"
        with log.open("w") as errors:  # a pipe nobody empties would stop the process
            process = subprocess.Popen(
                [*self._before, sys.executable, "-W", "error", *words], cwd=ROOT, text=True,
                stdout=subprocess.PIPE, stderr=errors, env=self.environment,
            )  # fmt: skip
        self._running.callback(_end, process)
        assert process.stdout is not None
        return process, process.stdout.readline(), log

    def alive(self) -> list[int]:
        """Return the numbers of all processes started here, and of their children, that live."""
        return sorted(number for number in _processes() if _is_marked(number, self.mark))

    def close(self) -> None:
        """Kill what still runs."""
        self._running.close()


@contextmanager
def processes_on(database: Where, folder: Path, before: tuple[str, ...] = ()) -> Iterator[Processes]:
    """Give processes on a database that are ended in the end."""
    ours = Processes(database, folder, before)
    try:
        yield ours
    finally:
        ours.close()


def free_port() -> int:
    """Return a port nobody listens on, and that the system gives to nobody who asks for any.

    So it is still free when its server is started, or started again. Linux gives ports from 32768 on; those
    from 49152 on are for it by RFC 6335 (M. Cotton, L. Eggert, J. Touch, M. Westerlund, S. Cheshire: Internet
    Assigned Numbers Authority Procedures for the Management of the Service Name and Transport Protocol Port
    Number Registry, 2011, section 6).
    """
    while True:
        port = secrets.choice(range(20_000, 32_000))
        with socket.socket() as one, suppress(OSError):
            one.bind(("127.0.0.1", port))
            return port


def children_of(process: int) -> list[int]:
    """Return the numbers of the living children of a process."""
    return [number for number in _processes() if _stat(number)[1:2] == [str(process)]]


def has_ended(process: int) -> bool:
    """Tell whether there is no such process any more, but for what its parent has yet to read."""
    return _stat(process)[:1] in ([], ["Z"], ["X"])


def wait_until(holds: Callable[[], bool], within_s: float, told: Callable[[], object] = lambda: "") -> float:
    """Wait until something holds and return how long that took. [s]"""
    begun_s = time.monotonic()
    while not holds():
        assert time.monotonic() < begun_s + within_s, f"waited in vain: {told()}"
        time.sleep(0.01)
    return time.monotonic() - begun_s


def _processes() -> list[int]:
    return [int(one.name) for one in Path("/proc").iterdir() if one.name.isdigit()]


def _stat(process: int) -> list[str]:
    """State, parent and what follows, by proc(5); nothing where there is no such process."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except (FileNotFoundError, ProcessLookupError):
        return []


def _is_marked(process: int, mark: str) -> bool:
    try:
        environment = Path(f"/proc/{process}/environ").read_bytes()
    except (FileNotFoundError, ProcessLookupError, PermissionError):
        return False
    return f"{MARK}={mark}".encode() in environment


def _end(process: subprocess.Popen[str]) -> None:
    if process.poll() is None:
        process.send_signal(signal.SIGCONT)
        process.kill()
        process.communicate()
    if process.stdout is not None:
        process.stdout.close()
