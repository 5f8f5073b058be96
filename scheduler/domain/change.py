"""What is different in a plan made anew, and why."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from .checks import holds
from .night import Span


class ChangeReason(StrEnum):
    """Why a visit is not on the evening on which the previous plan had it, or is new."""

    SEEN = "seen already"
    CLOUDED_OUT = "its night was clouded out"
    COULD_NOT_GO = "nobody could go"
    NOT_SEEN = "not seen on its night"
    PAST = "its night is past"
    NOT_FREE = "its night is no longer free"
    OFF_LIST = "no longer on the wish-list"
    WANTED_LESS = "wanted less often"
    TOO_SOON = "too soon after another visit"
    OTHER_SITE = "its night is spent elsewhere"
    NOT_SHOWN = "does not show that night any more"
    NO_ROOM = "no room that night any more"
    NIGHTS_LIMIT = "no more nights out allowed"
    MADE_ROOM = "made room"
    BETTER_NIGHT = "a better night now"
    GIVEN_UP = "no longer placed"
    NEWLY_PLACED = "newly placed"
    SHIFTED = "another time that night"

    @property
    def forced(self) -> bool:
        """Whether nothing could be done: only then does an announced visit move or fall away."""
        return self not in (
            ChangeReason.NIGHTS_LIMIT, ChangeReason.MADE_ROOM, ChangeReason.BETTER_NIGHT,
            ChangeReason.GIVEN_UP, ChangeReason.NEWLY_PLACED, ChangeReason.OTHER_SITE,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Change:
    """One visit that is not where the previous plan had it.

    Attributes
    ----------
    before : Its evening in the previous plan; None where it had none.
    after : Its evening now; None where it has none. The same evening where an announced visit had to shift
        within the night.
    reason, words : Why, and in words.
    """

    target: str
    before: date | None
    after: date | None
    reason: ChangeReason
    words: str

    def __post_init__(self) -> None:
        holds("change", self.target, not (self.before is None and self.after is None), "an evening")
        shifted = self.before == self.after
        holds("change", self.target, shifted == (self.reason is ChangeReason.SHIFTED), "another evening")
        new = self.before is None
        holds("change", self.target, new == (self.reason is ChangeReason.NEWLY_PLACED), "a fitting reason")


@dataclass(frozen=True, slots=True)
class Difference:
    """One visit that two versions of a plan do not have alike.

    Attributes
    ----------
    before, after : Its evening in the earlier and in the later version; None where it has none.
    time_before, time_after : From when to when.
    reason, words : Why, as the later version tells it; None and empty where it does not.
    """

    target: str
    before: date | None
    after: date | None
    time_before: Span | None
    time_after: Span | None
    reason: ChangeReason | None = None
    words: str = ""

    def __post_init__(self) -> None:
        holds("difference", self.target, self.time_before != self.time_after, "another time")
        for evening, time in ((self.before, self.time_before), (self.after, self.time_after)):
            holds("difference", self.target, (evening is None) == (time is None), "a time on its evening")

    @property
    def sort(self) -> str:
        """What became of it: "moved", "gone", "new", or "shifted" within its evening."""
        if self.before is None:
            return "new"
        if self.after is None:
            return "gone"
        return "shifted" if self.before == self.after else "moved"


@dataclass(frozen=True, slots=True)
class Differences:
    """What two versions of a scenario's plan do not have alike.

    Attributes
    ----------
    earlier, later : The versions.
    visits : By date.
    alike : How many visits are the same in both.
    seen : How many of the earlier version were seen on their evening by the time of the later one.
    sites : In words, which evenings with visits are spent at another site.
    """

    scenario: str
    earlier: int
    later: int
    visits: tuple[Difference, ...]
    alike: int
    seen: int = 0
    sites: tuple[str, ...] = ()
