"""What a push is about: events to be shown, what was put before, what is there, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any, Protocol


class Conflicts(StrEnum):
    """What becomes of an event of ours that somebody changed or deleted by hand."""

    REPORT = "report"
    KEEP = "keep theirs"
    OVERWRITE = "overwrite"


class Found(StrEnum):
    """What was found where an event of ours was expected as we had left it."""

    CHANGED = "changed"
    DELETED = "deleted"
    ANOTHER = "another event"
    ELSEWHERE = "the event under another address"
    RESTLESS = "changing at this moment"


class Outcome(StrEnum):
    """What was done about it."""

    LEFT = "left as it is"
    KEPT = "kept from now on"
    OVERWRITTEN = "overwritten"


@dataclass(frozen=True, slots=True)
class Item:
    """An event to be shown: a VCALENDAR with one VEVENT of this UID; `evening` is told where it clashes."""

    uid: str
    text: str
    evening: date | None = None


BEGUN = ""
"""No event has this entity tag."""


@dataclass(frozen=True, slots=True)
class Pushed:
    """What is remembered of an event we put: its entity tag there, and the digest of what it says.

    With the tag `BEGUN` we were about to put it where none was, and may have. Without a tag it is theirs now,
    and was kept over what had this digest.
    """

    etag: str | None
    digest: str


@dataclass(frozen=True, slots=True)
class There:
    """What the server has under our address: its entity tag, and its text where that was asked for."""

    etag: str
    text: str | None = None


@dataclass(frozen=True, slots=True)
class Conflict:
    """An event that was not as we had left it, and what became of it."""

    uid: str
    evening: date | None
    found: Found
    outcome: Outcome


class Memory(Protocol):
    """Keeps what was put, at once after each write that was acknowledged."""

    def note(self, uid: str, pushed: Pushed) -> None:
        """Remember an event as it is there now."""

    def forget(self, uid: str) -> None:
        """Remember an event no longer."""


@dataclass(slots=True)
class Tally:
    """What a push has done so far; `kept` counts events kept as theirs that were told of before."""

    created: int = 0
    updated: int = 0
    deleted: int = 0
    unchanged: int = 0
    kept: int = 0
    conflicts: list[Conflict] = field(default_factory=list)

    def told(self) -> dict[str, Any]:
        """Return it as JSON holds it."""
        listed = [
            {
                "uid": one.uid,
                "evening": one.evening and one.evening.isoformat(),
                "found": one.found.value,
                "outcome": one.outcome.value,
            }
            for one in self.conflicts
        ]
        counts = {
            name: getattr(self, name) for name in ("created", "updated", "deleted", "unchanged", "kept")
        }
        return {**counts, "conflicts": listed}
