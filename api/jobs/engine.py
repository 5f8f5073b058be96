"""The workflow library, set up so that it is quick, quiet and calls nobody; nothing else here knows it.

It carries work that is at least begun again until it ends. Its tables may be lost at any time: what a job is
and where it stands is in our own.
"""

from __future__ import annotations

import logging
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from time import monotonic
from typing import ClassVar, Protocol

from dbos import DBOS, DBOSClient, DBOSConfig, SetWorkflowID, WorkflowStatus
from dbos import error as library_errors

JOBS, YEARS = "jobs", "years"
POLL_EVERY_S = 0.25
QUIET_S = 60.0
_FORMAT = "1"
"""Of what is handed from part to part; a process carries only work of its own format."""
_SCHEMA = "dbos"
_FILE = "sqlite:///"
_LIVE = ("PENDING", "ENQUEUED", "DELAYED")
_ENDED = ("SUCCESS", "ERROR", "CANCELLED", "MAX_RECOVERY_ATTEMPTS_EXCEEDED")

_DROPPED = library_errors.DBOSAwaitedWorkflowCancelledError

_log = logging.getLogger("duskwright.jobs")


def is_file(address: str) -> bool:
    """Tell whether a database is a file, so that all processes on it are on one machine."""
    return address.startswith(_FILE)


class Parts(Protocol):
    """The parts of a job. Each may be begun more than once, and leaves behind the same."""

    def first(self, job: str) -> str | None:
        """Do the first part and return what the others need; None where the job has ended with it."""

    def shares(self, first: str) -> Sequence[str]:
        """Return the shares of the second part; several processes may do them at the same time."""

    def share(self, job: str, first: str, share: str) -> str:
        """Do one share and return what the last part needs of it."""

    def last(self, job: str, first: str, shares: Shares) -> None:
        """Wait for the shares, do the last part and end the job."""


class Shares:
    """The shares of a job on their way."""

    def __init__(self, ids: Sequence[str]) -> None:
        self._ids = ids

    def __len__(self) -> int:
        return len(self._ids)

    def ended(self) -> Mapping[int, bool]:
        """Return, for each share that has ended, whether it was done; raise `LookupError` if one is lost."""
        found = {one.workflow_id: one.status for one in self._statuses(load_output=False)}
        stands = [found[share] for share in self._ids]
        return {number: stand == "SUCCESS" for number, stand in enumerate(stands) if stand in _ENDED}

    def made(self) -> list[str]:
        """Return what the shares made, once all are done."""
        found = {one.workflow_id: str(one.output) for one in self._statuses(load_output=True)}
        return [found[share] for share in self._ids]

    def drop(self) -> None:
        """Let those that wait never begin."""
        if self._ids:
            DBOS.cancel_workflows(list(self._ids))

    def _statuses(self, load_output: bool) -> Iterable[WorkflowStatus]:
        if not self._ids:
            return ()
        return DBOS.list_workflows(workflow_ids=list(self._ids), load_input=False, load_output=load_output)


class _Carried:
    """What the running process carries; there is one engine a process, as the library has it."""

    parts: Parts | None = None
    here: ClassVar[Counter[str]] = Counter()
    """How many threads are at each piece of work."""


@contextmanager
def _carrying(work: str) -> Iterator[None]:
    _Carried.here[work] += 1
    try:
        yield
    finally:
        _Carried.here[work] -= 1


class Engine:
    """Carries jobs while it is open.

    Parameters
    ----------
    address : Of our own database, as a URL with its password.
    executor : This process among all that work on the database; nobody had this name before.
    parts : What a job consists of.
    workers : Jobs carried at the same time by each process; 0 carries none.
    cores : Shares carried at the same time by each process.
    """

    def __init__(self, address: str, executor: str, parts: Parts, workers: int, cores: int) -> None:
        if _Carried.parts is not None:
            raise RuntimeError("one engine is open in this process already")
        _route_log()
        _Carried.parts = parts
        try:
            self._open(_work_url(address), executor, workers, cores)
        except BaseException:
            self.close()
            raise

    def _open(self, url: str, executor: str, workers: int, cores: int) -> None:
        DBOS.migrate(url, schema=_SCHEMA)
        _register(url, workers, cores)
        DBOS(config=_config(url, executor))
        if not workers:
            DBOS.listen_queues([])
        DBOS.launch()

    def enqueue(self, job: str) -> None:
        """Let a job be carried; one that is already, is once."""
        with SetWorkflowID(job):
            DBOS.enqueue_workflow(JOBS, _work, job)

    def lost(self, jobs: Iterable[str]) -> tuple[list[str], list[str]]:
        """Return which of these jobs nobody carries: those never seen, and those whose carrying has ended."""
        asked = list(jobs)
        if not asked:
            return [], []
        found = DBOS.list_workflows(workflow_ids=asked, load_input=False, load_output=False)
        stands: dict[str, str] = {one.workflow_id: one.status for one in found}
        stands |= {one.workflow_id: _ENDED[0] for one in found if _is_outgrown(one)}
        unseen = [job for job in asked if job not in stands]
        return unseen, [job for job in asked if stands.get(job, _LIVE[0]) in _ENDED]

    def forget(self, jobs: Sequence[str]) -> None:
        """Forget how these jobs were carried, their shares too."""
        if jobs:
            DBOS.delete_workflows(list(jobs), delete_children=True)

    def carriers(self) -> Mapping[str, list[tuple[str, str]]]:
        """Return what each process carries now: id and queue by executor."""
        found: dict[str, list[tuple[str, str]]] = {}
        for one in DBOS.list_workflows(status="PENDING", load_input=False, load_output=False):
            queue = JOBS if one.parent_workflow_id is None else YEARS
            found.setdefault(one.executor_id or "", []).append((one.workflow_id, queue))
        return found

    def resume(self, executor: str) -> int:
        """Let others carry on what a dead process carried, and return how much that was."""
        left = self.carriers().get(executor, [])
        self.resume_all(left)
        return len(left)

    def resume_all(self, left: Iterable[tuple[str, str]]) -> None:
        """Let anybody carry this work on, given as `carriers` has it."""
        for work, queue in left:
            DBOS.resume_workflow(work, queue_name=queue)

    def is_at(self, work: str) -> bool:
        """Tell whether a thread of this process is at a piece of work."""
        return _Carried.here[work] > 0

    def ended(self, most: int = 50) -> list[str]:
        """Return jobs whose carrying has ended, the oldest first."""
        found = DBOS.list_workflows(
            status=list(_ENDED), has_parent=False, limit=most, load_input=False, load_output=False
        )
        return [one.workflow_id for one in found]

    def close(self) -> None:
        """Carry nothing any more; what is unfinished stays to be taken over."""
        DBOS.destroy()
        _Carried.parts = None


