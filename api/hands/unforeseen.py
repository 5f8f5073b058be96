"""An error nobody foresaw: the log tells where it was, whoever asked for the work only a reference."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from uuid import uuid4

from ..errors import WorkFailed
from ..ports import Task

_log = logging.getLogger("duskwright.work")


def failure_of(task: Task, told: Mapping[str, str]) -> WorkFailed:
    """Log what is told of an error, see `logs.told_of_error`, and return the error that refers to it."""
    failed = WorkFailed(f"urn:uuid:{uuid4()}")
    _log.error("work failed", extra={"told": {"reference": failed.reference, "work": task.deed, **told}})
    return failed
