"""Deeds that do to their process whatever a bad day could do to it."""

from __future__ import annotations

import ctypes
import os
import signal
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from api.ports import Deed
from scheduler.domain import Cancel, Progress, Report
from scheduler.errors import Cancelled, InvalidValue

_kept: dict[str, int] = {}


def rough_deeds() -> Mapping[str, Deed]:
    return {
        "add": _add, "count": _count, "sleep": _sleep, "sleep deaf": _sleep_deaf, "segfault": _segfault,
        "kill": _kill, "eat": _eat, "refuse": _refuse, "break": _break, "leave": _leave,
    }  # fmt: skip


def _add(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    report(Progress("adding", 0.25, 1.0, 2.0))
    report(Progress("adding", 0.75))
    return str(given["one"] + given["other"])


def _count(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    """Tell which process this is, and how often it has counted."""
    _kept["count"] = _kept.get("count", 0) + 1
    return f"{os.getpid()} {_kept['count']}"


def _sleep(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    _began(given)
    while not cancel.is_set():
        time.sleep(0.005)
    raise Cancelled


def _sleep_deaf(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    _began(given)
    time.sleep(60)
    return "slept"


def _began(given: Mapping[str, Any]) -> None:
    if "began" in given:
        Path(given["began"]).write_text(str(os.getpid()))


def _segfault(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    ctypes.string_at(0)
    return "unhurt"


def _kill(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    os.kill(os.getpid(), signal.SIGKILL)
    return "unhurt"


def _leave(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    os._exit(7)


def _eat(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    eaten = [bytearray(10_000_000) for _ in range(given["megabytes"] // 10)]
    return f"{sum(map(len, eaten))} eaten"


def _refuse(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    raise InvalidValue("seconds", -1.0, "a positive number")


def _break(given: Mapping[str, Any], report: Report, cancel: Cancel) -> str:
    raise ZeroDivisionError("the secret of the cellar")