def _parts() -> Parts:
    assert _Carried.parts is not None, "work is carried only while an engine is open"
    return _Carried.parts


@DBOS.workflow(name="work", max_recovery_attempts=None)
def _work(job: str) -> None:
    with _carrying(job):
        first = _first(job)
        if first is None:
            return
        ids = []
        for number, share in enumerate(_parts().shares(first)):
            ids.append(f"{job}-{number}")
            with SetWorkflowID(ids[-1]):
                DBOS.enqueue_workflow(YEARS, _share, job, first, share)
        _last(job, first, ids)


@DBOS.workflow(name="share", max_recovery_attempts=None)
def _share(job: str, first: str, share: str) -> str:
    with _carrying(DBOS.workflow_id or job):
        return _do_share(job, first, share)


@DBOS.step(name="first")
def _first(job: str) -> str | None:
    return _parts().first(job)


@DBOS.step(name="share")
def _do_share(job: str, first: str, share: str) -> str:
    return _parts().share(job, first, share)


@DBOS.step(name="last")
def _last(job: str, first: str, ids: list[str]) -> None:
    _parts().last(job, first, Shares(ids))


def _is_outgrown(one: WorkflowStatus) -> bool:
    """Tell whether something waits for a process of an older format, of which none may ever come."""
    return one.status == "ENQUEUED" and int(one.app_version or _FORMAT) < int(_FORMAT)


def _config(url: str, executor: str) -> DBOSConfig:
    return DBOSConfig(
        name="duskwright", system_database_url=url, dbos_system_schema=_SCHEMA, executor_id=executor,
        application_version=_FORMAT, enable_otlp=False, log_level="WARNING", use_listen_notify=False,
        notification_listener_polling_interval_sec=0.2, sys_db_pool_size=8, run_migrations=False,
    )  # fmt: skip


def _work_url(address: str) -> str:
    """Return where the library keeps its tables: a file beside ours, or a schema of their own."""
    if not is_file(address):
        return address
    path = Path(f"{address.removeprefix(_FILE)}-work")
    path.touch(mode=0o600)  # scenarios and plans pass through it
    with closing(sqlite3.connect(path)) as file:
        file.execute("PRAGMA journal_mode = WAL")  # readers never wait for a writer; kept in the file
    return f"{address}-work"


def _register(url: str, workers: int, cores: int) -> None:
    """Make the queues before anyone listens: one made later is not heard of for a second."""
    client = DBOSClient(
        system_database_url=url, dbos_system_schema=_SCHEMA, application_name="duskwright",
        system_database_pool_size=1,
    )  # fmt: skip
    try:
        for queue, most in ((JOBS, workers), (YEARS, cores)):
            client.register_queue(
                queue, worker_concurrency=max(1, most), polling_interval_sec=POLL_EVERY_S,
                on_conflict="always_update" if workers else "never_update",
            )  # fmt: skip
    finally:
        client.destroy()


class _Ours(logging.Handler):
    """Tells in our own log what the library logs: in a line, and the same trouble once a minute.

    Not told is that shares were dropped with their job: whoever was at one of them calls that an error.
    """

    def __init__(self) -> None:
        super().__init__()
        self._told_s: dict[tuple[str, int], float] = {}

    def emit(self, record: logging.LogRecord) -> None:
        if record.exc_info and isinstance(
            record.exc_info[1], library_errors.DBOSAwaitedWorkflowCancelledError
        ):
            return
        place, now_s = (record.pathname, record.lineno), monotonic()
        if now_s - self._told_s.get(place, -QUIET_S) >= QUIET_S:
            self._told_s[place] = now_s
            told = record.getMessage().partition("\n")[0].removesuffix(": Traceback (most recent call last):")
            _log.log(record.levelno, "%s", told, exc_info=record.exc_info)


def _route_log() -> None:
    theirs = logging.getLogger("dbos")
    theirs.propagate = False
    if not any(isinstance(handler, _Ours) for handler in theirs.handlers):
        theirs.handlers = [_Ours()]
