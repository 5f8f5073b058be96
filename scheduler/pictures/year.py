"""The year in one picture: a row a month, a bar a free night."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from math import ceil
from typing import TypeAlias

import svg

from ..diary import diary_of
from ..domain import Plan
from .frame import YearFrame, year_frame_of
from .legend import legend
from .nights import Evening, evenings_of, told_of
from .shapes import box, line, moon, pin, sign, words
from .whole import linked, picture
from .year_legend import signs_of, year_entries

PRINCIPAL = {
    "new Moon": (0.0, True), "first quarter": (0.5, True), "full Moon": (1.0, False),
    "last quarter": (0.5, False),
}  # fmt: skip
"""The phases that are drawn: the lit part of the disc, and whether the Moon waxes."""
HOW = (
    "A row a month, a bar a free night. A bar is as high as the dark hours that are free; solid, up from its "
    "foot, are those without the Moon. The pin beside it is as high as the visits planned are long."
)

STEPS_H = ((3, 1), (6, 2), (9, 3), (13, 4))
"""Up to how many hours the scale has a line each so many. [h]"""

Links: TypeAlias = Callable[[date], str | None]


@dataclass(frozen=True)
class _Year:
    """What the rows of one picture share; `scale` in units an hour."""

    plan: Plan
    frame: YearFrame
    longest_h: int
    phases: dict[date, str]
    links: Links | None
    today: date | None

    @property
    def step_h(self) -> int:
        return next((step for most, step in STEPS_H if self.longest_h <= most), 6)

    @property
    def scale(self) -> float:
        return self.frame.tall / self.longest_h


def year_picture(
    plan: Plan, *, width: float = 1000.0, links: Links | None = None, today: date | None = None
) -> str:
    """Return the plan's year as an `<svg>` element: a row a month, a bar as high as a free night is dark.

    Parameters
    ----------
    width : In units; from `WIDE` on the months' names stand beside the rows, below it is drawn for a phone.
    links : Gives the address an evening leads to, or None; without it nights only have a title.
    today : Marked, where it is given; the nights before it are drawn narrow.

    Notes
    -----
    A bar is the dark window met with the free time; dashed where twilight lasts all night. Solid, up from
    its foot, are the minutes with the Moon down. The pin beside it is as high as the visits are long
    together, on the same scale. The Moon's phases stand above, lit on the side on which the site sees them.
    """
    evenings, frame = evenings_of(plan), year_frame_of(width)
    longest_h = max([1, *(ceil(max(one.dark_min, one.planned_min) / 60) for one in evenings)])
    phases = {one.evening: one.phase for one in diary_of(plan.diary, plan.site) if one.phase in PRINCIPAL}
    year = _Year(plan, frame, longest_h, phases, links, today)
    entries = year_entries(frame, evenings, today is not None)
    drawn, y = legend(entries, 0.0, 0.0, width, frame.text)
    nights = {month: list(own) for month, own in groupby(evenings, key=lambda one: _month(one.evening))}
    for month, days in groupby(plan.season.evenings, key=_month):
        drawn += _row(year, list(days), nights.get(month, []), y)
        y += frame.row
    out = len({visit.evening for visit in plan.visits})
    label = f"{_season(plan)}: {out} of {len(plan.nights)} free nights planned"
    return picture(drawn, width, y, frame.text, "year", label=label, how=HOW, linked=links is not None)


def _row(year: _Year, days: list[date], evenings: list[Evening], top: float) -> list[svg.Element]:
    """Return a month: its name, its scale, its Moon, its nights."""
    frame, southern = year.frame, year.plan.site.latitude_deg < 0
    foot, moon_y = top + frame.head + frame.tall, top + frame.moon_y
    drawn = [*_name(frame, evenings, days[0], top), *_scale(year, days, foot)]
    for day in days:
        if day in year.phases:
            lit, waxing = PRINCIPAL[year.phases[day]]
            drawn += moon(frame.x_of(day), moon_y, frame.moon_r, lit, right=waxing != southern)
    if year.today in days:
        x = frame.left_of(year.today)
        drawn.append(line(x, moon_y, x, foot + 0.6 * frame.foot, "now"))
    return [*drawn, *(_night(year, evening, top, foot) for evening in evenings)]


def _name(frame: YearFrame, evenings: list[Evening], month: date, top: float) -> list[svg.Element]:
    """Return a month's name, and how many of its nights are planned, beside the row or above it."""
    planned = sum(bool(one.visits) for one in evenings)
    out = sum(one.outcome is not None and one.outcome.out for one in evenings)
    parts = [f"{planned} planned"] * (planned > 0) + [f"{out} out"] * (out > 0)
    if frame.wide:
        y = top + frame.head + 0.3 * frame.tall
        return [
            words(0, y, f"{month:%B}", "strong", size=1.2 * frame.text),
            words(0, y + 1.4 * frame.text, f"{month.year}", "quiet"),
            words(0, y + 2.7 * frame.text, ", ".join(parts), "quiet"),
        ]
    told = f"{', '.join(parts) or 'none planned'} of {len(evenings)} nights" if evenings else "no free night"
    return [
        words(0, top + 18, f"{month:%B} {month.year}", "strong", size=1.2 * frame.text),
        words(frame.right, top + 18, told, "quiet", anchor="end"),
    ]


