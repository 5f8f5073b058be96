"""Where nothing may be skipped, a skipped test is a failed one, in one process as in several."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from .planted import Said, said_of

SKIPS = {
    "in_a_test": "import pytest\ndef test_one():\n    pytest.skip('no such part')\n",
    "by_a_mark": "import pytest\n@pytest.mark.skip(reason='no such part')\ndef test_one(): ...\n",
    "in_a_fixture": "import pytest\n@pytest.fixture\ndef part():\n    pytest.skip('no such part')\n"
    "def test_one(part): ...\n",
    "a_whole_module": "import pytest\npytest.skip('no such part', allow_module_level=True)\n",
}
XFAIL = "import pytest\n@pytest.mark.xfail(reason='known')\ndef test_one():\n    assert False\n"


@pytest.fixture(params=[0, 2])
def run_planted(tmp_path: Path, request: pytest.FixtureRequest) -> Callable[[str], Said]:
    """Return what comes of one test skipped in each way, and one expected to fail."""

    def run(setting: str) -> Said:
        words = ("-n", str(request.param), "--continue-on-collection-errors")
        return said_of(
            tmp_path, {**SKIPS, "expected": XFAIL}, *words, DUSKWRIGHT_NOTHING_SKIPPED=setting
        )  # fmt: skip

    return run


def test_a_skip_is_a_failure_where_nothing_may_be_skipped(run_planted: Callable[[str], Said]) -> None:
    said = run_planted("1")
    for name in SKIPS:
        assert re.search(f"nothing may be skipped here: test_{name}.*no such part", said.text), name
    assert said.last.startswith("1 failed, 1 xfailed, 3 errors in ")
    assert said.status == 1


def test_elsewhere_a_skip_is_a_skip(run_planted: Callable[[str], Said]) -> None:
    said = run_planted("")
    assert said.last.startswith("4 skipped, 1 xfailed in ")
    assert said.status == 0


@pytest.mark.parametrize("workers", ["0", "2"])
def test_a_module_that_is_skipped_alone_fails_a_run(tmp_path: Path, workers: str) -> None:
    planted = {"whole": SKIPS["a_whole_module"], "sound": "def test_one(): ...\n"}
    said = said_of(tmp_path, planted, "-n", workers, DUSKWRIGHT_NOTHING_SKIPPED="1")
    assert said.status != 0
    assert "1 error" in said.last
