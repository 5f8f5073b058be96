"""Answers about a plan: why then, why not, what nights are worth, what would be if."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from .amendment import Amendment
from .night import Span
from .plan import Reason, Sight


@dataclass(frozen=True, slots=True)
class GivesWay:
    """A visit that moves or falls out where another is forced in.

    Attributes
    ----------
    evening : Where the plan has it; None where it has none and gains one.
    to : Where it goes instead; None where it falls out.
    """

    target: str
    evening: date | None
    to: date | None


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another night for a visit, and what the plan loses by it.

    Attributes
    ----------
    evening, time, sight, clear_odds : When the visit would be made, and how it stands half-way through.
    cost : What the plan's worth falls by, found by settling the nights it touches anew.
    proven : Whether those nights cannot be settled better, the others held.
    by_prices : The same by the prices of the nights' time, without settling anything.
    gives_way : What else changes.
    """

    evening: date
    time: Span
    sight: Sight
    clear_odds: float
    cost: float
    proven: bool
    by_prices: float
    gives_way: tuple[GivesWay, ...]


@dataclass(frozen=True, slots=True)
class WhyThen:
    """Why a visit is when it is.

    Attributes
    ----------
    worth : What the visit adds to the plan, second chances included.
    alternatives : The best other nights, the cheapest first.
    others : Further nights on which it shows.
    """

    target: str
    evening: date
    time: Span
    sight: Sight
    clear_odds: float
    why: str
    worth: float
    alternatives: tuple[Alternative, ...]
    others: int


@dataclass(frozen=True, slots=True)
class Remedy:
    """The smallest change of one sort that gives a target one visit more.

    Attributes
    ----------
    change : Proven by working out the season again with it.
    evening, time, sight : The visit it brings.
    caution : What to beware of then; empty where there is nothing more than usual.
    """

    change: Amendment
    evening: date
    time: Span
    sight: Sight
    caution: str


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Why a target has too few visits, and what would give it one more.

    Attributes
    ----------
    missing, reason, words : As the plan tells them.
    remedies : The smallest change of each sort that helps, the smallest effort first.
    tried : What was tried of every sort that does not help, in words.
    """

    target: str
    missing: int
    reason: Reason
    words: str
    remedies: tuple[Remedy, ...]
    tried: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NightPrice:
    """What the time of a free night is worth.

    Attributes
    ----------
    hour : What one clear hour more would bring, in priority times merit.
    """

    evening: date
    clear_odds: float
    hour: float


@dataclass(frozen=True, slots=True)
class MonthPrice:
    """What one more night in a month is worth, in priority times merit expected.

    Attributes
    ----------
    month : Its first day.
    hour : What one clear hour more on its free nights would bring in the mean.
    free_night : What its best evening that is not free would bring as a free one, about; 0 where there is
        none.
    evening : That evening.
    night_out : What one more night out allowed in this month would bring, the free nights as they are.
    """

    month: date
    hour: float
    free_night: float
    evening: date | None
    night_out: float


@dataclass(frozen=True, slots=True)
class SeasonPrices:
    """What the season's nights are worth, in priority times merit expected.

    Attributes
    ----------
    night_a_week : What one more night out allowed in every week would bring.
    """

    nights: tuple[NightPrice, ...]
    months: tuple[MonthPrice, ...]
    night_a_week: float


@dataclass(frozen=True, slots=True)
class Expected:
    """What a season is expected to bring, from weather years lived through.

    Attributes
    ----------
    finished, nights_out : Targets finished and nights spent outside, in the mean over the years.
    objective, bound : Worth of its plan, and its proven bound.
    """

    finished: float
    nights_out: float
    objective: float
    bound: float


@dataclass(frozen=True, slots=True)
class TargetGain:
    """What a change does to the completion odds of one target.

    Attributes
    ----------
    before, after : Completion odds. [0..1]
    error : Standard error of their difference, paired by weather year.
    """

    target: str
    before: float
    after: float
    error: float

    @property
    def gain(self) -> float:
        """How much the odds rise."""
        return self.after - self.before


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What a change to the scenario is expected to do.

    Attributes
    ----------
    years, seed : The weather years, the same ones for both.
    gain, gain_error : Change in the targets finished, and its standard error, paired by weather year.
    targets : Every target, what gains most first.
    """

    change: Amendment
    years: int
    seed: int
    before: Expected
    after: Expected
    gain: float
    gain_error: float
    targets: tuple[TargetGain, ...]
