"""A damaged database file: said so, left as it is, and a backup in its place works."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from .journeys import assert_is_problem
from .servers import ROOT, Processes, processes_on
from .test_full_disk import LARGE

PAGE = 4096


@pytest.fixture
def ours(tmp_path: Path) -> Iterator[Processes]:
    with processes_on(tmp_path / "kept.sqlite3", tmp_path) as processes:
        yield processes


def duskwright(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "scheduler", *words]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=30, check=False)


def overwrite(file: Path) -> None:
    """Overwrite every page but the first, as a failing disk might."""
    with file.open("r+b") as pages:
        pages.seek(PAGE)
        pages.write(b"\xa5" * (file.stat().st_size - PAGE))


def test_damage_is_told_and_a_backup_in_its_place_works(ours: Processes, tmp_path: Path) -> None:
    file, copy = tmp_path / "kept.sqlite3", tmp_path / "copy.sqlite3"
    first = ours.serve()
    plan = first.service.planned(first.service.kept("worth keeping"))
    schedule = first.service.get(f"{plan}/schedule.csv").text
    assert duskwright("backup", str(copy), "--database", str(file)).returncode == 0
    first.stop(signal.SIGTERM)
    overwrite(file)

    damaged = file.read_bytes()
    for words in (["serve", "--port", "0"], ["work"], ["backup", str(tmp_path / "another")]):
        said = duskwright(*words, "--database", str(file))
        assert said.returncode == 1, said
        assert "damaged" in said.stderr
        assert "put a backup in its place" in said.stderr
        assert said.stderr.count("\n") == 1, "one line, not a page of code"
    assert file.read_bytes() == damaged
    assert not (tmp_path / "another").exists()

    copy.rename(file)
    second = ours.serve()
    assert [item["name"] for item in second.service.scenarios] == ["worth keeping"]
    assert second.service.get(f"{plan}/schedule.csv").text == schedule
    second.service.planned(second.service.scenarios[0]["links"]["self"])


def test_damage_under_a_running_service_is_told_to_its_callers(ours: Processes, tmp_path: Path) -> None:
    """What the service still has in memory it may answer; what it must read from the file it tells."""
    file = tmp_path / "kept.sqlite3"
    server = ours.serve("workers=0")
    for number in range(10):
        assert server.service.keep(f"large {number}", wish_list=LARGE).status_code == 201
    server.stop(signal.SIGTERM)  # everything is in the file itself now
    server = ours.serve("workers=0")
    lists = [scenario["links"]["wish_list_csv"] for scenario in server.service.scenarios]
    overwrite(file)
    damaged = file.read_bytes()
    answers = [server.service.get(path) for path in lists]
    refused = [answer for answer in answers if answer.status_code != 200]
    assert refused, "nothing was read from the file"
    for answer in refused:
        assert "damaged" in assert_is_problem(answer, 503, "not-ready")["detail"]
    assert all(answer.content == LARGE for answer in answers if answer.status_code == 200)
    assert server.service.get("/livez").status_code == 200
    assert file.read_bytes() == damaged
    server.stop(signal.SIGTERM)
    said = duskwright("serve", "--port", "0", "--database", str(file))
    assert said.returncode == 1
    assert "damaged" in said.stderr
