"""When in the season a target shows."""

from __future__ import annotations

from dataclasses import dataclass

from .checks import holds

GOOD_SHARE = 0.8
"""A night on which a target shows at this part of its best, or better, is a good one (our judgement)."""


@dataclass(frozen=True, slots=True)
class Showing:
    """On how many free nights of each week a target shows: a digit a week, so that a long list stays small.

    Weeks are counted in sevens from the season's first evening; the last may be shorter. Free nights are the
    plan's: of a plan made anew those still to come. Each counts by the best site it may be spent at.

    Attributes
    ----------
    target : Its name.
    shown : On how many of the week's free nights it shows at all. digits 0 to 7
    good : On how many it shows at four fifths of its best or better. digits 0 to 7

    Examples
    --------
    >>> mars = Showing("Mars", "0022210", "0002100")
    >>> mars.good_nights, mars.last_good_week
    ((0, 0, 0, 2, 1, 0, 0), 4)
    """

    target: str
    shown: str
    good: str

    def __post_init__(self) -> None:
        for field in ("shown", "good"):
            digits: str = getattr(self, field)
            holds(field, digits, set(digits) <= set("01234567"), "a digit from 0 to 7 for each week")
        few = len(self.good) == len(self.shown) and all(
            good <= shown for good, shown in zip(self.good, self.shown, strict=True)
        )
        holds("good", self.good, few, f"no more than the nights on which it shows, {self.shown}")

    @property
    def shown_nights(self) -> tuple[int, ...]:
        """On how many free nights of each week it shows at all."""
        return tuple(map(int, self.shown))

    @property
    def good_nights(self) -> tuple[int, ...]:
        """On how many free nights of each week it shows well."""
        return tuple(map(int, self.good))

    @property
    def last_good_week(self) -> int | None:
        """The last week with a good night, from 0; None where there is none."""
        last = len(self.good.rstrip("0")) - 1
        return last if last >= 0 else None
