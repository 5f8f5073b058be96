"""The linter, the formatter and the type checker have nothing to say; modules stay short."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PATHS = ["scheduler", "api", "tests"]


@pytest.mark.parametrize(
    "words",
    [["ruff", "check", *PATHS], ["ruff", "format", "--check", *PATHS], ["mypy"]],
    ids=["ruff check", "ruff format", "mypy"],
)
def test_the_tools_are_silent(words: list[str]) -> None:
    seen = subprocess.run(
        [sys.executable, "-m", *words], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert seen.returncode == 0, seen.stdout + seen.stderr


@pytest.mark.parametrize("package", ["scheduler", "api"])
def test_modules_stay_short(package: str) -> None:
    lengths = {path: len(path.read_text("utf-8").splitlines()) for path in (ROOT / package).rglob("*.py")}
    assert {path: lines for path, lines in lengths.items() if lines > 300} == {}
