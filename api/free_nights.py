"""Who of some members is free on which evening of a season, by their own calendars."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduler.domain import EveningRule, Observer, Scenario, Span

from .engaged import merged
from .storage import Known

USUAL_START, USUAL_FINISH = time(18), time(2)
"""An evening's own time where its rule names none: common practice, no source."""
_NOON = time(12)


@dataclass(frozen=True, slots=True)
class Companion:
    """A member whose evenings are asked about.

    Attributes
    ----------
    id : The member's.
    observer : As the scenario has them.
    known : What their calendars tell.
    spans : When they are busy, as few as it takes.
    """

    id: str
    observer: Observer
    known: Known
    spans: tuple[Span, ...] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "spans", merged(self.known.spans))


@dataclass(frozen=True, slots=True)
class EveningAsked:
    """An evening that the scenario itself leaves free, and who could come along.

    Attributes
    ----------
    evening : Local date.
    time : From when to when.
    free, busy : Ids of the members; who does not come along anyhow is in neither.
    unread : Those of the free whose calendars were not read so far, or who have none.
    enough : Whether enough are free.
    """

    evening: date
    time: Span
    free: tuple[str, ...]
    busy: tuple[str, ...]
    unread: tuple[str, ...]
    enough: bool


def needed(need: str, members: int) -> int:
    """Return how many must be free.

    Examples
    --------
    >>> needed("any", 3), needed("all", 3), needed("2", 3), needed("5", 3)
    (1, 3, 2, 5)
    """
    return {"any": 1, "all": members}.get(need) or int(need)


def evenings_asked(scenario: Scenario, companions: Sequence[Companion], need: str) -> list[EveningAsked]:
    """Return every evening of the season that the scenario leaves free.

    Parameters
    ----------
    scenario : Whose own availability decides which evenings, and from when to when.
    companions : Whom it depends on.
    need : "any", "all", or how many of them must be free.
    """
    enough, found = needed(need, len(companions)), []
    for evening in scenario.season.evenings:
        rule = scenario.availability.rule_of(evening)
        if rule is None:
            continue
        span = time_of(rule, evening, scenario.site.local)
        coming = [one for one in companions if one.observer.comes_on(evening)]
        busy = {one.id for one in coming if _is_busy(one.spans, span)}
        free = tuple(one.id for one in coming if one.id not in busy)
        unread = tuple(one.id for one in coming if one.id in free and not one.known.covers(evening))
        found.append(EveningAsked(
            evening, span, free, tuple(one.id for one in coming if one.id in busy), unread,
            len(free) >= enough,
        ))  # fmt: skip
    return found


def away_of(asked: Sequence[EveningAsked], companions: Sequence[Companion]) -> Mapping[str, list[str]]:
    """Return on which evenings each member does not come along, as scenario.toml writes it.

    They are those on which they are busy, and those on which not enough of all are free: nobody of them comes
    along then. Nothing is told of any other time.
    """
    return {
        one.id: ranges([each.evening for each in asked if one.id in _missing(each)]) for one in companions
    }


def _missing(asked: EveningAsked) -> tuple[str, ...]:
    """Return who would come along on an evening, but does not: the busy, or all where too few are free."""
    return asked.busy if asked.enough else (*asked.busy, *asked.free)


def ranges(days: Sequence[date]) -> list[str]:
    """Return days, in order, as scenario.toml writes them: one by one, or from the first to the last.

    Examples
    --------
    >>> ranges([date(2027, 2, 26), date(2027, 2, 27), date(2027, 3, 5)])
    ['2027-02-26..2027-02-27', '2027-03-05']
    """
    found: list[list[date]] = []
    for day in days:
        if found and day - found[-1][-1] == timedelta(days=1):
            found[-1].append(day)
        else:
            found.append([day])
    return [str(one[0]) if len(one) == 1 else f"{one[0]}..{one[-1]}" for one in found]


def time_of(rule: EveningRule, evening: date, zone: ZoneInfo) -> Span:
    """Return an evening's own time: from its start to its finish, as its rule has them.

    Where the clock shows a time twice, or skips it, the evening is taken as long as it may be meant.

    Examples
    --------
    >>> found = time_of(EveningRule(), date(2027, 7, 1), ZoneInfo("Europe/London"))
    >>> found.start.isoformat(), found.end.isoformat()
    ('2027-07-01T17:00:00+00:00', '2027-07-02T01:00:00+00:00')
    """
    start, finish = rule.start or USUAL_START, rule.finish or USUAL_FINISH
    begin, end = min(_moments(evening, start, zone)), max(_moments(evening, finish, zone))
    if begin >= end:  # one of them is not the evening's own, or neither
        begin = begin if rule.start else min(_moments(evening, _NOON, zone))
        end = end if rule.finish and begin < end else min(_moments(evening + timedelta(days=1), _NOON, zone))
    return Span(begin, end)


def _moments(evening: date, clock: time, zone: ZoneInfo) -> list[datetime]:
    """Return the two moments a time of the clock can mean in the night from an evening's noon on."""
    day = evening if clock >= _NOON else evening + timedelta(days=1)
    local = datetime.combine(day, clock, tzinfo=zone)
    return [local.replace(fold=fold).astimezone(UTC) for fold in (0, 1)]


def _is_busy(spans: Sequence[Span], evening: Span) -> bool:
    """Tell whether any of some spans, in order and apart from each other, meets an evening."""
    later = bisect_left(spans, evening.end, key=lambda span: span.start)
    return later > 0 and spans[later - 1].end > evening.start
