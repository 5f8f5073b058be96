"""One planned night in the terminal: the programme and what to do when, in one line of time."""

from __future__ import annotations

from datetime import date, datetime

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from .diary import moon_on, moon_words
from .domain import NAKED_EYE, FreeNight, Plan, Standby, Target, View, Visit
from .domain.target import full_name
from .practice import Briefing, briefing_of, dark_words


def night_shown(plan: Plan, evening: date) -> RenderableType:
    """Return a planned night: its Moon, its programme with reminders between, standbys, kit and cautions.

    Raises
    ------
    InvalidValue
        The plan has neither a visit nor a standby on that evening.
    """
    briefing = briefing_of(plan, evening)
    free = next(one for one in plan.nights if one.evening == evening)
    moon = moon_on(free.night, plan.diary, plan.site_of(evening))
    planned = any(visit.evening == evening for visit in plan.visits)
    parts: list[RenderableType] = [
        Text(_heading(plan, free, briefing), style="bold"),
        Text(moon_words(moon, free.night.twilit, plan.site)), Text(_dark_words(plan, free)),
        *([] if planned else [Text(_in_hand(free))]), Text(),
        _programme(plan, evening, briefing),
    ]  # fmt: skip
    if standbys := [one for one in plan.standbys if one.evening == evening]:
        heading = "If time is left or a visit fails" if planned else "What shows, best first"
        parts += [Text(), Text(heading, style="bold"), _standbys(plan, standbys)]
    if briefing.guest_minutes:
        each = ", ".join(f"{name} {minutes:.1f}" for name, minutes in briefing.guest_minutes)
        parts += [Text(), Text(f"Minutes for each of {free.guests} guests", style="bold"), Text(each)]
    parts += [Text(), Text("To take", style="bold"), _listed(briefing.kit)]
    parts += [Text(), Text("Dew and cold", style="bold"), Text(briefing.dew)]
    parts += [Text(), Text("Take care", style="bold"), _listed(briefing.cautions, style="yellow")]
    return Group(*parts)


def _in_hand(free: FreeNight) -> str:
    """Return what a night without visits is good for."""
    if free.guests:
        return "Nothing is planned: show your guests what you like of what shows."
    return "Nothing is planned: a night in hand, should another be clouded out."


def _heading(plan: Plan, free: FreeNight, briefing: Briefing) -> str:
    evening = free.evening
    begin, end = _clock(plan, briefing.outing.start), _clock(plan, briefing.outing.end)
    words = f"{briefing.site}, {evening:%A} {evening.day} {evening:%B %Y}: out from {begin} to {end}"
    if free.observers or free.club:
        words += f"; with {' and '.join(plan.coming_on(free))}{' (club night)' if free.club else ''}"
    if briefing.drives:
        leave, back = _clock(plan, briefing.drives[0].start), _clock(plan, briefing.drives[1].end)
        words += f"; leave home at {leave}, back about {back}"
    return words


def _dark_words(plan: Plan, free: FreeNight) -> str:
    words = dark_words(free, plan.site)
    return f"{words}; clear odds {100 * free.clear_odds:.0f} %" if free.night.dark else f"{words}."


def _programme(plan: Plan, evening: date, briefing: Briefing) -> Table:
    """Return visits and reminders by time; of one minute, the reminder comes first."""
    targets = {target.name: target for target in plan.targets}
    table = _bare_table()
    lines: list[tuple[datetime, int, str, Text]] = [
        (one.at, 0, _clock(plan, one.at), Text(one.words, style="dim")) for one in briefing.reminders
    ]
    for visit in (v for v in plan.visits if v.evening == evening):
        clock = f"{_clock(plan, visit.time.start)}-{_clock(plan, visit.time.end)}"
        lines.append((visit.time.start, 1, clock, _visit_words(visit, targets[visit.target])))
    for _, _, clock, words in sorted(lines, key=lambda line: line[:2]):
        table.add_row(clock, words)
    return table


def _visit_words(visit: Visit, target: Target) -> Text:
    words = Text(f"{_titled(target)}\n", style="bold")
    words.append(f"{visit.pointing.words}\n", style="not bold")
    words.append(f"{view_in_words(visit.view)}\n", style="not bold")
    words.append(f"{visit.sight.constellation}; {visit.why}", style="not bold dim")
    return words


def _titled(target: Target) -> str:
    name = full_name(target.name, target.also_known_as)
    return f"{name} ({getattr(target.nature, 'what', target.kind.value)})"


def view_in_words(view: View) -> str:
    """Return what to look through and why, as one sentence."""
    if view.instrument == NAKED_EYE:
        return f"With the naked eye: {view.why}."
    through = [view.instrument]
    if view.eyepiece:
        through.append(f"{view.eyepiece}{' with Barlow' if view.barlow else ''}")
    if view.filter:
        through.append(view.filter if "filter" in view.filter.casefold() else f"{view.filter} filter")
    words = f"{', '.join(through)}: {view.magnification:.0f} times, field {view.true_field_deg:.1f}°"
    if "exit pupil" not in view.why:
        words += f", exit pupil {view.exit_pupil_mm:.1f} mm"
    return f"{words}. {view.why[:1].upper()}{view.why[1:]}."


def _standbys(plan: Plan, standbys: list[Standby]) -> Table:
    table = _bare_table()
    for standby in sorted(standbys, key=lambda one: one.order):
        clock = f"{_clock(plan, standby.window.start)}-{_clock(plan, standby.window.end)}"
        words = Text(standby.target, style="bold")
        best = _clock(plan, standby.best)
        words.append(f"  best about {best}. {standby.pointing.words}\n", style="not bold")
        words.append(view_in_words(standby.view), style="not bold")
        table.add_row(clock, words)
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


def _clock(plan: Plan, moment: datetime) -> str:
    return f"{moment.astimezone(plan.site.local):%H:%M}"
