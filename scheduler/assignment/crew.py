"""Searches run side by side, each on one core, and stopped when the caller asks."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor, wait
from typing import TYPE_CHECKING

from ..domain.progress import Cancel
from ..errors import Cancelled
from .neighbourhood import Found, Neighbourhood, Search

if TYPE_CHECKING:
    from types import TracebackType

    import numpy as np

    from .intervals import Windows

WORK_PER_SECOND = 0.4  # the solver's deterministic seconds done in one second of one core, roughly
OVERHEAD_S = 0.01  # of making a model; it also ends a search among trifles
POLL_S = 0.05


class Crew:
    """Two hands that search at once; the outcome does not depend on who is faster.

    Attributes
    ----------
    work : Work so far, about the seconds it takes; a count that is the same on every machine.
    """

    def __init__(self, windows: Windows, random: np.random.Generator, cancel: Cancel) -> None:
        self.work = 0.0
        self._windows, self._random, self._cancel = windows, random, cancel
        self._pool = ThreadPoolExecutor(2)

    def __enter__(self) -> Crew:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._pool.shutdown()

    def settle(self, jobs: list[Neighbourhood]) -> list[Found]:
        """Return what is found for each job.

        Raises
        ------
        Cancelled
            When asked to stop.
        """
        searches = [Search(self._windows, job, int(self._random.integers(2**31))) for job in jobs]
        futures = [self._pool.submit(search.run) for search in searches]
        while wait(futures, timeout=POLL_S).not_done:
            if self._cancel.is_set():
                for search in searches:
                    search.stop()
        if self._cancel.is_set():
            raise Cancelled
        found = [future.result() for future in futures]
        self.work += max(each.work for each in found) / WORK_PER_SECOND + OVERHEAD_S
        return found
