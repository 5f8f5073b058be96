"""The wish-list in one picture: a row a target, its season through the year."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import TypeAlias

import svg

from ..domain import Plan, Season
from .legend import Entry, legend
from .letters import fitted, width_of
from .seasons import Order, Wish, wishes_of
from .shapes import brief, diamond, line, outline, rounded, words
from .whole import WIDE, linked, picture

EVERY = slice(None)
AGAIN = 25
"""After so many rows the months are named again."""
HOW = (
    "A row a target, its season from left to right: a thin line in weeks in which it shows, a thick one in "
    "weeks with good nights. A hollow diamond is a planned visit, a solid one a visit made. At the right the "
    "odds that it is done by the season's end."
)

Links: TypeAlias = Callable[[str], str | None]


@dataclass(frozen=True, slots=True)
class _Frame:
    """Measures of the rows, in units; `left` and `right` bound the season, `middle` its line in a row."""

    width: float
    text: float
    left: float
    right: float
    row: float
    middle: float
    baseline: float
    season: Season

    @property
    def wide(self) -> bool:
        return self.width >= WIDE

    def x_of(self, days: float) -> float:
        """Return where so many days after the season's first noon are."""
        return self.left + (self.right - self.left) * min(days, self.season.nights) / self.season.nights


def targets_picture(
    plan: Plan, *, width: float = 1000.0, links: Links | None = None, today: date | None = None,
    order: Order = "season", part: slice = EVERY,
) -> str:  # fmt: skip
    """Return the plan's wish-list as an `<svg>` element: a row a target, its season from left to right.

    Parameters
    ----------
    width : In units; from `WIDE` on names and odds stand beside the rows, below it above them.
    links : Gives the address a target leads to, by its name, or None; without it rows only have a title.
    today : Marked, where it is given.
    order : "season", what ends first comes first, or "wish-list".
    part : Which rows, in that order, where not all of a long list are wanted at once.
    """
    frame, wishes = _frame_of(width, plan.season), wishes_of(plan, order)[part]
    drawn, y = legend(_entries(frame, wishes, today), 0.0, 0.0, width, frame.text)
    for first in range(0, len(wishes), AGAIN):
        rows = wishes[first : first + AGAIN]
        drawn += _months(frame, y, len(rows), today)
        y += 1.7 * frame.text
        for wish in rows:
            drawn.append(_row(frame, wish, links, y))
            y += frame.row
        y += 0.6 * frame.text
    done = sum(wish.done for wish in wishes)
    label = f"{plan.scenario}: the seasons of {len(wishes)} targets, {done} of them done"
    return picture(drawn, width, y, frame.text, "targets", label=label, how=HOW, linked=links is not None)


def _frame_of(width: float, season: Season) -> _Frame:
    if width >= WIDE:
        return _Frame(width, 12.0, 0.17 * width, width - 168.0, 18.0, 9.0, 13.2, season)
    return _Frame(width, 10.5, 4.0, width - 4.0, 29.0, 20.0, 11.5, season)


def _months(frame: _Frame, top: float, rows: int, today: date | None) -> list[svg.Element]:
    """Return the names of the months over a block of rows, and lines down it where they begin."""
    foot = top + 1.7 * frame.text + rows * frame.row
    drawn: list[svg.Element] = []
    starts: list[svg.PathData] = []
    for _, own in groupby(frame.season.evenings, key=lambda day: (day.year, day.month)):
        days = list(own)
        left, right = (frame.x_of((day - frame.season.start).days) for day in (days[0], days[-1] + _DAY))
        starts += [svg.M(rounded(left), rounded(top + 4)), svg.V(rounded(foot))]
        if right - left > width_of("May", frame.text) + 2:
            drawn.append(words(left + 2.5, top + 1.1 * frame.text, f"{days[0]:%b}", "quiet"))
    if today in frame.season.evenings and today is not None:
        x = frame.x_of((today - frame.season.start).days + 0.5)
        drawn.append(line(x, top + 1.4 * frame.text, x, foot, "now"))
    return [svg.Path(d=starts, class_=["grid"]), *drawn]


