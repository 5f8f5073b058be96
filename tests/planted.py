"""Runs of tests that are planted for it, set up as every run here is."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Said:
    """What a run said, and the status it ended with."""

    status: int
    text: str

    @property
    def last(self) -> str:
        """Its last line."""
        return self.text.splitlines()[-1].strip("= ")


def said_of(folder: Path, planted: Mapping[str, str], *words: str, **environment: str) -> Said:
    """Run tests, given as their modules' texts by name, in an empty folder."""
    shutil.copy(Path(__file__).with_name("conftest.py"), folder)
    for name, text in planted.items():
        (folder / f"test_{name}.py").write_text(text, "utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "xdist", *words]
    alone = {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}  # libraries bring plugins that take long to load
    ran = subprocess.run(
        command, cwd=folder, env=os.environ | alone | environment, capture_output=True, text=True, timeout=60
    )
    return Said(ran.returncode, ran.stdout)
