"""What runs in a child process: one task at a time, told and answered through a pipe.

To the child goes a `Task`, or None to ask the task at work to stop; back comes `Progress`, and at the end
`Made`, `Refused`, `Broken` or `Exhausted`. When the other end closes, however the parent ended, the child
ends too.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Mapping
from dataclasses import dataclass
from multiprocessing.connection import Connection
from queue import SimpleQueue
from threading import Event, Lock, Thread

from scheduler.errors import DuskwrightError

from ..logs import told_of_error
from ..ports import Deeds, Task
from .limits import limit_memory

ORPHANED = 3
"""Exit code of a child whose parent is gone."""


@dataclass(frozen=True, slots=True)
class Made:
    """The task is done, and this is what it made."""

    text: str


@dataclass(frozen=True, slots=True)
class Refused:
    """The task ended with an error of our tree."""

    error: DuskwrightError


@dataclass(frozen=True, slots=True)
class Broken:
    """The task met an error nobody foresaw; `told` is what the log may tell of it."""

    told: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Exhausted:
    """The task asked for more memory than it may have."""


def work(pipe: Connection, deeds: Deeds, memory_mb: int) -> None:
    """Do every task that comes through the pipe until it closes.

    Parameters
    ----------
    pipe : The way to and from the parent.
    deeds : Makes the deeds, once, when the first task has come.
    memory_mb : Most memory for data of this process's own. [MB]
    """
    # Ctrl-C reaches every process of a terminal; it is the parent's to answer.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    limit_memory(memory_mb)
    tasks: SimpleQueue[Task] = SimpleQueue()
    stop = Event()
    Thread(target=_listen, args=(pipe, tasks, stop), daemon=True).start()
    tell = _Teller(pipe)
    known = None
    while True:
        task = tasks.get()
        try:
            known = known or deeds()
            answer: object = Made(known[task.deed](task.given, tell, stop))
        except MemoryError:
            answer = Exhausted()
        except DuskwrightError as error:
            answer = Refused(error)
        except Exception as error:
            answer = Broken(told_of_error(error))
        tell(answer)


class _Teller:
    """Sends one thing at a time: a solver may report from threads of its own."""

    def __init__(self, pipe: Connection) -> None:
        self._pipe, self._lock = pipe, Lock()

    def __call__(self, told: object, /) -> None:
        with self._lock:
            try:
                self._pipe.send(told)
            except OSError:  # nobody is there to be told
                os._exit(ORPHANED)


def _listen(pipe: Connection, tasks: SimpleQueue[Task], stop: Event) -> None:
    while True:
        try:
            told: Task | None = pipe.recv()
        except (EOFError, OSError):
            os._exit(ORPHANED)
        if told is None:
            stop.set()
        else:
            stop.clear()
            tasks.put(told)
