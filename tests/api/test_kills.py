"""Random kills under a crowd of clients; `tests/benchmarks/kills.py` does the same for longer."""

from __future__ import annotations

from pathlib import Path

import pytest

from .databases import Where
from .kills import killed_again_and_again


def test_nothing_acknowledged_is_lost_when_processes_are_killed(
    database: Where, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workers = 0 if isinstance(database, Path) else 2
    told = killed_again_and_again(database, tmp_path, kills=2, seed=1, workers=workers)
    with capsys.disabled():
        print(f"\n{told}")
    assert told.faults == ()
    assert told.writes > 30
    assert told.done > 0
