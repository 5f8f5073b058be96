"""What a season is likely to bring: the odds of every target, and of the list as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from .checks import holds, whole, within

AT_RISK = 0.75
"""Below these completion odds a target that can be seen at all is at risk (our judgement). [0..1]"""


@dataclass(frozen=True, slots=True)
class TargetOdds:
    """How likely one target has all its visits by the season's end, re-planning included.

    Attributes
    ----------
    target : Its name.
    completion_odds : Share of the weather years in which it had. [0..1]
    standard_error : Of the completion odds, as a sample of so many years gives them; 0 where it never shows.
        [0..1]
    last_nights : The last good free nights for it, by date; none where it never shows.
    """

    target: str
    completion_odds: float
    standard_error: float
    last_nights: tuple[date, ...]

    def __post_init__(self) -> None:
        within("completion_odds", self.completion_odds, 0.0, 1.0)
        within("standard_error", self.standard_error, 0.0, 0.5)

    @property
    def at_risk(self) -> bool:
        """Whether it can be seen, but may well not be."""
        return bool(self.last_nights) and self.completion_odds < AT_RISK


@dataclass(frozen=True, slots=True)
class Milestone:
    """By which evening half of the years have a part of the list done; None where fewer ever have it.

    Attributes
    ----------
    share : Part of the targets that show at all. [0..1]
    evening : The first evening after which at least half of the years have it.
    """

    share: float
    evening: date | None

    def __post_init__(self) -> None:
        within("share", self.share, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Odds:
    """What weather years lived through with one policy brought. Odds belong to the policy.

    Attributes
    ----------
    policy : Name and version of how the nights were spent.
    years : Weather years drawn.
    seed : Draws them; the same seed gives the same years.
    targets : In the order of the wish-list.
    expected : Targets completed in the mean over the years.
    expected_error : Standard error of that mean.
    low, middle, high : Targets completed that 10, 50 and 90 % of the years stay at or below.
    nights_out : Nights spent outside in the mean over the years.
    milestones : When parts of the list are done, rising; the last is all that shows.
    """

    policy: str
    years: int
    seed: int
    targets: tuple[TargetOdds, ...]
    expected: float
    expected_error: float
    low: float
    middle: float
    high: float
    nights_out: float
    milestones: tuple[Milestone, ...]

    def __post_init__(self) -> None:
        whole("years", self.years, 1, 1_000_000)
        whole("seed", self.seed, 0, 2**31 - 1)
        count = len(self.targets)
        for field in ("expected", "low", "middle", "high"):
            within(field, getattr(self, field), 0.0, float(count))
        rising = self.low <= self.middle <= self.high
        holds("middle", self.middle, rising, f"a number between {self.low} and {self.high}")

    @property
    def at_risk(self) -> tuple[TargetOdds, ...]:
        """Targets that can be seen but may well not be, the least likely first."""
        risky = [one for one in self.targets if one.at_risk]
        return tuple(sorted(risky, key=lambda one: (one.completion_odds, one.target)))

    def of(self, target: str) -> TargetOdds:
        """Return the odds of one target by its name."""
        return next(one for one in self.targets if one.target == target)


@dataclass(frozen=True, slots=True)
class LivedYears:
    """Weather years lived through by a plan's own policy: a part of those its odds are counted from.

    Attributes
    ----------
    of : Digest of the plan and its weather; parts of different plans have different ones.
    policy : Name and version of how the nights were spent.
    seed : Draws the years; the same seed gives the same years, whatever part they are lived through in.
    first : The first of them.
    finished : For each year the free night, by position, on which each target of the wish-list had its last
        visit wanted; None where it had not all of them.
    outings : Nights spent outside in each year.
    """

    of: str
    policy: str
    seed: int
    first: int
    finished: tuple[tuple[int | None, ...], ...]
    outings: tuple[int, ...]

    def __post_init__(self) -> None:
        whole("seed", self.seed, 0, 2**31 - 1)
        whole("first", self.first, 0, 1_000_000)
        whole("years", self.years, 1, 1_000_000)
        same = len(self.finished) == self.years and len({len(year) for year in self.finished}) == 1
        holds("finished", len(self.finished), same, f"{self.years} years of the same targets")

    @property
    def years(self) -> int:
        """How many there are."""
        return len(self.outings)

    @property
    def end(self) -> int:
        """The year after the last."""
        return self.first + self.years
