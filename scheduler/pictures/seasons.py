"""What the view by target tells of a target: its season, its visits, its odds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

from ..domain import Plan, Reason, Showing, Target, TargetOdds
from ..figures import odds_percent

BY_THE_SKY = (Reason.NEVER_HIGH, Reason.NOT_IN_SEASON, Reason.NEAR_SUN, Reason.NO_INSTRUMENT)
"""Why a target shows on no night of the season at all, whoever is free."""

Order: TypeAlias = Literal["season", "wish-list"]


@dataclass(frozen=True, slots=True)
class Wish:
    """A target of the wish-list as its row shows it.

    Attributes
    ----------
    showing, odds : As the plan has them; None where it does not tell them.
    planned, seen : Evenings of visits to come, and of those made, by date.
    lacks : Why it has too few visits, where it has.
    """

    target: Target
    showing: Showing | None
    odds: TargetOdds | None
    planned: tuple[date, ...]
    seen: tuple[date, ...]
    lacks: Reason | None = None

    @property
    def done(self) -> bool:
        """Whether it has all its visits."""
        return len(self.seen) >= self.target.visits

    @property
    def never_free(self) -> bool:
        """Whether no free night shows it."""
        return self.showing is not None and not any(self.showing.shown_nights)

    @property
    def share(self) -> float | None:
        """Its completion odds, where there is still something to say of them. [0..1]"""
        if self.odds is None or self.done or self.never_free:
            return None
        return self.odds.completion_odds

    @property
    def figure(self) -> str:
        """What stands for its odds: a figure, or a word."""
        if self.done:
            return "done"
        if self.odds is not None and self.share is not None:
            return odds_percent(self.share, self.odds.standard_error)
        if self.never_free:
            return "never shows" if self.lacks in BY_THE_SKY else "on no free night"
        return "planned" if self.planned else "no place"

    @property
    def at_risk(self) -> bool:
        """Whether it can be seen, but may well not be."""
        return not self.done and self.odds is not None and self.odds.at_risk

    @property
    def summary(self) -> str:
        """The row in a line."""
        parts = [self.target.name]
        if self.seen:
            parts.append("seen " + _dates(self.seen))
        if self.planned:
            parts.append("planned for " + _dates(self.planned))
        if self.showing:
            weeks = sum(nights > 0 for nights in self.showing.good_nights)
            parts.append(f"good nights in {weeks} week{'s' * (weeks != 1)}" if weeks else "no good night")
        parts.append(self.figure + ", at risk" * self.at_risk)
        return ": ".join([parts[0], "; ".join(parts[1:])]) + "."


def wishes_of(plan: Plan, order: Order = "season") -> list[Wish]:
    """Return the targets of a plan, those whose season ends first before the others.

    Parameters
    ----------
    order : "season", by the last week with a good night, those without one after them, what is done last; or
        "wish-list".
    """
    planned, seen = defaultdict[str, list[date]](list), defaultdict[str, list[date]](list)
    for visit in plan.visits:
        planned[visit.target].append(visit.evening)
    for sighting in plan.seen:
        seen[sighting.target].append(sighting.evening)
    showing = {one.target: one for one in plan.showing}
    odds = {one.target: one for one in plan.odds.targets} if plan.odds else {}
    lacks = {one.target: one.reason for one in plan.unplaced}
    wishes = [
        Wish(
            target, showing.get(target.name), odds.get(target.name), tuple(sorted(planned[target.name])),
            tuple(sorted(seen[target.name])), lacks.get(target.name),
        )
        for target in plan.targets
    ]  # fmt: skip
    return wishes if order == "wish-list" else sorted(wishes, key=_end)


def _end(wish: Wish) -> tuple[bool, bool, int, date]:
    """Return by what targets are put in order: what is still to do, the season's end, the first visit."""
    last = wish.showing.last_good_week if wish.showing else None
    return wish.done, last is None, last or 0, min(wish.planned, default=date.max)


def _dates(evenings: Sequence[date]) -> str:
    return ", ".join(f"{evening.day} {evening:%b}" for evening in evenings)
