"""Jobs done by threads of this very process: enough for one observer's laptop.

Where a job stands is kept in storage, never only here. A job that is unfinished when the process ends has
kept nothing; it is marked failed and "interrupted": at the end where there is time, at the next start
otherwise.
"""

from __future__ import annotations

import logging
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from threading import Event, Lock
from time import monotonic

from scheduler.domain import Plan, Progress
from scheduler.errors import Cancelled

from .errors import Interrupted, NotReady, VersionTaken
from .ports import Door
from .problems import log_unforeseen, problem_of
from .storage import JobRecord, NewJob, NewPlan, Storage

REPORT_EVERY_S = 0.25

_log = logging.getLogger("duskwright.api")


class ThreadJobs:
    """Works on plan jobs in `workers` threads.

    Parameters
    ----------
    storage : Where scenarios, jobs and plans are kept.
    door : The scheduler's door.
    workers : How many jobs are worked on at the same time.
    most_unfinished : How many jobs may be waiting or at work.
    years : Weather years lived through for the odds of every plan.
    """

    def __init__(
        self, storage: Storage, door: Door, workers: int = 1, most_unfinished: int = 100, years: int = 0
    ) -> None:
        self._storage, self._door, self._most_unfinished = storage, door, most_unfinished
        self._years = years
        self._cancels: dict[str, Event] = {}
        self._lock = Lock()
        self._closed = False
        storage.jobs.stop_unfinished(problem_of(Interrupted()))
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="duskwright-job")

    def start(self, new: NewJob) -> JobRecord:
        """Keep a job and work on it when a worker is free; a repeated key returns the job made before."""
        job, fresh = self._storage.jobs.add(new, self._most_unfinished)
        if fresh:
            with self._lock:
                self._cancels[job.id] = Event()
            self._pool.submit(self._work, job.id).add_done_callback(_log_lost)
        return job

    def cancel(self, job: str) -> JobRecord:
        """Ask a job to stop; one that was waiting never begins, one at work keeps nothing."""
        record = self._storage.jobs.ask_cancel(job)
        with self._lock:
            if job in self._cancels:
                self._cancels[job].set()
        return record

    def check(self) -> None:
        """Raise `NotReady` unless new jobs will be worked on."""
        if self._closed:
            raise NotReady("the service is stopping")

    def close(self) -> None:
        """Stop all work; what is unfinished ends as interrupted."""
        self._closed = True
        with self._lock:
            for cancel in self._cancels.values():
                cancel.set()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._storage.jobs.stop_unfinished(problem_of(Interrupted()))

    def _work(self, job: str) -> None:
        with self._lock:
            cancel = self._cancels[job]
        try:
            record = self._storage.jobs.begin(job)
            if record is not None:
                self._plan(record, cancel)
        except Cancelled:
            # Nobody may have asked: then it is the service that is stopping, and storage says so.
            self._storage.jobs.stop(job, problem_of(Interrupted()))
        except Exception as error:
            problem = problem_of(error)
            log_unforeseen(error, problem)
            self._storage.jobs.stop(job, problem)
        finally:
            with self._lock:
                del self._cancels[job]

    def _plan(self, job: JobRecord, cancel: Event) -> None:
        files, _ = self._storage.scenarios.files(job.scenario, job.revision)
        name = self._storage.scenarios.get(job.scenario).name
        scenario = self._door.read_scenario(name, files)
        plan = self._door.plan_year(
            scenario, version=self._storage.plans.next_version(job.scenario), seed=job.wish["seed"],
            seconds=job.wish["seconds"], years=self._years, report=_Reporter(self._storage, job.id),
            cancel=cancel,
        )  # fmt: skip
        self._keep(job, plan)

    def _keep(self, job: JobRecord, plan: Plan) -> None:
        while True:
            try:
                kept = self._storage.jobs.finish(job.id, self._new_plan(plan))
            except VersionTaken:
                plan = replace(plan, version=self._storage.plans.next_version(job.scenario))
                continue
            if not kept:
                raise Cancelled
            return

    def _new_plan(self, plan: Plan) -> NewPlan:
        files = self._door.write_plan(plan)
        return NewPlan(plan.version, plan.objective, plan.bound, len(plan.visits), len(plan.unplaced), files)


def _log_lost(work: Future[None]) -> None:
    """A job whose end could not even be kept (a full disk, say) stays unfinished until the next start."""
    if not work.cancelled() and (error := work.exception()) is not None:
        _log.error("the end of a job could not be kept", exc_info=error)


class _Reporter:
    """Keeps the progress of one job: every new stage at once, changes within a stage a few times a second."""

    def __init__(self, storage: Storage, job: str) -> None:
        self._storage, self._job = storage, job
        self._stage, self._next_s = "", 0.0
        self._lock = Lock()

    def __call__(self, progress: Progress, /) -> None:
        with self._lock:
            if progress.stage == self._stage and monotonic() < self._next_s:
                return
            self._stage, self._next_s = progress.stage, monotonic() + REPORT_EVERY_S
            fraction = min(1.0, max(0.0, progress.fraction))
            self._storage.jobs.report(self._job, progress.stage, fraction, progress.objective, progress.bound)
