"""The service as a process of its own, over a real socket."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.app import create_app, serve
from api.errors import DatabaseUnusable
from api.settings import Settings
from scheduler.cli import run
from scheduler.errors import InvalidValue

from .journeys import assert_is_problem
from .servers import ROOT, Serve, Served, processes_on


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Serve]:
    with processes_on(tmp_path / "kept.sqlite3", tmp_path) as ours:
        yield ours.serve


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One server for the tests that change nothing."""
    folder = tmp_path_factory.mktemp("untouched")
    with processes_on(folder / "kept.sqlite3", folder) as ours:
        yield ours.serve()


def test_a_real_server_plans_and_stops_when_asked(served: Serve, tmp_path: Path) -> None:
    server = served()
    plan = server.service.planned(server.service.kept())
    assert server.service.get(f"{plan}/schedule.csv").text == "target,evening\r\nM 13,2026-09-12\r\n"
    headers = server.service.get(plan).headers
    assert "server" not in headers
    said = server.stop(signal.SIGTERM)
    assert said == ""
    assert server.process.returncode == -signal.SIGTERM
    assert not (tmp_path / "kept.sqlite3-wal").exists(), "the database was not closed"


def test_an_oversize_body_is_refused_on_the_wire(untouched: Served) -> None:
    with closing(socket.create_connection(("127.0.0.1", untouched.port), timeout=10)) as wire:
        wire.sendall(
            f"POST /scenarios HTTP/1.1\r\nHost: 127.0.0.1:{untouched.port}\r\n"
            "Content-Type: multipart/form-data\r\nContent-Length: 900000000\r\n"
            "Expect: 100-continue\r\n\r\n".encode()
        )
        answer = wire.recv(65536)
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert b"application/problem+json" in answer
    assert untouched.service.get("/livez").status_code == 200


def test_head_sends_no_body_over_the_wire(untouched: Served) -> None:
    with closing(socket.create_connection(("127.0.0.1", untouched.port), timeout=10)) as wire:
        wire.sendall(
            f"HEAD /livez HTTP/1.1\r\nHost: 127.0.0.1:{untouched.port}\r\nConnection: close\r\n\r\n".encode()
        )
        head, _, body = b"".join(iter(lambda: wire.recv(65536), b"")).partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 200 ")
    assert b"content-length: 18" in head
    assert body == b""


def test_a_server_tells_each_request_on_a_line_without_its_secrets(served: Serve) -> None:
    server = served()
    address, bearer = "/plans/cellar-key-77?token=cellar-key-77", "Bearer cellar-key-77"
    named = [server.service.get(address, Authorization=bearer) for _ in range(3)]
    for nonsense in (b"cellar-key-77\r\n\r\n", b"GET /cellar-key-77 HTTP/9\r\n\r\n"):
        with closing(socket.create_connection(("127.0.0.1", server.port), timeout=10)) as wire:
            wire.sendall(nonsense)
            assert b" 400 " in wire.recv(65536)
    server.stop(signal.SIGTERM)
    told = [line for line in server.said() if " route=/plans/{plan} " in line]
    assert len(told) == 3
    for line, answer in zip(told, named, strict=True):
        assert f" request={answer.headers['request-id']} " in line
        assert " status=404 " in line
    assert "cellar" not in "".join(server.said())


def test_after_a_kill_everything_accepted_is_there_and_the_job_goes_on(served: Serve) -> None:
    first = served("held")
    scenario = first.service.kept("kept before the kill")
    job = first.service.started(scenario)
    first.service.followed(job, {"at work"})
    first.stop(signal.SIGKILL)
    second = served()
    assert second.service.get(scenario).json()["name"] == "kept before the kill"
    seen = second.service.ended(job)
    assert seen["state"] == "done"
    assert second.service.get(seen["links"]["plan"]).json()["version"] == 1


def test_stopping_with_a_job_at_work_hands_it_to_the_next_start(served: Serve) -> None:
    first = served("held")
    job = first.service.started(first.service.kept())
    first.service.followed(job, {"at work"})
    assert first.stop(signal.SIGINT) == ""
    assert served().service.ended(job)["state"] == "done"


def test_a_second_start_on_a_taken_port_leaves_the_first_alone(served: Serve, tmp_path: Path) -> None:
    first = served("held")
    job = first.service.started(first.service.kept())
    first.service.followed(job, {"at work"})
    with pytest.raises(InvalidValue, match=f"port: read {first.port}, expected a port this machine lets us"):
        serve(Settings(port=first.port, database=tmp_path / "kept.sqlite3"))
    assert first.service.get(job).json()["state"] == "at work"
    first.service.ask("POST", f"{job}/cancel")
    assert first.service.ended(job, within_s=30)["state"] == "cancelled"


@pytest.mark.parametrize("host", ["192.0.2.1", "nowhere.invalid"])
def test_a_host_that_is_not_this_machines_is_told_as_such(tmp_path: Path, host: str) -> None:
    with pytest.raises(InvalidValue, match=f"host: read '{host}', expected an address of this machine"):
        serve(Settings(host=host, port=0, database=tmp_path / "kept.sqlite3"))


def test_a_host_others_can_reach_is_not_served_without_keys(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["serve", "--host", "0.0.0.0", "--keys", "none", "--port", "0"]) == 1
    assert "command line, --keys: read 'none', expected required" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_bad_database_is_told_before_anything_is_served(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("not a database " * 99)
    told: list[str] = []
    with pytest.raises(DatabaseUnusable):
        serve(Settings(port=0, database=tmp_path / "notes.txt"), announce=told.append)
    assert told == []


def test_making_an_app_touches_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    create_app()
    assert list(tmp_path.iterdir()) == []


def test_not_even_the_environment_makes_the_web_framework_call_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Where its exporter is not installed, an attempt to set it up leaves a warning in the log."""
    monkeypatch.setenv("FASTAPI_OTEL_AUTO_CONFIGURE", "true")
    monkeypatch.setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:9")
    app = create_app(Settings(database=tmp_path / "kept.sqlite3"))
    with TestClient(app, base_url="http://127.0.0.1") as client:
        assert client.get("/readyz").status_code == 200
    assert "telemetry" not in caplog.text


def test_importing_the_app_makes_nothing_and_loads_no_solver() -> None:
    heavy = ("ortools", "skyfield", "pandas", "pyongc")
    probe = f"import sys, api.app; print([name for name in {heavy} if name in sys.modules])"
    said = subprocess.run([sys.executable, "-c", probe], cwd=ROOT, capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "[]"


def test_an_address_on_the_wire_that_is_no_text_is_not_found(untouched: Served) -> None:
    answer = untouched.service.get("/plans/%ff%00")
    assert_is_problem(answer, 404, "no-such-thing")
