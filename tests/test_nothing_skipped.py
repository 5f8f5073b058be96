"""Where nothing may be skipped, a skipped test is a failed one."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

SKIPS = {
    "in_a_test": "import pytest\ndef test_one():\n    pytest.skip('no such part')\n",
    "by_a_mark": "import pytest\n@pytest.mark.skip(reason='no such part')\ndef test_one(): ...\n",
    "in_a_fixture": "import pytest\n@pytest.fixture\ndef part():\n    pytest.skip('no such part')\n"
    "def test_one(part): ...\n",
    "a_whole_module": "import pytest\npytest.skip('no such part', allow_module_level=True)\n",
}
XFAIL = "import pytest\n@pytest.mark.xfail(reason='known')\ndef test_one():\n    assert False\n"


@pytest.fixture
def run_planted(tmp_path: Path) -> Callable[[str], str]:
    """Return what pytest says of one test skipped in each way, and one expected to fail."""
    shutil.copy(Path(__file__).with_name("conftest.py"), tmp_path)
    for name, test in {**SKIPS, "expected": XFAIL}.items():
        (tmp_path / f"test_{name}.py").write_text(test, "utf-8")

    def run(setting: str) -> str:
        words = ["-m", "pytest", "-q", "-p", "no:cacheprovider", "--continue-on-collection-errors"]
        environment = os.environ | {"DUSKWRIGHT_NOTHING_SKIPPED": setting}
        return subprocess.run(
            [sys.executable, *words],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        ).stdout

    return run


def test_a_skip_is_a_failure_where_nothing_may_be_skipped(run_planted: Callable[[str], str]) -> None:
    said = run_planted("1")
    for name in SKIPS:
        assert re.search(f"nothing may be skipped here: test_{name}.*no such part", said), name
    assert "1 xfailed" in said
    assert "skipped in" not in said


def test_elsewhere_a_skip_is_a_skip(run_planted: Callable[[str], str]) -> None:
    assert "4 skipped, 1 xfailed" in run_planted("")