def _row(frame: _Frame, wish: Wish, links: Links | None, top: float) -> svg.Element:
    """Return a target's row, in one element that leads on or has a title; lengths count from its corner."""
    drawn: list[svg.Element] = [
        svg.Rect(width=rounded(frame.width), height=rounded(frame.row), class_=["hit"])
    ]
    drawn += _season(frame, wish)
    room = frame.left - 8 if frame.wide else frame.width - 160
    drawn.append(words(0, frame.baseline, fitted(wish.target.name, room, frame.text)))
    drawn += _odds(frame, wish)
    address = links(wish.target.name) if links else None
    row = linked(address, wish.summary, drawn, "target", data={})
    row.extra = {**(row.extra or {}), "transform": f"translate(0 {rounded(top)})"}
    return row


def _season(frame: _Frame, wish: Wish) -> list[svg.Element]:
    """Return when a target shows, and its visits."""
    drawn: list[svg.Element] = []
    if wish.showing:
        weeks = list(zip(wish.showing.shown_nights, wish.showing.good_nights, strict=True))
        drawn += _stretches(frame, [shown > 0 and not good for shown, good in weeks], "shown")
        drawn += _stretches(frame, [good > 0 for _, good in weeks], "good")
    for kind, evenings in (("visit", wish.planned), ("seen", wish.seen)):
        days = [(evening - frame.season.start).days for evening in evenings]
        inside = [day for day in days if 0 <= day < frame.season.nights]
        drawn += [diamond(frame.x_of(day + 0.5), frame.middle, 4.5, kind) for day in inside]
    return drawn


def _stretches(frame: _Frame, weeks: Sequence[bool], level: str) -> list[svg.Element]:
    """Return a line through each run of weeks: one path for all of them, for there are long lists."""
    ends = [(round(frame.x_of(7 * first)), round(frame.x_of(7 * end))) for first, end in _runs(weeks)]
    lines = "".join(f"M{left} {rounded(frame.middle)}h{right - left}" for left, right in ends)
    return [brief(lines, level)] if lines else []


def _runs(weeks: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Yield the first of each run of weeks, and the week after its last."""
    week = 0
    for shows, run in groupby(weeks):
        end = week + len(list(run))
        if shows:
            yield week, end
        week = end


def _odds(frame: _Frame, wish: Wish) -> list[svg.Element]:
    """Return the odds: a figure, a bar where it is one, and whether the target is at risk."""
    right, long, y = frame.width - (62.0 if frame.wide else 4.0), 36.0, frame.baseline
    beside = right if wish.share is None else right - long - 6
    drawn: list[svg.Element] = [words(beside, y, wish.figure, anchor="end")]
    if wish.share is not None:
        drawn += _bar(right - long, y - 7.5, long, wish.share)
    if wish.at_risk and frame.wide:
        drawn.append(words(right + 8, y, "at risk", "strong"))
    elif wish.at_risk:
        x = right - long - 10 - max(width_of(figure, frame.text) for figure in ("100 %", wish.figure))
        drawn.append(words(x, y, "at risk", "strong", anchor="end"))
    return drawn


def _bar(x: float, y: float, long: float, share: float) -> list[svg.Element]:
    """Return the frame of the odds, and what of it is filled."""
    corner = f"M{rounded(x)} {rounded(y)}"
    filled = rounded(share * long)
    drawn: list[svg.Element] = [brief(f"{corner}h{rounded(long)}v7h{rounded(-long)}z", "odds")]
    if filled:
        drawn.append(brief(f"{corner}h{filled}v7h{-filled}z", "odds-share"))
    return drawn


def _entries(frame: _Frame, wishes: Sequence[Wish], today: date | None) -> list[Entry]:
    """Return the legend's entries, of what there is."""

    def stretch(kind: str, x: float, y: float) -> list[svg.Element]:
        return [outline([(x, y), (x + 16, y)], kind, closed=False)]

    found = []
    if any(wish.showing for wish in wishes):
        found.append(Entry(lambda x, y: stretch("shown", x, y), 16, "shows"))
        found.append(Entry(lambda x, y: stretch("good", x, y), 16, "good nights"))
    found.append(Entry(lambda x, y: [diamond(x + 4, y, 4.4, "visit")], 8.8, "planned"))
    if any(wish.seen for wish in wishes):
        found.append(Entry(lambda x, y: [diamond(x + 4, y, 4.4, "seen")], 8.8, "seen"))
    if any(wish.share is not None for wish in wishes):
        found.append(Entry(lambda x, y: _bar(x, y - 3.5, 20, 0.65), 20, "odds of being done"))
    if today is not None:
        high = frame.text / 2
        found.append(Entry(lambda x, y: [line(x + 1, y - high, x + 1, y + high, "now")], 2, "today"))
    return found


_DAY = timedelta(days=1)
