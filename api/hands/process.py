"""Hands that are child processes: whatever happens to one, the next task gets a sound one."""

from __future__ import annotations

import signal
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing import get_context
from threading import Condition, Lock
from typing import TypeAlias

from scheduler.domain import Progress, Report
from scheduler.errors import Cancelled

from ..errors import OutOfMemory, OutOfTime, WorkCrashed
from ..ports import Deeds, Task
from .child import Broken, Exhausted, Made, Refused, work
from .limits import Limits
from .unforeseen import failure_of

PATIENCE_S = 0.45
"""How long a child that was asked to stop may take before it is killed."""
_LOOK_EVERY_S = 0.05


Answer: TypeAlias = Made | Refused | Broken | Exhausted
_spawning = get_context("spawn")


class ProcessHands:
    """Up to `most` child processes, each started when first needed and kept for the tasks to come.

    Parameters
    ----------
    deeds : Makes the deeds in a child; can be pickled.
    most : How many tasks are done at the same time; more wait their turn.
    limits : What one task may use.
    """

    def __init__(self, deeds: Deeds, most: int = 1, limits: Limits | None = None) -> None:
        self._deeds, self._limits = deeds, limits or Limits()
        self._turn = Condition()
        self._free: list[_Child] = []
        self._busy: list[_Child] = []
        self._most = most
        self._closed = False

    def do(self, task: Task, report: Report, cancel: Callable[[], bool]) -> str:
        """Do a task in a child and return what it made; see `Hands`."""
        child = self._taken(cancel)
        try:
            return child.do(task, report, cancel)
        except WorkCrashed:
            if self._closed:  # it was us
                raise Cancelled from None
            raise
        finally:
            self._give_back(child)

    def close(self) -> None:
        """End every child, whatever it is at."""
        with self._turn:
            self._closed = True
            children = [*self._free, *self._busy]
            self._turn.notify_all()
        for child in children:
            child.kill()

    def _taken(self, cancel: Callable[[], bool]) -> _Child:
        with self._turn:
            while not self._closed and len(self._busy) >= self._most:
                self._turn.wait(_LOOK_EVERY_S)
                if cancel():
                    raise Cancelled
            if self._closed:
                raise Cancelled
            child = self._next()
            self._busy.append(child)
            return child

    def _next(self) -> _Child:
        while self._free:
            child = self._free.pop()
            if child.alive:
                return child
            child.kill()
        return _Child(self._deeds, self._limits)

    def _give_back(self, child: _Child) -> None:
        with self._turn:
            self._busy.remove(child)
            if child.fit and not self._closed:
                self._free.append(child)
            else:
                child.kill()
            self._turn.notify()


class _Child:
    """One child process; `fit` tells whether it can take another task."""

    def __init__(self, deeds: Deeds, limits: Limits) -> None:
        self._limits = limits
        self._pipe, theirs = _spawning.Pipe()
        self._process = _spawning.Process(
            target=work, args=(theirs, deeds, limits.memory_mb), name="duskwright-hand", daemon=True
        )
        self._process.start()
        theirs.close()
        self._closing = Lock()
        self.fit = True

    @property
    def alive(self) -> bool:
        return self._process.is_alive()

    def do(self, task: Task, report: Report, cancel: Callable[[], bool]) -> str:
        self.fit = False
        try:
            self._pipe.send(task)
        except OSError:
            raise self._end() from None
        answer = self._answer(report, cancel)
        if isinstance(answer, Exhausted):
            raise OutOfMemory(self._limits.memory_mb)
        self.fit = True
        if isinstance(answer, Refused):
            raise answer.error
        if isinstance(answer, Broken):
            raise failure_of(task, answer.told)
        return answer.text

    def kill(self) -> None:
        self.fit = False
        with suppress(OSError):
            self._process.kill()
            self._process.join()
        with self._closing:  # who closes all hands and who gives this one back may both be here
            self._pipe.close()

    def _answer(self, report: Report, cancel: Callable[[], bool]) -> Answer:
        until_s = time.monotonic() + 60 * self._limits.minutes
        killed_at_s: float | None = None
        while True:
            try:
                told: Progress | Answer | None = self._pipe.recv() if self._pipe.poll(_LOOK_EVERY_S) else None
            except (EOFError, OSError):
                raise self._end() from None
            if isinstance(told, Progress):
                report(told)
            elif told is not None:
                return told
            now_s = time.monotonic()
            if now_s > until_s:
                self.kill()
                raise OutOfTime(self._limits.minutes)
            if killed_at_s is None and cancel():
                killed_at_s = now_s + PATIENCE_S
                with suppress(OSError):
                    self._pipe.send(None)
            if killed_at_s is not None and now_s > killed_at_s:
                self.kill()
                raise Cancelled

    def _end(self) -> WorkCrashed:
        self._process.join()
        code = self._process.exitcode or 0
        return WorkCrashed(signal.Signals(-code).name if code < 0 else f"exit code {code}")
