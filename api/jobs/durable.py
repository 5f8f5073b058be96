"""Jobs that outlive the process that works on them."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from threading import Event, Thread
from time import monotonic, sleep

from ..errors import Interrupted, NotReady
from ..ports import Hands, Outside
from ..problems import problem_of
from ..storage import JobRecord, NewJob, Storage
from .engine import Engine, is_file
from .parts import PartsOfJobs, Workshop
from .pulse import LOOK_EVERY_S, Pulse, new_executor

STOP_WITHIN_S = 3.0
"""How long work has to hand itself back when the process is asked to stop."""
_SILENT_S = 10.0
_MOST_REVIVALS = 3
_LOOKS_A_SWEEP = 60
_LOOKS_UNTIL_DROPPED = 4

_log = logging.getLogger("duskwright.jobs")


@dataclass(frozen=True, slots=True)
class Power:
    """How much this process does.

    Attributes
    ----------
    workers : Jobs worked on at the same time; 0 leaves them to other processes.
    cores : Shares of jobs worked on at the same time.
    waiting_jobs : Most jobs of a club waiting or at work.
    plan_years : Weather years of a plan whose wish names none.
    """

    workers: int = 1
    cores: int = 1
    waiting_jobs: int = 100
    plan_years: int = 200


class DurableJobs:
    """Works on jobs, together with every other process on the same database.

    Parameters
    ----------
    storage : Where jobs are kept; what it says of a job is the truth.
    hands : Who does the heavy work.
    power : How much this process does.
    outside : How calendar servers are reached.
    """

    def __init__(self, storage: Storage, hands: Hands, power: Power, outside: Outside | None = None) -> None:
        self._storage, self._hands, self._power = storage, hands, power
        self._closing, self._news = Event(), Event()
        self._parts = PartsOfJobs(
            Workshop(storage, hands, self._closing, power.plan_years, outside or Outside())
        )
        address = storage.address
        self._pulse = Pulse(storage, new_executor(), one_machine=is_file(address))
        self._pulse.beat()  # before any work is taken: whoever works is known
        self._engine = Engine(address, self._pulse.executor, self._parts, power.workers, power.cores)
        self._heard_s = monotonic()
        self._revived: dict[str, int] = {}
        self._sweep, self._pick_up = _Sweep(storage, self._engine), _PickUp(self._engine)
        self._keeper = Thread(target=self._keep_house, name="duskwright-jobs", daemon=True)
        self._keeper.start()

    def start(self, new: NewJob) -> JobRecord:
        """Keep a job and work on it when a worker is free; a repeated key returns the job made before."""
        job, fresh = self._storage.jobs.add(new, self._power.waiting_jobs)
        if fresh:
            self._news.set()
        return job

    def cancel(self, job: str) -> JobRecord:
        """Ask a job to stop; one that was waiting never begins, one at work keeps nothing."""
        return self._storage.jobs.ask_cancel(job)

    def check(self) -> None:
        """Raise `NotReady` unless new jobs will be worked on."""
        if self._closing.is_set():
            raise NotReady("the service is stopping")
        if monotonic() - self._heard_s > _SILENT_S:
            raise NotReady("the workers do not answer")

    def close(self) -> None:
        """Stop all work and hand it back: it waits for another process, or for the next start."""
        self._closing.set()
        self._news.set()
        handed_back = self._parts.at_work
        deadline_s = monotonic() + STOP_WITHIN_S
        while not self._parts.idle and monotonic() < deadline_s:
            sleep(0.02)
        self._hands.close()
        self._keeper.join(STOP_WITHIN_S)
        self._engine.close()
        try:
            for job in handed_back:
                self._storage.jobs.hand_back(job)
            self._pulse.stop()
        except NotReady as error:
            _log.warning("work is handed back when this process is found dead: %s", error)

    def _keep_house(self) -> None:
        """Beat, bury the dead and let their work be taken over, see that every unfinished job is carried."""
        next_look_s = monotonic()
        failing = False
        while not self._closing.is_set():
            try:
                if monotonic() >= next_look_s:
                    next_look_s = monotonic() + LOOK_EVERY_S
                    self._look()
                self._carry_on()
                self._heard_s, failing = monotonic(), False
            except Exception as error:
                if not failing and not self._closing.is_set():
                    _log.warning("workers wait for the database: %s", error)
                failing = True
            self._news.wait(max(0.05, next_look_s - monotonic()))
            self._news.clear()

    def _look(self) -> None:
        self._pulse.beat()
        for executor in self._pulse.bury():
            _log.warning("worker %s is dead", executor)
        carriers = self._engine.carriers()
        for executor in self._pulse.strangers(list(carriers)):
            count = self._engine.resume(executor)
            _log.warning("taking over %d pieces of work of %s", count, executor)
        self._pick_up(carriers.get(self._pulse.executor, ()))
        self._sweep()

    def _carry_on(self) -> None:
        """Enqueue what nobody carries: it is new, or the library's tables were lost."""
        unfinished = [job.id for job in self._storage.jobs.unfinished()]
        unseen, ended = self._engine.lost(unfinished)
        still = {job.id for job in self._storage.jobs.unfinished()} if ended else set()
        for job in ended:
            if job in still:
                self._revive(job)
        for job in unseen:
            self._engine.enqueue(job)

    def _revive(self, job: str) -> None:
        """Begin anew what ended without its job: only a fault of ours, or of the library, does that."""
        self._revived[job] = self._revived.get(job, 0) + 1
        _log.error("job %s was dropped without an end, time %d", job, self._revived[job])
        if self._revived[job] > _MOST_REVIVALS:
            self._storage.jobs.stop(job, problem_of(Interrupted()))
            return
        self._engine.forget([job])
        self._engine.enqueue(job)


class _PickUp:
    """Takes up again what this process carries and is not at: the library drops work it cannot write down.

    It does so where its file is full. Work that was only about to begin, or to end, does no harm twice.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._looks: dict[str, int] = {}

    def __call__(self, carried: Sequence[tuple[str, str]]) -> None:
        """Look once at what this process carries, by the library's tables."""
        idle = [work for work, _ in carried if not self._engine.is_at(work)]
        self._looks = {work: self._looks.get(work, 0) + 1 for work in idle}
        dropped = [one for one in carried if self._looks.get(one[0], 0) >= _LOOKS_UNTIL_DROPPED]
        self._engine.resume_all(dropped)
        for work, _ in dropped:
            _log.warning("taking up work on %s again, which was dropped", work)
            del self._looks[work]


class _Sweep:
    """Keeps the library's tables small: a job that ended a while ago needs nothing there."""

    def __init__(self, storage: Storage, engine: Engine) -> None:
        self._storage, self._engine = storage, engine
        self._looks = 0
        self._seen: list[str] = []

    def __call__(self) -> None:
        """Forget, every minute, what had ended a minute ago."""
        self._looks += 1
        if self._looks % _LOOKS_A_SWEEP:
            return
        unfinished = {job.id for job in self._storage.jobs.unfinished()}
        self._engine.forget([job for job in self._seen if job not in unfinished])
        self._seen = self._engine.ended()
