from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
WAITS = "import threading; threading.Thread(target=threading.Event().wait, name='dbos-executor-_0').start()"


def test_a_thread_that_waits_for_ever_does_not_keep_a_process_that_was_asked_to_stop() -> None:
    probe = f"{WAITS}; from api.command import left; print('closed'); left(3)"
    said = subprocess.run([sys.executable, "-c", probe], cwd=ROOT, capture_output=True, text=True, timeout=30)
    assert (said.returncode, said.stdout) == (3, "closed\n")


def test_without_such_a_thread_it_ends_as_ever() -> None:
    probe = "from api.command import left; print(left(0))"
    said = subprocess.run([sys.executable, "-c", probe], cwd=ROOT, capture_output=True, text=True, timeout=30)
    assert (said.returncode, said.stdout) == (0, "0\n")
