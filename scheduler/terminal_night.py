"""One planned night in the terminal: the programme and what to do when, in one line of time."""

from __future__ import annotations

from datetime import date

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from .domain import FreeNight, Plan, Standby, Target, Visit
from .evening_words import (
    CARE,
    DEW,
    TO_TAKE,
    changed_clock_words,
    clock,
    company_words,
    drive_words,
    expect_words,
    guests_heading,
    guests_words,
    in_hand_words,
    occasion_words,
    out_words,
    programme_of,
    sentence,
    sky_words,
    standbys_heading,
    titled,
    view_in_words,
)
from .practice import Briefing, Reminder, briefing_of


def night_shown(plan: Plan, evening: date) -> RenderableType:
    """Return a planned night: its Moon, its programme with reminders between, standbys, kit and cautions.

    Raises
    ------
    InvalidValue
        The plan has neither a visit nor a standby on that evening.
    """
    briefing = briefing_of(plan, evening)
    free = next(one for one in plan.nights if one.evening == evening)
    planned = any(visit.evening == evening for visit in plan.visits)
    told = [changed_clock_words(plan, free), *sky_words(plan, free), "" if planned else in_hand_words(free)]
    parts: list[RenderableType] = [
        Text(_heading(plan, free, briefing), style="bold"), *map(Text, filter(None, told)), Text(),
        _programme(plan, evening, briefing),
    ]  # fmt: skip
    if standbys := [one for one in plan.standbys if one.evening == evening]:
        heading = standbys_heading(planned=planned)
        parts += [Text(), Text(heading, style="bold"), _standbys(plan, standbys)]
    if briefing.guest_minutes:
        parts += [Text(), Text(guests_heading(free), style="bold"), Text(guests_words(briefing))]
    parts += [Text(), Text(TO_TAKE, style="bold"), _listed(briefing.kit)]
    parts += [Text(), Text(DEW, style="bold"), Text(briefing.dew)]
    parts += [Text(), Text(CARE, style="bold"), _listed(briefing.cautions, style="yellow")]
    return Group(*parts)


def _heading(plan: Plan, free: FreeNight, briefing: Briefing) -> str:
    evening = free.evening
    words = f"{briefing.site}, {evening:%A} {evening.day} {evening:%B %Y}: {out_words(plan, briefing.outing)}"
    return "; ".join(filter(None, (words, company_words(plan, free), drive_words(plan, briefing))))


def _programme(plan: Plan, evening: date, briefing: Briefing) -> Table:
    targets = {target.name: target for target in plan.targets}
    table = _bare_table()
    for one in programme_of(plan, evening, briefing):
        if isinstance(one, Reminder):
            table.add_row(clock(plan, one.at), Text(one.words, style="dim"))
        else:
            when = f"{clock(plan, one.time.start)}-{clock(plan, one.time.end)}"
            table.add_row(when, _visit_words(one, targets[one.target]))
    return table


def _visit_words(visit: Visit, target: Target) -> Text:
    words = Text(f"{titled(target)}\n", style="bold")
    words.append(f"{visit.pointing.words}\n", style="not bold")
    words.append(f"{view_in_words(visit.view)}\n", style="not bold")
    words.append(f"{expect_words(target, visit.sight)}; {visit.why}", style="not bold dim")
    return words


def _standbys(plan: Plan, standbys: list[Standby]) -> Table:
    targets = {target.name: target for target in plan.targets}
    table = _bare_table()
    for standby in sorted(standbys, key=lambda one: one.order):
        when = f"{clock(plan, standby.window.start)}-{clock(plan, standby.window.end)}"
        words = Text(standby.target, style="bold")
        best = clock(plan, standby.best)
        words.append(f"  best about {best}. {standby.pointing.words}\n", style="not bold")
        words.append(view_in_words(standby.view), style="not bold")
        if moment := sentence(occasion_words(targets[standby.target], standby.why)):
            words.append(f"\n{moment}", style="not bold dim")
        table.add_row(when, words)
    return table


def _listed(lines: tuple[str, ...], style: str = "") -> Table:
    table = Table(box=None, pad_edge=False, padding=0, show_header=False)
    table.add_column(width=2)
    table.add_column(ratio=1)
    for line in lines:
        table.add_row("-", Text(line, style=style))
    return table


def _bare_table() -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1), show_header=False)
    table.add_column(no_wrap=True, min_width=11)
    table.add_column(ratio=1)
    return table
