"""A process that works on jobs: what the service has inside, and what `work` runs without an API."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from types import FrameType

from scheduler.errors import InvalidValue

from .caldav import PinnedTransport
from .deeds import deeds_behind
from .door import scheduler_door
from .hands import InlineHands, Limits, ProcessHands
from .jobs import DurableJobs, Power
from .logs import set_up_logging
from .ports import Door, Hands, Outside
from .settings import Settings
from .storage import Storage

_LOOKS_UP_S = 0.5
"""How often the waiting thread looks up: Python runs the handler of a signal there, and a lock without an
end to its waiting does not wake for one that came just before it, or that another thread was given."""


def work(
    settings: Settings,
    *,
    door: Callable[[], Door] = scheduler_door,
    announce: Callable[[str], None] = print,
) -> None:
    """Work on the jobs of a database, beside every other process on it, until asked to stop.

    Parameters
    ----------
    settings : Where the database is, and how much this process does.
    door : Makes the scheduler's door; can be pickled.
    announce : Told once jobs are worked on.

    Raises
    ------
    InvalidValue
        If it is to work on no jobs at all.
    DatabaseUnusable
        If it is no database this version works on.
    """
    if not settings.workers:
        raise InvalidValue("workers", 0, "at least 1 where nothing else is done")
    set_up_logging(settings.log)
    storage = Storage(settings.database)
    try:
        with _asked_to_stop() as stop:
            jobs = jobs_of(settings, storage, door)
            try:
                announce(
                    f"Duskwright works on jobs of {settings.database_shown}, {settings.workers} at a time"
                )
                while not stop.wait(_LOOKS_UP_S):
                    pass
            finally:
                jobs.close()
    finally:
        storage.close()


def jobs_of(
    settings: Settings, storage: Storage, door: Callable[[], Door], *, in_children: bool = True,
    outside: Outside | None = None,
) -> DurableJobs:  # fmt: skip
    """Return jobs as the settings want them.

    Parameters
    ----------
    door : Makes the scheduler's door; can be pickled.
    in_children : Whether heavy work is done by child processes, as it is everywhere but in tests.
    outside : How calendar servers are reached; as the settings let us where None.
    """
    cores = cores_here()
    hands: Hands = InlineHands(deeds_behind(door))
    if in_children:
        limits = Limits(settings.job_minutes, settings.job_memory_mb)
        hands = ProcessHands(deeds_behind(door), max(settings.workers, cores), limits)
    power = Power(settings.workers, cores, settings.waiting_jobs, settings.plan_years)
    reached = Outside(settings.address, partial(PinnedTransport, frozenset(settings.push_hosts)))
    return DurableJobs(storage, hands, power, outside or reached)


def cores_here() -> int:
    """Return how many processes can work at once here."""
    known = getattr(os, "sched_getaffinity", None)
    return len(known(0)) if known else os.cpu_count() or 1


@contextmanager
def _asked_to_stop() -> Iterator[threading.Event]:
    """Turn the first Ctrl-C or SIGTERM into a request to stop in good order; a second one ends at once."""
    stop = threading.Event()
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}

    def ask(number: int, frame: FrameType | None) -> None:
        for known, handler in before.items():
            signal.signal(known, handler)
        stop.set()

    for number in before:
        signal.signal(number, ask)
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
