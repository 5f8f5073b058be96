"""How nights went, as the observer logged them; and what a forecast said of nights to come."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from functools import cached_property

from .checks import holds, whole, within

COUNTED_AS_PAST = "counted as past"
"""The note of a line that nobody wrote: its night counts as past, and how it went was not told."""
LONGEST_NIGHT_MIN = 1440
MOST_OUTCOMES = 20000
BRIGHTEST_SKY, DARKEST_SKY = 10.0, 24.0
"""Between these lies whatever a sky meter reads from dusk on; from memory. [mag/arcsec2]"""
BEFORE_SEASON_DAYS = 31
"""The longest stretch before a season in whose limits its first night may lie. [d]"""


class Went(StrEnum):
    """How a night went; the last tells of the observer, not of the weather."""

    CLEAR = "clear"
    PART_CLEAR = "part-clear"
    CLOUDED_OUT = "clouded out"
    COULD_NOT_GO = "could not go"


def is_told(went: str, notes: str) -> bool:
    """Return whether somebody told how a night went, or its line only counts it as past.

    Examples
    --------
    >>> is_told("could not go", "the car"), is_told("could not go", COUNTED_AS_PAST)
    (True, False)
    """
    return (went, notes) != (Went.COULD_NOT_GO, COUNTED_AS_PAST)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One line of the log: how the night of an evening went.

    Attributes
    ----------
    evening : Names the night.
    went : How it went.
    usable_min : Clear minutes of a clear or part-clear night; None where nobody counted. [min]
    notes : The observer's own words.
    seen : Names of the targets seen: each counts as a visit made on this evening.
    seen_poorly, not_seen : Names of targets that were tried and are still wanted.
    sky_brightness : As measured near the zenith; None where nobody did. Plans do not use it. [mag/arcsec2]
    """

    evening: date
    went: Went
    usable_min: int | None = None
    notes: str = ""
    seen: tuple[str, ...] = ()
    seen_poorly: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    sky_brightness: float | None = None

    def __post_init__(self) -> None:
        self._tells_each_target_once()
        if self.sky_brightness is not None:
            within("sky_brightness", self.sky_brightness, BRIGHTEST_SKY, DARKEST_SKY)
        if self.usable_min is None:
            return
        whole("usable_min", self.usable_min, 0, LONGEST_NIGHT_MIN)
        usable = self.went in (Went.CLEAR, Went.PART_CLEAR)
        if usable:
            holds("usable_min", self.usable_min, self.usable_min > 0, 'some minutes, or "clouded out"')
        else:
            fits = self.usable_min == 0
            holds("usable_min", self.usable_min, fits, f'0 or blank beside "{self.went}", or "part-clear"')

    def _tells_each_target_once(self) -> None:
        told: set[str] = set()
        for field in ("seen", "seen_poorly", "not_seen"):
            names: tuple[str, ...] = getattr(self, field)
            again = [name for place, name in enumerate(names) if name in told or name in names[:place]]
            holds(field, ", ".join(again), not again, "each target once in a night's line")
            told.update(names)
            if field != "not_seen" and not self.out:
                holds(field, ", ".join(names), not names, f"no target on a night {self._was}")

    @property
    def out(self) -> bool:
        """Whether the night was spent outside: then it counts against the limits on nights out."""
        return self.went in (Went.CLEAR, Went.PART_CLEAR)

    @property
    def _was(self) -> str:
        return f'that was "{self.went}"; if something was seen, it was "part-clear"'

    @property
    def told(self) -> bool:
        """Whether somebody told how the night went."""
        return is_told(self.went, self.notes)

    @property
    def tells_weather(self) -> bool:
        """Whether the night says anything about the weather."""
        return self.went is not Went.COULD_NOT_GO


@dataclass(frozen=True, slots=True, order=True)
class Sighting:
    """A target seen, and on which evening."""

    evening: date
    target: str


def sightings_in(outcomes: Iterable[Outcome]) -> tuple[Sighting, ...]:
    """Return what was seen, by date, on each evening in the order it was written."""
    told = sorted(outcomes, key=lambda outcome: outcome.evening)
    return tuple(Sighting(outcome.evening, name) for outcome in told for name in outcome.seen)


@dataclass(frozen=True)
class OutcomeLog:
    """Outcomes in the order they were written. Nothing is ever taken out: a later line corrects an earlier.

    Examples
    --------
    >>> log = OutcomeLog().with_line(Outcome(date(2027, 1, 8), Went.CLOUDED_OUT))
    >>> log = log.with_line(Outcome(date(2027, 1, 8), Went.PART_CLEAR, 70))
    >>> len(log.lines), [outcome.went.value for outcome in log.standing]
    (2, ['part-clear'])
    """

    lines: tuple[Outcome, ...] = ()

    def __post_init__(self) -> None:
        holds("outcomes", len(self.lines), len(self.lines) <= MOST_OUTCOMES, f"at most {MOST_OUTCOMES} lines")

    def __bool__(self) -> bool:
        return bool(self.lines)

    def with_line(self, outcome: Outcome) -> OutcomeLog:
        """Return the log with one more line at its end."""
        return OutcomeLog((*self.lines, outcome))

    @cached_property
    def standing(self) -> tuple[Outcome, ...]:
        """What holds after all corrections: one outcome an evening, by date."""
        last = {outcome.evening: outcome for outcome in self.lines}
        return tuple(last[evening] for evening in sorted(last))

    @cached_property
    def weather(self) -> tuple[Outcome, ...]:
        """The standing outcomes that tell something about the weather, by date."""
        return tuple(outcome for outcome in self.standing if outcome.tells_weather)

    def of_plan(self, start: date) -> tuple[Outcome, ...]:
        """Return what a plan of a season beginning at `start` must know of the log: no notes, no sky.

        These are the standing outcomes from a month before the season on, which limits on nights out and
        plans made before may touch, and older ones with something seen.
        """
        early = date.fromordinal(max(1, start.toordinal() - BEFORE_SEASON_DAYS))
        kept = [outcome for outcome in self.standing if outcome.evening >= early or outcome.seen]
        return tuple(replace(outcome, notes="", sky_brightness=None) for outcome in kept)


@dataclass(frozen=True, slots=True)
class Forecast:
    """What somebody expects of one night.

    Attributes
    ----------
    evening : Names the night.
    clear_odds : Probability that it is usable, as the forecast has it. [0..1]
    made_on : The day it was made.
    """

    evening: date
    clear_odds: float
    made_on: date

    def __post_init__(self) -> None:
        within("clear_odds", self.clear_odds, 0.0, 1.0)
        holds("made_on", f"{self.made_on}", self.made_on <= self.evening, f"a day not after {self.evening}")

    @property
    def lead_days(self) -> int:
        """How many days ahead it looks; 0 for tonight. [d]"""
        return (self.evening - self.made_on).days
