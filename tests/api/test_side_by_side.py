"""Several processes on one database: clients of all of them write, none is refused, no change is lost."""

from __future__ import annotations

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from .databases import Where
from .journeys import Service
from .servers import Processes, processes_on

EDITS = 12


@pytest.fixture
def ours(database: Where, tmp_path: Path) -> Iterator[Processes]:
    with processes_on(database, tmp_path) as processes:
        yield processes


def test_edits_with_if_match_at_two_processes_are_never_lost(ours: Processes) -> None:
    """Every client adds a line of its own to what it read; in the end all lines are there, each once."""
    services = [ours.serve("workers=0").service for _ in range(2)]
    scenario = services[0].kept()

    def edit(number: int) -> int:
        service, stale = services[number % 2], 0
        for count in range(EDITS):
            line = f"M {1000 * (number + 1) + count},3\r\n".encode()
            while not added(service, scenario, line):
                stale += 1
        return stale

    with ThreadPoolExecutor(4) as pool:
        stale = sum(pool.map(edit, range(4)))
    assert stale > 0, "nobody ever met another"
    kept = services[1].get(f"{scenario}/wish-list.csv")
    assert kept.headers["etag"] == f'"r{1 + 4 * EDITS}"'
    lines = re.findall(r"M (\d{4}),3", kept.text)
    assert sorted(lines) == [str(1000 * (n + 1) + count) for n in range(4) for count in range(EDITS)]


def added(service: Service, scenario: str, line: bytes) -> bool:
    read = service.get(f"{scenario}/wish-list.csv")
    headers = {"If-Match": read.headers["etag"], "Content-Type": "text/csv"}
    answer = service.ask("PUT", f"{scenario}/wish-list.csv", content=read.content + line, headers=headers)
    assert answer.status_code in {200, 412}, answer.text
    return answer.status_code == 200


def test_two_servers_and_a_worker_share_the_work_of_one_database(ours: Processes) -> None:
    ours.planner.pace_s = 0.05
    servers = [ours.serve("plan_years=50") for _ in range(2)]
    worker = ours.work()
    scenario = servers[0].service.kept()

    def write(number: int) -> list[str]:
        service, jobs = servers[number % 2].service, []
        for count in range(8):
            assert service.keep(f"scenario {number}-{count}").status_code == 201
            answer = service.ask("POST", f"{scenario}/outcomes", json={
                "evening": "2026-09-12", "outcome": "clouded out", "notes": f"{number}-{count}",
            })  # fmt: skip
            assert answer.status_code == 201, answer.text
            if count % 2:
                jobs.append(service.started(scenario))
        return jobs

    with ThreadPoolExecutor(4) as pool:
        jobs = [job for made in pool.map(write, range(4)) for job in made]
    ended = [servers[number % 2].service.ended(job) for number, job in enumerate(jobs)]
    assert {job["state"] for job in ended} == {"done"}, ended
    versions = [item["version"] for item in servers[1].service.get(f"{scenario}/plans").json()["items"]]
    assert versions == list(range(len(jobs), 0, -1))
    assert len(servers[1].service.get(f"{scenario}/outcomes").json()["items"]) == 32
    said = [line for one in (*servers, worker) for line in one.said() if " info " not in line]
    assert not [line for line in said if "locked" in line or " error " in line], said
