"""Who works on the database: each process raises its own count, and buries those whose count stands still.

No clock of another machine is read, nor is ours compared with anything: a process is dead when its count was
the same at eight looks in a row, a second apart. So a process that slept, or a clock that was set, harms
nobody; a process taken for dead by mistake finds its work done by another, and keeps none of its own.
"""

from __future__ import annotations

import os
import secrets
import socket
from collections.abc import Collection

from ..storage import Storage

LOOKS_UNTIL_DEAD = 8
LOOK_EVERY_S = 1.0
_LONGEST_HOST = 36


def new_executor() -> str:
    """Return a name for this process that no process had before: host, number, and something random."""
    return f"{host_name()[:_LONGEST_HOST]}:{os.getpid()}:{secrets.token_hex(6)}"


def host_name() -> str:
    """Return the name of this machine."""
    return socket.gethostname()


class Pulse:
    """The pulse of this process, and its eye on others.

    Parameters
    ----------
    storage : Where counts are kept.
    executor : The name of this process, see `new_executor`.
    one_machine : Whether all processes run on this machine, so that their numbers tell who is gone.
    """

    def __init__(self, storage: Storage, executor: str, *, one_machine: bool) -> None:
        self._workers, self.executor, self._one_machine = storage.workers, executor, one_machine
        self._seen: dict[str, tuple[int | None, int]] = {}

    def beat(self) -> None:
        """Tell that this process lives."""
        self._workers.beat(self.executor, host_name())

    def bury(self) -> list[str]:
        """Look at the others once, forget the dead, and return them."""
        counts = {one.executor: one.beat for one in self._workers.all() if one.executor != self.executor}
        looks: dict[str, tuple[int | None, int]] = {}
        for executor, count in counts.items():
            before, unchanged = self._seen.get(executor, (None, 0))
            looks[executor] = (count, unchanged + 1 if count == before else 0)
        self._seen = looks
        dead = [
            one for one, (_, unchanged) in looks.items() if unchanged >= LOOKS_UNTIL_DEAD or self._gone(one)
        ]
        return [one for one in dead if self._workers.remove(one, counts[one])]

    def strangers(self, executors: Collection[str]) -> list[str]:
        """Return which of these are no process at work."""
        known = {one.executor for one in self._workers.all()}
        return [one for one in executors if one not in known]

    def stop(self) -> None:
        """Tell that this process is about to end."""
        self._workers.remove(self.executor)

    def _gone(self, executor: str) -> bool:
        if not self._one_machine:
            return False
        host, number, _ = executor.rsplit(":", 2)
        if host != host_name()[:_LONGEST_HOST]:
            return False
        try:
            os.kill(int(number), 0)
        except ProcessLookupError:
            return True
        except PermissionError:
            pass
        return False
