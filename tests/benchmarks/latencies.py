"""How soon the service starts, and a job stops: `python -m tests.benchmarks.latencies WHAT TIMES`.

WHAT is "starts" or "cancels"; both with the real scheduler, on SQLite. Cancelled is a plan of Larkmoor, at
random moments of its work.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2 as httpx

from tests.api.journeys import Service, files_of
from tests.api.servers import ROOT, free_port

LARKMOOR = ROOT / "scenarios" / "larkmoor"


@contextmanager
def _served(folder: Path) -> Iterator[tuple[Service, float]]:
    """Serve, and tell how long it took until it was ready. [s]"""
    port = free_port()
    command = [sys.executable, "-m", "scheduler", "serve", "--port", str(port), "--keys", "none",
               "--database", str(folder / "kept.sqlite3")]  # fmt: skip
    begun_s = time.monotonic()
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=30, trust_env=False) as client:
            while not _ready(client):
                time.sleep(0.005)
            yield Service(client), time.monotonic() - begun_s
        process.terminate()


def _ready(client: httpx.Client) -> bool:
    try:
        return client.get("/readyz").status_code == 200
    except httpx.HTTPError:
        return False


def _starts(times: int) -> Iterator[float]:
    for _ in range(times):
        with tempfile.TemporaryDirectory() as folder, _served(Path(folder)) as (_, took_s):
            yield took_s


def _cancels(times: int) -> Iterator[float]:
    chance = random.Random(1)
    parts = files_of(*((LARKMOOR / name).read_bytes() for name in ("scenario.toml", "wish-list.csv")))
    with tempfile.TemporaryDirectory() as folder, _served(Path(folder)) as (service, _):
        made = service.ask("POST", f"{service.club}/scenarios", data={"name": "larkmoor"}, files=parts)
        scenario = str(made.headers["location"])
        for _ in range(times):
            job = service.started(scenario, seconds=60, years=200)
            service.followed(job, {"at work"}, within_s=30)
            time.sleep(chance.uniform(0.2, 12))
            begun_s = time.monotonic()
            service.ask("POST", f"{job}/cancel")
            seen = service.ended(job, within_s=30)
            took_s = time.monotonic() - begun_s
            assert seen["state"] == "cancelled", seen
            yield took_s


if __name__ == "__main__":
    what, count = sys.argv[1], int(sys.argv[2])
    for seconds in {"starts": _starts, "cancels": _cancels}[what](count):
        print(f"{what} {seconds:.2f} s", flush=True)