def _scale(year: _Year, days: list[date], foot: float) -> list[svg.Element]:
    """Return the line of the days, and lines at whole hours over it."""
    frame = year.frame
    left, right = frame.left_of(days[0]), frame.left_of(days[-1]) + frame.column
    drawn: list[svg.Element] = [line(left, foot, right, foot, "base")]
    for hour in range(year.step_h, year.longest_h + 1, year.step_h):
        y = foot - hour * year.scale
        drawn.append(line(left, y, right, y, "grid"))
        drawn.append(words(frame.gutter - 4, y + 0.36 * frame.text, f"{hour} h", "quiet", anchor="end"))
    if not frame.wide:
        shown = [day for day in days if day.day == 1 or day.day % 5 == 0]
        drawn += [_number(frame, day, foot, "quiet") for day in shown]
    return drawn


def _night(year: _Year, evening: Evening, top: float, foot: float) -> svg.Element:
    """Return a night: bar, pin and signs, in one element that leads on or has a title."""
    frame, day = year.frame, evening.evening
    past = evening.past or (year.today is not None and day < year.today)
    left, middle = frame.left_of(day), frame.x_of(day)
    drawn: list[svg.Element] = [
        box(left, top + frame.head - 12, frame.column, frame.tall + frame.foot + 12, "hit")
    ]
    drawn += _bar(year, evening, foot, past)
    high = max(evening.dark_min, evening.planned_min) / 60 * year.scale
    for place, kind in enumerate(signs_of(evening)):
        drawn.append(sign(kind, middle, foot - high - (2.4 * place + 1.8) * frame.sign, frame.sign))
    if frame.wide:
        drawn.append(_number(frame, day, foot, "strong" if evening.visits else "quiet"))
    address = year.links(day) if year.links else None
    classes = ("night", "past") if past else ("night",)
    return linked(address, told_of(year.plan, evening), drawn, *classes, data={"evening": day.isoformat()})


def _bar(year: _Year, evening: Evening, foot: float, past: bool) -> list[svg.Element]:
    """Return the bar of the dark hours, the moonless part of it, and the pin of the programme."""
    frame = year.frame
    drawn: list[svg.Element] = []
    broad, middle = frame.bar / 2 if past else frame.bar, frame.x_of(evening.evening)
    x = middle - broad / 2
    dark, moonless, planned = (
        minutes / 60 * year.scale for minutes in (evening.dark_min, evening.moonless_min, evening.planned_min)
    )
    if moonless:
        drawn.append(box(x, foot - moonless, broad, moonless, "moonless"))
    if dark:
        drawn.append(box(x, foot - dark, broad, dark, "dusk" if evening.twilit else "dark"))
    if planned:
        beside = middle + frame.bar / 2 + 0.14 * frame.column + frame.stem / 2
        drawn += pin(beside, foot, foot - planned, frame.stem / 2)
    return drawn


def _number(frame: YearFrame, day: date, foot: float, *classes: str) -> svg.Element:
    return words(frame.x_of(day), foot + 1.15 * frame.text, f"{day.day}", *classes, anchor="middle")


def _month(day: date) -> tuple[int, int]:
    return day.year, day.month


def _season(plan: Plan) -> str:
    first, last = plan.season.evenings[0], plan.season.evenings[-1]
    return f"{plan.scenario}, {first.day} {first:%B} {first.year} to {last.day} {last:%B} {last.year}"
