"""A disk that is really full under a serving process: told, nothing lost; it goes on when there is room."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

from .journeys import Service, assert_is_problem
from .servers import Processes, processes_on, wait_until

LARGE = b"target,priority,notes\r\n" + b"".join(b"M %d,5,%s\r\n" % (one, b"x" * 300) for one in range(1500))


@dataclass
class SmallDisk:
    """A disk of a few megabytes."""

    path: Path

    def fill(self) -> None:
        """Leave no room on it."""
        with (self.path / "filler").open("ab", buffering=0) as filler:
            for size in (65536, 4096, 1):
                with suppress(OSError):
                    while True:
                        filler.write(bytes(size))

    def make_room(self) -> None:
        """Give the room back."""
        (self.path / "filler").unlink()


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[SmallDisk]:
    path = tmp_path / "disk"
    path.mkdir()
    if os.geteuid() or subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", str(path)], capture_output=True
    ).returncode:  # fmt: skip
        pytest.skip("only root can make a small disk")
    yield SmallDisk(path)
    subprocess.run(["umount", "--lazy", str(path)], check=True)


@pytest.fixture
def ours(disk: SmallDisk, tmp_path: Path) -> Iterator[Processes]:
    with processes_on(disk.path / "kept.sqlite3", tmp_path) as processes:
        yield processes


def filled_up(disk: SmallDisk, service: Service) -> list[str]:
    """Fill the disk, write until nothing more goes in, and return the addresses of what was acknowledged."""
    disk.fill()
    kept: list[str] = []
    for number in range(500):
        answer = service.keep(f"scenario {number}")
        if answer.status_code != 201:
            assert_is_problem(answer, 507, "disk-full")
            return kept
        kept.append(str(answer.headers["location"]))
    raise AssertionError("the disk was never full")


def test_a_full_disk_is_told_and_everything_goes_on_when_there_is_room(
    ours: Processes, disk: SmallDisk
) -> None:
    server = ours.serve("held")
    service = server.service
    scenario = service.kept("before")
    at_work = service.started(scenario)
    service.followed(at_work, {"at work"})
    kept = filled_up(disk, service)

    tag = service.get(scenario).headers["etag"]
    refused = [
        service.keep("large", wish_list=LARGE),
        service.replace(scenario, "another name", tag),
        service.start(scenario, key="while-full"),
        service.ask("POST", f"{scenario}/outcomes", json={"evening": "2026-09-12", "outcome": "clear"}),
    ]
    for answer in refused:
        assert_is_problem(answer, 507, "disk-full")
    assert service.get("/livez").status_code == 200
    assert service.get(scenario).json()["name"] == "before"
    assert service.get(at_work).json()["state"] == "at work"
    assert service.get(f"{scenario}/outcomes").json() == {"items": []}
    ours.planner.held = False
    wait_until(lambda: ours.planner.ended != [], 60)
    assert service.get(at_work).json()["state"] == "at work", "it waits for room to keep its plan"

    disk.make_room()
    done = service.ended(at_work)
    assert done["state"] == "done", done
    assert [item["version"] for item in service.get(f"{scenario}/plans").json()["items"]] == [1]
    job = service.started(scenario)
    assert service.ended(job)["state"] == "done"
    assert service.keep("large", wish_list=LARGE).status_code == 201
    names = {item["links"]["self"]: item["name"] for item in service.scenarios}
    assert (
        names | {path: f"scenario {number}" for number, path in enumerate(kept[-40:], len(kept) - 40)}
        == names
    )
    wait_until(lambda: service.get("/readyz").status_code == 200, 60)
    assert not [line for line in server.said() if "unforeseen" in line or "Traceback" in line]


def test_jobs_wait_while_only_the_file_beside_the_database_is_full(tmp_path: Path, disk: SmallDisk) -> None:
    """The workflow library's tables are in a file of their own; here it lies on another disk."""
    (tmp_path / "kept.sqlite3-work").symlink_to(disk.path / "work")
    with processes_on(tmp_path / "kept.sqlite3", tmp_path) as ours:
        service = ours.serve("plan_years=100").service
        scenario = service.kept()
        service.ended(service.started(scenario))
        disk.fill()
        jobs = [service.started(scenario, years=100) for _ in range(40)]
        assert service.keep("meanwhile").status_code == 201
        assert service.ask("POST", f"{jobs[-1]}/cancel").json()["state"] == "cancelled"
        disk.make_room()
        ended = [service.ended(job) for job in jobs]
        assert [job["state"] for job in ended] == ["done"] * 39 + ["cancelled"], ended
        versions = [item["version"] for item in service.get(f"{scenario}/plans?limit=200").json()["items"]]
        assert versions == list(range(40, 0, -1))
