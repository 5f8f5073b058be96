"""A year's plan in the terminal: a bar while it is made, then the year by month."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import groupby

from rich.console import Console, Group, RenderableType
from rich.progress import BarColumn, TaskID, TextColumn, TimeElapsedColumn
from rich.progress import Progress as Bar
from rich.table import Table
from rich.text import Text

from .domain import FreeNight, Plan, Progress, Report, Visit

RESERVE = (
    "A visit stands on the first night that suits it well; clouded out, it moves to a night in reserve. "
    "schedule.csv lists standbys for nights with a programme and for those in reserve."
)
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


def year_of(plan: Plan) -> RenderableType:
    """Return the plan as a month-by-month view."""
    programmes = {
        evening: tuple(visits)
        for evening, visits in groupby(_in_order(plan), key=lambda visit: visit.evening)
    }
    parts: list[RenderableType] = [_heading(plan)]
    for _, nights in groupby(plan.nights, key=lambda night: (night.evening.year, night.evening.month)):
        parts.append(_month(plan, tuple(nights), programmes))
    if plan.unplaced:
        parts.append(_unplaced(plan))
    parts += [Text(), Text(RESERVE), Text()]
    parts.append(Text("\n".join(CAUTIONS), style="yellow"))
    return Group(*parts)


def _in_order(plan: Plan) -> list[Visit]:
    return sorted(plan.visits, key=lambda visit: (visit.evening, visit.order))


def _heading(plan: Plan) -> Text:
    wanted = sum(target.visits for target in plan.targets)
    out = len({visit.evening for visit in plan.visits})
    first, last = plan.season.evenings[0], plan.season.evenings[-1]
    return Text(
        f"{plan.site.name}, {first:%-d %B %Y} to {last:%-d %B %Y}: {len(plan.visits)} of {wanted} visits "
        f"on {out} of {len(plan.nights)} free nights, proven within {100 * plan.gap:.2f} % of the best plan",
        style="bold",
    )


def _month(
    plan: Plan, nights: tuple[FreeNight, ...], programmes: dict[object, tuple[Visit, ...]]
) -> RenderableType:
    table = Table(
        title=f"{nights[0].evening:%B %Y}", title_justify="left", title_style="bold",
        box=None, pad_edge=False, padding=(0, 1), show_header=False,
    )  # fmt: skip
    for width in (6, 11, 17, 4):
        table.add_column(min_width=width, no_wrap=True)
    table.add_column(ratio=1)
    idle = 0
    for free in nights:
        visits = programmes.get(free.evening, ())
        if not visits:
            idle += 1
            continue
        first, last = (t.astimezone(plan.site.local) for t in (visits[0].time.start, visits[-1].time.end))
        table.add_row(
            f"{free.evening:%a %d}", f"{first:%H:%M}-{last:%H:%M}", _moon(visits),
            f"{100 * free.clear_odds:.0f} %", Text(", ".join(map(_unbroken, visits))),
        )  # fmt: skip
    in_reserve = "1 free night" if idle == 1 else f"{idle} free nights"
    return Group(table, *([Text(f"{in_reserve} in reserve", style="dim")] if idle else []))


def _unbroken(visit: Visit) -> str:
    """Return the target's name with spaces no line is broken at."""
    return visit.target.replace(" ", "\u00a0")


def _moon(visits: Sequence[Visit]) -> str:
    """Return whether moonlight falls on the programme."""
    lit = visits[0].sight.moon_lit_fraction
    up = sum(visit.sight.moon_altitude_deg > 0.0 for visit in visits)
    if not up:
        return "Moon down"
    return f"Moon {100 * lit:.0f} %" if up == len(visits) else f"Moon {100 * lit:.0f} % in part"


def _unplaced(plan: Plan) -> Table:
    table = Table(
        title="Not placed",
        title_justify="left",
        title_style="bold",
        box=None,
        pad_edge=False,
        show_header=False,
    )
    table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    for entry in plan.unplaced:
        table.add_row(Text(entry.target), Text(entry.words))
    return table
