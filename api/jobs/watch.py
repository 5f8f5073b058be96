"""What a part of a job looks at, and what it tells, while it works."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from threading import Event, Lock
from time import monotonic

from scheduler.domain import Progress

from ..errors import DiskFull, NoSuch, NotReady
from ..storage import Storage

LOOK_EVERY_S = 0.15
REPORT_EVERY_S = 0.25


class Watch:
    """Tells whether work on a job should stop: the job was asked to, has ended elsewhere, or is gone.

    Its record is looked at a few times a second, so that any process can ask for it. Where the database does
    not answer, the work goes on.
    """

    def __init__(self, storage: Storage, job: str, closing: Event) -> None:
        self._storage, self._job, self._closing = storage, job, closing
        self._next_s, self._stop = 0.0, False

    def __call__(self) -> bool:
        """Tell whether to stop."""
        if self._closing.is_set():
            return True
        if not self._stop and monotonic() >= self._next_s:
            self._next_s = monotonic() + LOOK_EVERY_S
            self._stop = self._asked()
        return self._stop

    def _asked(self) -> bool:
        try:
            record = self._storage.jobs.get(self._job)
        except NoSuch:
            return True
        except NotReady:
            return False
        return record.cancelling or record.state.ended


class Reporter:
    """Keeps the progress of one job: every new stage at once, changes within a stage a few times a second.

    Parameters
    ----------
    storage, job : Where it is kept, and of which job.
    begin, end : The part of the whole job, 0..1, that the fractions told are of.
    """

    def __init__(self, storage: Storage, job: str, begin: float = 0.0, end: float = 1.0) -> None:
        self._storage, self._job = storage, job
        self._begin, self._end = begin, end
        self._stage, self._next_s = "", 0.0
        self._lock = Lock()

    def __call__(self, progress: Progress, /) -> None:
        """Take note of `progress`; a database that does not answer is not waited for."""
        with self._lock:
            if progress.stage == self._stage and monotonic() < self._next_s:
                return
            self._stage, self._next_s = progress.stage, monotonic() + REPORT_EVERY_S
            fraction = self._begin + (self._end - self._begin) * min(1.0, max(0.0, progress.fraction))
            with suppress(NotReady, DiskFull):
                self._storage.jobs.report(
                    self._job, progress.stage, fraction, progress.objective, progress.bound
                )


class Fractions:
    """How far the shares of jobs have come that this process is at; those elsewhere count when they end."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, str], float] = {}
        self._lock = Lock()

    def report_of(self, job: str, share: str) -> Callable[[Progress], None]:
        """Return whom to tell the progress of a share."""

        def report(progress: Progress, /) -> None:
            with self._lock:
                self._known[job, share] = min(1.0, max(0.0, progress.fraction))

        return report

    def done(self, job: str, share: str) -> None:
        """Forget a share: it has ended, one way or another."""
        with self._lock:
            self._known.pop((job, share), None)

    def under_way(self, job: str) -> float:
        """Return the sum of the fractions of a job's shares under way here."""
        with self._lock:
            return sum(fraction for (of, _), fraction in self._known.items() if of == job)
