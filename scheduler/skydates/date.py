"""A date of the sky's own, as a calendar shows it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

from ..domain import Site, Span
from ..domain.checks import holds


class SkySort(StrEnum):
    """What happens."""

    NEW_MOON = "new Moon"
    LUNAR_ECLIPSE = "lunar eclipse"
    SHOWER = "meteor shower"
    OPPOSITION = "opposition"
    ELONGATION = "greatest elongation"
    RETURN = "back in the evening sky"


@dataclass(frozen=True, slots=True)
class SkyDate:
    """Something to see in the sky, and when.

    Attributes
    ----------
    sort : What happens.
    day : The day of the site's calendar; of what lasts part of a night, the date of its evening.
    whole_day : Whether it is a day, from midnight to midnight at the site, or part of a night.
    start, end : From when to when, aware UTC, in whole minutes.
    title : What it is.
    lines : What shows here and when, a paragraph a line, times by the site's clock.
    categories : Sorts of date, as calendars group them.
    """

    sort: SkySort
    day: date
    whole_day: bool
    start: datetime
    end: datetime
    title: str
    lines: tuple[str, ...]
    categories: tuple[str, ...]

    def __post_init__(self) -> None:
        holds("end", self.end, self.start < self.end, f"a time after {self.start.isoformat()}")


def whole_day(sort: SkySort, day: date, site: Site, title: str, lines: tuple[str, ...]) -> SkyDate:
    """Return a date that is a day of the site's calendar."""
    start, end = (
        datetime.combine(one, time(), site.local).astimezone(UTC) for one in (day, day + timedelta(days=1))
    )
    return SkyDate(sort, day, True, start, end, title, lines, ("Sky", _category(sort)))


def part_of_night(sort: SkySort, evening: date, span: Span, title: str, lines: tuple[str, ...]) -> SkyDate:
    """Return a date that lasts part of a night, at least a minute."""
    start, end = rounded(span.start), rounded(span.end)
    end = max(end, start + timedelta(minutes=1))
    return SkyDate(sort, evening, False, start, end, title, lines, ("Sky", _category(sort)))


def rounded(moment: datetime) -> datetime:
    """Return the nearest whole minute."""
    return (moment + timedelta(seconds=30)).replace(second=0, microsecond=0)


def _category(sort: SkySort) -> str:
    return {
        SkySort.NEW_MOON: "Moon", SkySort.LUNAR_ECLIPSE: "Eclipses", SkySort.SHOWER: "Meteors",
    }.get(sort, "Planets")  # fmt: skip
