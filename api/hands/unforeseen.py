"""An error nobody foresaw: the log has all of it, whoever asked for the work only a reference."""

from __future__ import annotations

import logging
from uuid import uuid4

from ..errors import WorkFailed
from ..ports import Task

_log = logging.getLogger("duskwright.work")


def failure_of(task: Task, traceback: str) -> WorkFailed:
    """Log a traceback and return the error that refers to it."""
    failed = WorkFailed(f"urn:uuid:{uuid4()}")
    _log.error("%s: unforeseen error in %s\n%s", failed.reference, task.deed, traceback)
    return failed
