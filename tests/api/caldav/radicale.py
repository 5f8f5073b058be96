"""A calendar server that is not ours: Radicale, started from its package, with its own folder and users."""

from __future__ import annotations

import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx2

USER, PASSWORD = "stargazers", "corréct horse:7"
CONFIG = """
[server]
hosts = 127.0.0.1:{port}
delay_on_error = 0
[auth]
type = htpasswd
htpasswd_filename = {folder}/users
htpasswd_encryption = plain
delay = 0
[storage]
filesystem_folder = {folder}/collections
[rights]
type = owner_only
[logging]
level = info
"""


@dataclass(frozen=True)
class Radicale:
    """A running server; `calendar` is the address of a calendar of its one user."""

    folder: Path
    port: int

    @property
    def root(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    @property
    def calendar(self) -> str:
        return f"{self.root}{USER}/nights/"

    def ask(self, method: str, path: str, content: str = "", **headers: str) -> httpx2.Response:
        """Ask as some other program of the user would."""
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        with httpx2.Client(trust_env=False, auth=(USER, PASSWORD), timeout=30) as http:
            address = path if path.startswith("http") else f"{self.calendar}{path}"
            return http.request(method, address, content=content.encode(), headers=named)

    def emptied(self) -> Radicale:
        """Return the server with nothing in its calendar."""
        assert self.ask("DELETE", self.calendar).status_code == 200
        self.make_calendar()
        return self

    def make_calendar(self, name: str = "nights") -> str:
        """Make a calendar of the user and return its address."""
        made = self.ask("MKCALENDAR", f"{self.root}{USER}/{name}/")
        assert made.status_code == 201, made.text
        return f"{self.root}{USER}/{name}/"

    def put(self, name: str, text: str) -> None:
        """Write an event as a person would with a calendar program."""
        answer = self.ask("PUT", name, text, Content_Type="text/calendar")
        assert answer.status_code in {201, 204}, answer.text

    def events(self, calendar: str = "nights") -> dict[str, bytes]:
        """Every event by its file's name, read from the server's own folder: nothing of ours is asked."""
        kept = self.folder / "collections" / "collection-root" / USER / calendar
        return {
            path.name: path.read_bytes() for path in sorted(kept.iterdir()) if not path.name.startswith(".")
        }

    def requests(self) -> list[tuple[str, str]]:
        """Method and path of every request, from the server's own log."""
        log = (self.folder / "log").read_text("utf-8", errors="replace")
        return re.findall(r"(\w+) request for '([^']*)'", log)

    def writes(self) -> int:
        """How many requests so far would change something."""
        return sum(method in {"PUT", "DELETE", "MOVE", "PROPPATCH"} for method, _ in self.requests())


@contextmanager
def radicale(folder: Path) -> Iterator[Radicale]:
    """Start a server in a folder of its own; it is gone afterwards."""
    folder.mkdir(parents=True, exist_ok=True)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    (folder / "users").write_text(f"{USER}:{PASSWORD}\n", "utf-8")
    (folder / "config").write_text(CONFIG.format(port=port, folder=folder), "utf-8")
    command = [sys.executable, "-m", "radicale", "--config", str(folder / "config")]
    with (folder / "log").open("wb") as log, subprocess.Popen(command, stdout=log, stderr=log) as process:
        try:
            _wait_for(port, process, folder / "log")
            server = Radicale(folder, port)
            server.make_calendar()
            yield server
        finally:
            process.terminate()


def _wait_for(port: int, process: subprocess.Popen[bytes], log: Path) -> None:
    until_s = time.monotonic() + 30
    while time.monotonic() < until_s:
        assert process.poll() is None, log.read_text("utf-8")
        with socket.socket() as trial:
            if trial.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    raise TimeoutError(log.read_text("utf-8"))
