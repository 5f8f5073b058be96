"""Waiting for a database that is away for a while."""

from __future__ import annotations

import logging
from collections.abc import Callable
from threading import Event
from typing import TypeVar

from ..errors import DiskFull, NotReady

LONGEST_WAIT_S = 5.0

Result = TypeVar("Result")
_log = logging.getLogger("duskwright.jobs")


class HandedBack(BaseException):
    """Work on a job stops here, and another process, or the next start, is to go on with it.

    Not an `Exception`: the workflow library keeps what ends with one as it is, neither done nor failed.
    """


def patiently(ask: Callable[[], Result], closing: Event) -> Result:
    """Return what `ask` does once the database answers and has room; raise `HandedBack` on closing."""
    wait_s = 0.1
    while True:
        try:
            return ask()
        except (NotReady, DiskFull) as error:
            if wait_s == 0.1:
                _log.warning("waiting for the database: %s", error)
            if closing.wait(wait_s):
                raise HandedBack from error
            wait_s = min(2 * wait_s, LONGEST_WAIT_S)
