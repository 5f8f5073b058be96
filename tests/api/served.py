"""The service served by a process of its own, with the real scheduler, as anybody would start it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2 as httpx

from .client import Client

ROOT = Path(__file__).parents[2]


@contextmanager
def served(database: str) -> Iterator[tuple[int, str, Client]]:
    """A served process on a database: its id, address, and a client with its owner's key."""
    command = [sys.executable, "-m", "scheduler", "serve", "--port", "0", "--database", database]
    command += ["--requests-per-minute", "0", "--log", "text"]
    with (
        tempfile.TemporaryFile() as log,
        subprocess.Popen(
            command, cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=log,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        ) as process,
    ):  # fmt: skip
        assert process.stdout is not None
        address = re.search(r"http://[\d.]+:\d+", process.stdout.readline())
        token = re.search(r"\b[0-9a-f]{20}\.\S+", process.stdout.readline())
        assert address, "it did not start"
        assert token, "the database has been used before"
        with httpx.Client(base_url=address[0], timeout=60, trust_env=False) as http:
            yield process.pid, address[0], Client(http, token[0])
        process.terminate()
