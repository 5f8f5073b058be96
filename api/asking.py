"""Questions about the sky, answered while the caller waits: worked out by a child process of their own."""

from __future__ import annotations

from threading import BoundedSemaphore
from time import monotonic
from typing import Any

from scheduler.domain import ignore_progress
from scheduler.errors import Cancelled

from .errors import NotReady
from .ports import Hands, Task

MOST_AT_ONCE = 8
LONGEST_S = 30.0


class Asking:
    """Answers by hands of its own, so that no job keeps it waiting.

    Parameters
    ----------
    hands : Who works the answers out.
    most : How many may ask at the same time; more are told to ask again.
    """

    def __init__(self, hands: Hands, most: int = MOST_AT_ONCE) -> None:
        self._hands, self._room = hands, BoundedSemaphore(most)

    def ask(self, question: str, given: dict[str, Any]) -> str:
        """Return the answer.

        Raises
        ------
        NotReady
            If too many ask at once, or the answer took too long.
        DuskwrightError
            What the question itself raises, as for a date outside the ephemeris.
        """
        if not self._room.acquire(blocking=False):
            raise NotReady("too many questions about the sky at once")
        until_s = monotonic() + LONGEST_S
        try:
            return self._hands.do(Task(question, given), ignore_progress, lambda: monotonic() > until_s)
        except Cancelled as late:
            raise NotReady(f"no answer within {LONGEST_S:g} s") from late
        finally:
            self._room.release()

    def close(self) -> None:
        """Stop answering."""
        self._hands.close()
