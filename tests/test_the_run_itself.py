"""A run of the tests ends, with its summary and the right status, whatever its tests leave behind."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from .conftest import WORKERS, pytest_xdist_auto_num_workers
from .planted import said_of

LEAVES_A_THREAD = (
    "import threading\n"
    "def test_one(): threading.Thread(target=threading.Event().wait, name='dbos-executor-_0').start()\n"
)
SOUND, FAILING = "def test_one(): ...\n", "def test_one(): assert False\n"
CRASHES = "import os\ndef test_one(): os._exit(0)\n"


@pytest.mark.parametrize("workers", ["0", "2"])
def test_a_thread_left_keeps_no_process(tmp_path: Path, workers: str) -> None:
    planted = {"a": LEAVES_A_THREAD, "b": LEAVES_A_THREAD, "c": SOUND, "d": SOUND}
    said = said_of(tmp_path, planted, "-n", workers)
    assert (said.status, said.last.split(" in ")[0]) == (0, "4 passed")


@pytest.mark.parametrize("workers", ["0", "2"])
def test_a_thread_left_hides_no_failure(tmp_path: Path, workers: str) -> None:
    planted = {"a": LEAVES_A_THREAD, "b": LEAVES_A_THREAD, "c": FAILING, "d": SOUND}
    said = said_of(tmp_path, planted, "-n", workers)
    assert (said.status, said.last.split(" in ")[0]) == (1, "1 failed, 3 passed")


def test_a_process_that_is_gone_is_a_failure(tmp_path: Path) -> None:
    said = said_of(tmp_path, {"a": CRASHES, "b": SOUND, "c": SOUND}, "-n", "2")
    assert said.status == 1
    assert said.last.startswith("1 failed, 2 passed in ")
    assert "crashed while running 'test_a.py::test_one'" in said.text


@pytest.mark.parametrize(
    ("named", "expected"),
    [
        ([__file__], 0),
        ([f"{__file__}::test_one", f"{__file__}::test_two"], 0),
        ([str(Path(__file__).parent)], WORKERS),
        ([__file__, str(Path(__file__).with_name("conftest.py"))], WORKERS),
        (["tests", "scheduler", "api"], WORKERS),
    ],
    ids=["a file", "tests of a file", "a folder", "two files", "all"],
)
def test_only_a_file_alone_is_run_in_the_process_itself(named: list[str], expected: int) -> None:
    config: Any = SimpleNamespace(args=named)
    assert pytest_xdist_auto_num_workers(config) == expected
