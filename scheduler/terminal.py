"""A year's plan in the terminal: a bar while it is made, then the year by month."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, timedelta
from itertools import groupby

from rich.console import Console, Group, RenderableType
from rich.progress import BarColumn, TaskID, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar
from rich.table import Table
from rich.text import Text

from .domain import PACKING_MIN, FreeNight, Odds, Plan, Progress, Report, Visit
from .figures import odds_words, percent

RESERVE = (
    "Visits gather on early, full nights that suit them; clouded out, a visit moves to a night in reserve. "
    "schedule.csv lists standbys for nights with a programme and for those in reserve."
)
COLUMNS = (6, 11, 17, 4)
"""Least widths of night, hours, Moon and odds; the programme takes the rest."""

CAUTIONS = (
    "Never point a telescope or binoculars near the Sun; low planets wait for the end of civil dusk.",
    "Lasers and aircraft, driving tired, cold and dark ground: local law and licensed practice go first.",
)


@contextmanager
def reporting(console: Console) -> Iterator[Report]:
    """Show a progress bar for as long as the block runs, and hand out the report that moves it."""
    stage, proven = TextColumn("{task.description:<34}"), TextColumn("{task.fields[gap]}")
    with Bar(stage, BarColumn(), TimeElapsedColumn(), proven, console=console, transient=True) as bar:
        task: TaskID = bar.add_task("starting", total=1.0, gap="")

        def report(progress: Progress, /) -> None:
            gap = ""
            if progress.objective and progress.bound:
                gap = f"within {100 * (1 - progress.objective / progress.bound):.2f} % of the best"
            bar.update(task, description=progress.stage, completed=progress.fraction, gap=gap)

        yield report


def year_of(plan: Plan, width: int = 100) -> RenderableType:
    """Return the plan as a month-by-month view for a terminal of `width` characters."""
    programmes = {
        evening: tuple(visits)
        for evening, visits in groupby(_in_order(plan), key=lambda visit: visit.evening)
    }
    parts: list[RenderableType] = [_heading(plan)]
    for _, nights in groupby(plan.nights, key=lambda night: (night.evening.year, night.evening.month)):
        parts.append(_month(plan, tuple(nights), programmes, width))
    if plan.odds:
        parts += [Text(), _odds(plan.odds)]
        if plan.odds.at_risk:
            parts += [Text(), _at_risk(plan.odds)]
        parts.append(Text())
    if plan.unplaced:
        parts.append(_unplaced(plan))
    parts += [Text(note) for note in plan.notes]
    parts += [Text(), Text(RESERVE), Text()]
    parts.append(Text("\n".join((*CAUTIONS, *_road(plan))), style="yellow"))
    return Group(*parts)


def changes_shown(plan: Plan) -> RenderableType:
    """Return what a plan made anew does otherwise than the one before: a line a visit, with its reason."""
    if not plan.changes:
        return Text("Nothing is different from the plan before.", style="bold")
    table = Table(
        title=f"{_many(len(plan.changes), 'change')} from the plan before", title_justify="left",
        title_style="bold", box=None, pad_edge=False, padding=(0, 1), show_header=False,
    )  # fmt: skip
    for _ in range(4):
        table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    for change in plan.changes:
        shifted = change.before == change.after
        table.add_row(
            Text(change.target), _day(change.before), "" if shifted else "->",
            "" if shifted else _day(change.after), Text(change.words),
        )  # fmt: skip
    return table


def _day(evening: date | None) -> str:
    return "no visit" if evening is None else f"{evening:%a %d %b}"


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _in_order(plan: Plan) -> list[Visit]:
    return sorted(plan.visits, key=lambda visit: (visit.evening, visit.order))


def _heading(plan: Plan) -> Text:
    wanted = sum(target.visits for target in plan.targets)
    seen = f"{len(plan.seen)} of {wanted} visits seen, " if plan.seen else ""
    out = len({visit.evening for visit in plan.visits})
    first, last = plan.season.evenings[0], plan.season.evenings[-1]
    season = f"{first.day} {first:%B %Y} to {last.day} {last:%B %Y}"
    return Text(
        f"{plan.site.name}, {season}: {seen}{len(plan.visits)} of {wanted} visits on {out} of "
        f"{len(plan.nights)} free nights{_away(plan)}, proven within {100 * plan.gap:.2f} % of the best plan",
        style="bold",
    )


def _away(plan: Plan) -> str:
    """Return how many nights are spent away, in words that follow the free nights."""
    trips = sum(night.trip is not None for night in plan.nights)
    return f", {trips} of them {'a trip' if trips == 1 else 'trips'}" if trips else ""


def _month(
    plan: Plan,
    nights: tuple[FreeNight, ...],
    programmes: dict[object, tuple[Visit, ...]],
    width: int,
) -> RenderableType:
    table = Table(
        title=f"{nights[0].evening:%B %Y}", title_justify="left", title_style="bold",
        box=None, pad_edge=False, padding=(0, 1), show_header=False,
    )  # fmt: skip
    shown = [(free, programmes.get(free.evening, ())) for free in nights]
    told = [(free, visits) for free, visits in shown if visits or free.club]
    cells = [_cells(plan, free, visits) for free, visits in told]
    columns = [max([least, *(len(row[at]) for row in cells)]) for at, least in enumerate(COLUMNS)]
    for column in columns:
        table.add_column(min_width=column, no_wrap=True)
    table.add_column()
    room = max(12, width - sum(columns) - 2 * len(columns))
    for (free, visits), row in zip(told, cells, strict=True):
        names = _listed([visit.target for visit in visits], room) if visits else "nothing is planned"
        table.add_row(*row, Text(_where(plan, free, visits, room) + names))
    idle = len(shown) - len(told)
    in_reserve = "1 free night" if idle == 1 else f"{idle} free nights"
    return Group(table, *([Text(f"{in_reserve} in reserve", style="dim")] if idle else []))


def _cells(plan: Plan, free: FreeNight, visits: Sequence[Visit]) -> tuple[str, str, str, str]:
    """Return a night, its hours, what the Moon does and the odds; hours and Moon only with a programme."""
    day, odds = f"{free.evening:%a %d}", percent(free.clear_odds)
    if not visits:
        return day, "", "", odds
    first, last = (t.astimezone(plan.site.local) for t in (visits[0].time.start, visits[-1].time.end))
    return day, f"{first:%H:%M}-{last:%H:%M}", _moon(free, visits), odds


def _where(plan: Plan, free: FreeNight, visits: Sequence[Visit], width: int) -> str:
    """Return where a night is spent if not at home, and who comes if not all, on lines of their own."""
    words = ["announced"] if free.evening in plan.announced else []
    words += ["club night"] if free.club else []
    words += [f"with {_many(free.guests, 'guest')}"] if free.guests else []
    words += [f"only {' and '.join(free.observers)}"] if free.observers else []
    if free.trip:
        words.append(f"at {free.trip.site.name}")
        leaves = (visits[-1].time.end if visits else free.free.end) + timedelta(minutes=PACKING_MIN)
        words.append(f"drive home {leaves.astimezone(plan.site.local):%H:%M}, {free.trip.travel_min} min")
    return f"{_listed(words, width)}:\n" if words else ""


def _road(plan: Plan) -> tuple[str, ...]:
    """Return the caution that goes with trips, nothing where there are none."""
    drives = [night.trip.travel_min for night in plan.nights if night.trip]
    if not drives:
        return ()
    return (
        f"Trips end with a drive home at night, up to {max(drives)} min long. Driving tired: local law and "
        "your own limits go first; share the driving, end early, or stay.",
    )


def _listed(names: Sequence[str], width: int) -> str:
    """Return names with commas between, broken into lines of at most `width` between names only."""
    lines = [names[0]]
    for name in names[1:]:
        if len(lines[-1]) + len(name) + 3 > width:
            lines[-1] += ","
            lines.append(name)
        else:
            lines[-1] += f", {name}"
    return "\n".join(lines)


def _moon(free: FreeNight, visits: Sequence[Visit]) -> str:
    """Return whether moonlight falls on the programme."""
    lit = visits[0].sight.moon_lit_fraction
    up = sum(any(span.meet(visit.time) for span in free.night.moon_up) for visit in visits)
    if not up:
        return "Moon down"
    return f"Moon {percent(lit)}" if up == len(visits) else f"Moon {percent(lit)} in part"


def _odds(odds: Odds) -> Text:
    """Return what the season is likely to bring."""
    until = [
        f"{_part(stone.share)} by {stone.evening.day} {stone.evening:%B}"
        for stone in odds.milestones
        if stone.evening
    ]
    if odds.milestones and odds.milestones[-1].evening is None:
        until.append("all of them not within the season")
    shown = sum(bool(one.last_nights) or one.completion_odds > 0 for one in odds.targets)
    return Text(
        f"Likely: {odds.expected:.0f} of the {shown} targets that show done by the season's end, "
        f"{odds.low:.0f} to {odds.high:.0f} in eight years of ten, on {odds.nights_out:.0f} nights out. In "
        f"the middle year: {'; '.join(until)}. ({odds.years} weather years lived through, lost "
        "nights re-planned.)"
    )  # fmt: skip


def _part(share: float) -> str:
    """Return a part of the list in words."""
    return {0.25: "a quarter", 0.5: "half", 0.75: "three quarters", 1.0: "all"}.get(share, percent(share))


def _at_risk(odds: Odds) -> Table:
    table = _list("At risk")
    for one in odds.at_risk:
        nights = ", ".join(f"{evening.day} {evening:%b}" for evening in one.last_nights)
        table.add_row(
            Text(one.target),
            Text(f"{odds_words(one.completion_odds, one.standard_error)}; last good nights: {nights}"),
        )
    return table


def _unplaced(plan: Plan) -> Table:
    table = _list("Not placed")
    for entry in plan.unplaced:
        table.add_row(Text(entry.target), Text(entry.words))
    return table


def _list(title: str) -> Table:
    """Return an empty list of targets and words."""
    table = Table(
        title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, show_header=False
    )
    table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    return table
