"""Hands of this very process: the same deeds with the same errors, for tests that need no process."""

from __future__ import annotations

from collections.abc import Callable

from scheduler.domain import Report
from scheduler.errors import DuskwrightError

from ..logs import told_of_error
from ..ports import Deeds, Task
from .unforeseen import failure_of


class InlineHands:
    """Does every task in the thread that asks for it; no limit is kept, and a deaf deed is not killed."""

    def __init__(self, deeds: Deeds) -> None:
        self._deeds = deeds()

    def do(self, task: Task, report: Report, cancel: Callable[[], bool]) -> str:
        """Do a task and return what it made."""
        try:
            return self._deeds[task.deed](task.given, report, _Asked(cancel))
        except DuskwrightError:
            raise
        except Exception as error:
            raise failure_of(task, told_of_error(error)) from error

    def close(self) -> None:
        """Nothing to stop."""


class _Asked:
    def __init__(self, cancel: Callable[[], bool]) -> None:
        self._cancel = cancel

    def is_set(self) -> bool:
        return self._cancel()
