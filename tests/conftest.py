"""How every run goes: side by side, patient, sure to end; and nothing is skipped where all must be tested."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Generator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

WORKERS = 3
"""Processes the tests are shared out to, here as in CI; `-n` asks for another number.

One more than CI has processors: what tests other processes mostly waits for them.
"""
NOTHING_SKIPPED = "DUSKWRIGHT_NOTHING_SKIPPED"
"""Set to 1, a test that is skipped, for want of a part of the system or by its own mark, has failed."""

_status: list[int] = []

PATIENT: dict[str, Any] = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
"""A machine that is busy with other things fails no example."""
settings.register_profile("anew", **PATIENT)
settings.register_profile("patient", derandomize=True, **PATIENT)
settings.load_profile("patient")  # the same draws every time; `--hypothesis-profile anew` draws others


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Of `-n auto`: one file alone is run in the process itself, which starts sooner."""
    named = [Path(one.partition("::")[0]) for one in config.args]
    return 0 if len({*named}) == 1 and named[0].is_file() else WORKERS


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get(NOTHING_SKIPPED) == "1":
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"nothing may be skipped here: {item.nodeid}: {reason}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report = yield
    if report.skipped and os.environ.get(NOTHING_SKIPPED) == "1":
        report.outcome = "failed"
        report.longrepr = f"nothing may be skipped here: {collector.nodeid}: {report.longrepr}"
    return report


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    _status.append(int(exitstatus))


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    """End, after the summary, although the workflow library left a thread: see `api.command.left`.

    A process that tests were shared out to has told how they went by then.
    """
    lasting = [one for one in threading.enumerate() if one.name.startswith("dbos-executor")]
    if lasting and _status:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(_status[-1])
