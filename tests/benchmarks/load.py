"""How many requests one served process answers: `python -m tests.benchmarks.load [sqlite|URL] [SECONDS]`.

A plan of scenarios/larkmoor is made once without odds; then Debian's wrk asks for it over 16 connections,
with a key: the schedule as CSV and the plan as JSON, whole and conditionally (304); and for the feed of the
published plan, as a calendar does. Told are requests a
second, the times half and 99 of 100 answers took, errors, and CPU and memory of the service.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.api.client import Client
from tests.api.served import ROOT, served

LARKMOOR = ROOT / "scenarios" / "larkmoor"
TICKS = os.sysconf("SC_CLK_TCK")
WRK_ENDED = re.compile(r"Requests/sec: +([\d.]+)")
HEAD = f"{'asked':<28} {'a second':>9} {'half':>9} {'99 %':>9} {'errors':>7} {'CPU':>6} {'memory':>8}"
ASKED = ("schedule.csv", "")


def main(database: str = "sqlite", seconds: str = "8") -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        where = str(Path(folder) / "kept.sqlite3") if database == "sqlite" else database
        with served(where) as (process, address, client):
            club = str(client.clubs()[0]["id"])
            toml, wish_list = ((LARKMOOR / name).read_bytes() for name in ("scenario.toml", "wish-list.csv"))
            scenario = client.keep_scenario(club, "larkmoor", toml, wish_list).id
            plan = client.plan(scenario, 600, years=0, seconds=5)
            if shutil.which("wrk") is None:
                print("wrk is not installed: on Debian, apt install wrk")
                return
            print(HEAD)
            for file in ASKED:
                path = f"/plans/{plan}/{file}".rstrip("/")
                tag = client.http.request("GET", path, headers=_key(client)).headers["etag"]
                for name, more in (("whole", {}), ("if changed", {"If-None-Match": tag})):
                    told = _measured(process, address + path, {**_key(client), **more}, seconds)
                    print(f"{file or 'plan.json':<15} {name:<12} {told}")
            client.publish(plan)
            path = client.feed(club)
            tag = client.http.request("GET", path, headers={"Accept-Encoding": "identity"}).headers["etag"]
            for name, more in (("whole", {}), ("if changed", {"If-None-Match": tag})):
                print(f"{'feed':<15} {name:<12} {_measured(process, address + path, more, seconds)}")


def _key(client: Client) -> dict[str, str]:
    return {"Authorization": f"Bearer {client.token}"}


def _measured(process: int, url: str, headers: dict[str, str], seconds: str) -> str:
    told = [word for name, value in headers.items() for word in ("-H", f"{name}: {value}")]
    began_s, cpu_s = time.monotonic(), _cpu_s(process)
    command = ["wrk", "-t1", "-c16", f"-d{seconds}s", "--latency", *told, url]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    cpu = (_cpu_s(process) - cpu_s) / (time.monotonic() - began_s)
    rate = WRK_ENDED.search(said)
    half, most = (re.search(rf" {share}% +(\S+)", said) for share in (50, 99))
    assert rate, said
    assert half, said
    assert most, said
    wrong = re.search(r"Non-2xx or 3xx responses: (\d+)", said)
    errors = (wrong[1] if wrong else "0") + ("+" if "Socket errors" in said else "")
    return f"{rate[1]:>9} {half[1]:>9} {most[1]:>9} {errors:>7} {cpu:>6.0%} {_memory_mb(process):>5.0f} MB"


def _cpu_s(process: int) -> float:
    times = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(times[11]) + int(times[12])) / TICKS


def _memory_mb(process: int) -> float:
    found = re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{process}/status").read_text())
    return int(found[1]) / 1000 if found else 0.0


if __name__ == "__main__":
    main(*sys.argv[1:])
