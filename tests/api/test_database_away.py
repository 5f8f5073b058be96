"""PostgreSQL really stopped under a serving process, and started again: told so meanwhile, nothing lost."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from threading import Event

import pytest

from .databases import SERVER
from .journeys import Service, assert_is_problem
from .servers import free_port, processes_on, wait_until


@dataclass
class Cluster:
    """A database server of this test's own, that may be stopped."""

    folder: Path
    programs: Path
    port: int

    @property
    def database(self) -> str:
        """The URL of its database."""
        return f"postgresql://postgres@127.0.0.1:{self.port}/postgres"

    def make(self) -> None:
        """Make it; nothing in it is meant to outlive the machine."""
        if not os.geteuid():
            shutil.chown(self.folder, "postgres")
        self._call("initdb", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = f"-h 127.0.0.1 -p {self.port} -k {self.folder} -c fsync=off"
        self._call("pg_ctl", "-l", str(self.folder / "log"), "-w", "start", "-o", options)

    def stop(self, how: str = "fast") -> None:
        """Stop it; `how` is a shutdown mode of pg_ctl."""
        self._call("pg_ctl", "-m", how, "-w", "stop")

    def _call(self, program: str, *words: str) -> None:
        command = [str(self.programs / program), "-D", str(self.folder / "data"), *words]
        if not os.geteuid():  # neither program runs as root
            command = ["runuser", "-u", "postgres", "--", *command]
        subprocess.run(command, cwd="/", check=True, stdout=subprocess.DEVNULL)


@pytest.fixture
def cluster() -> Iterator[Cluster]:
    found = shutil.which("initdb") or next(map(str, Path("/").glob("usr/lib/postgresql/*/bin/initdb")), None)
    if not os.environ.get(SERVER) or found is None:
        pytest.skip("no PostgreSQL of our own to stop")
    folder = Path(tempfile.mkdtemp())  # pytest's own folders are closed to the server's user
    cluster = Cluster(folder, Path(found).parent, free_port())
    try:
        cluster.make()
        cluster.start()
        yield cluster
    finally:
        if (folder / "data" / "postmaster.pid").exists():
            cluster.stop("immediate")
        shutil.rmtree(folder)


@pytest.mark.parametrize("how", ["fast", "immediate"])
def test_a_server_that_is_stopped_and_started_again_costs_nothing(
    cluster: Cluster, tmp_path: Path, how: str
) -> None:
    with processes_on(cluster.database, tmp_path) as ours:
        server = ours.serve("held", "plan_years=50")
        service = server.service
        club, scenario = service.club, service.kept("of all")
        at_work, waiting = service.started(scenario), service.started(scenario)
        service.followed(at_work, {"at work"})
        stopping = Event()
        with ThreadPoolExecutor(3) as pool:
            crowd = [
                pool.submit(written_all_the_time, service, club, number, stopping) for number in range(3)
            ]
            try:
                time.sleep(0.5)
                cluster.stop(how)
                ours.planner.held = False
                assert_is_away(service, club, scenario)
                time.sleep(2)
                assert service.get("/livez").status_code == 200
                cluster.start()
                back_s = wait_until(lambda: service.get("/readyz").status_code == 200, 60)
                ended = [service.ended(job) for job in (at_work, waiting)]
            finally:
                stopping.set()
            told = [one.result() for one in crowd]
        print(f"ready {back_s:.1f} s after the server was back")
        assert [job["state"] for job in ended] == ["done", "done"], ended
        versions = [item["version"] for item in service.get(f"{scenario}/plans").json()["items"]]
        assert versions == [2, 1]
        kept = {item["name"] for item in all_members(service)}
        acknowledged, unsure = set().union(*(one[0] for one in told)), set().union(*(one[1] for one in told))
        assert len(acknowledged) > 10
        assert unsure, "nobody wrote while it was away"
        assert acknowledged <= kept <= acknowledged | unsure
        assert not [line for line in server.said() if "unforeseen" in line or "Traceback" in line]


def assert_is_away(service: Service, club: str, scenario: str) -> None:
    """Everything but the sign of life is told to come again."""
    wait_until(lambda: service.get("/readyz").status_code == 503, 60)
    member = {"name": "meanwhile", "settings": {"age": 30}}
    for answer in (
        service.get("/readyz"), service.get(scenario), service.start(scenario),
        service.ask("POST", f"{club}/members", json=member),
    ):  # fmt: skip
        assert_is_problem(answer, 503, "not-ready")
        assert int(answer.headers["retry-after"]) > 0


def written_all_the_time(
    service: Service, club: str, number: int, stopping: Event
) -> tuple[set[str], set[str]]:
    """Add members and return the names that were acknowledged, and those that were not."""
    acknowledged, unsure, count = set(), set(), 0
    while not stopping.is_set():
        count += 1
        name = f"member {number}-{count}"
        answer = service.ask("POST", f"{club}/members", json={"name": name, "settings": {"age": 30}})
        if answer.status_code == 201:
            acknowledged.add(name)
        else:
            assert_is_problem(answer, 503, "not-ready")
            unsure.add(name)
        time.sleep(0.02)
    return acknowledged, unsure


def all_members(service: Service) -> list[dict[str, str]]:
    found: list[dict[str, str]] = []
    following = f"{service.club}/members?limit=200"
    while following:
        page = service.get(following).json()
        found += page["items"]
        following = page["next"]
    return found
