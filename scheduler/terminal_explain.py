"""Answers about a plan in the terminal: why then, why not, what nights are worth, what would be if."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from zoneinfo import ZoneInfo

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from .answer_words import (
    LEAST,
    SETTLED,
    SURE,
    WORKED_OUT,
    cautions_of,
    short_day,
    stands,
    sure_changes,
    ways_given,
)
from .domain import (
    Alternative,
    Amendment,
    Scenario,
    SeasonPrices,
    Sight,
    Span,
    TargetGain,
    WhatIf,
    WhyNot,
    WhyThen,
)
from .figures import error_words, odds_percent, percent

DEAREST = 5
"""So many free nights are told whose time is dearest."""

PRICED = (
    "Worth is priority times merit, expected over clear and clouded nights: what the prices of the nights' "
    "time say, to first order. whatif lives through a change itself."
)


def why_then_shown(answer: WhyThen, zone: ZoneInfo) -> RenderableType:
    """Return why a visit is on its night, and what other nights would cost."""
    parts: list[RenderableType] = [
        Text(f"{answer.target}: {_day(answer.evening)}, {_hours(answer.time, zone)}", style="bold"),
        Text(f"{_shows(answer.sight)}; clear odds {percent(answer.clear_odds)}"),
        Text(answer.why[:1].upper() + answer.why[1:] + "."),
        Text(f"The visit adds {answer.worth:.2f} to the plan, second chances included."), Text(),
    ]  # fmt: skip
    if not answer.alternatives:
        return Group(*parts, Text("No other free night can take it."))
    for one in answer.alternatives:
        parts += _alternative(one, zone)
    further = "1 further night" if answer.others == 1 else f"{answer.others} further nights"
    rest = f" It shows on {further}, passed over as dearer." if answer.others else ""
    return Group(*parts, Text(SETTLED + rest))


def _alternative(one: Alternative, zone: ZoneInfo) -> list[RenderableType]:
    """Return another night, what it costs, and what changes with it."""
    about = "" if one.proven else "about "
    nothing = one.cost < LEAST
    loses = "loses nothing to speak of" if nothing else f"loses {about}{one.cost:.2f}"
    return [
        Text(f"{_day(one.evening)}, {_hours(one.time, zone)}: the plan {loses}", style="bold"),
        Text(f"  {_shows(one.sight)}; clear odds {percent(one.clear_odds)}"),
        *(Text(f"  {words}") for words in ways_given(one.gives_way)),
        Text(),
    ]


def why_not_shown(answer: WhyNot, zone: ZoneInfo) -> RenderableType:
    """Return why a target has too few visits, and what would give it one more."""
    missing = "1 visit" if answer.missing == 1 else f"{answer.missing} visits"
    parts: list[RenderableType] = [
        Text(f"{answer.target}: {missing} missing", style="bold"),
        Text(answer.words[:1].upper() + answer.words[1:] + "."), Text(),
    ]  # fmt: skip
    if answer.remedies:
        parts.append(Text("One of these would give it a visit", style="bold"))
    for one in answer.remedies:
        words = one.change.words if one.change != Amendment() else "a longer search alone (--seconds)"
        parts.append(Text(f"{words}: {_day(one.evening)}, {_hours(one.time, zone)}"))
        parts.append(Text(f"  {_shows(one.sight)}"))
        cautions = (one.caution,) if one.caution else cautions_of(one.change)
        parts += [Text(f"  {caution}", style="yellow") for caution in cautions]
    if answer.tried:
        parts.append(
            Text(f"{'No help' if answer.remedies else 'None of these helps'}: {'; '.join(answer.tried)}.")
        )
    return Group(*parts, Text(), Text(WORKED_OUT))


def prices_shown(prices: SeasonPrices, scenario: Scenario) -> RenderableType:
    """Return what nights are worth by month, and the dearest free nights."""
    table = Table(box=None, pad_edge=False)
    table.add_column("month", no_wrap=True)
    for column in ("a clear hour more", "one more free night", "best", "one more night out"):
        table.add_column(column, justify="right")
    for one in prices.months:
        best = short_day(one.evening) if one.free_night >= LEAST else ""
        figures = (f"{one.hour:.2f}", f"{one.free_night:.2f}", best, f"{one.night_out:.2f}")
        table.add_row(f"{one.month:%B %Y}", *figures)
    parts: list[RenderableType] = [
        Text(f"What nights are worth at {scenario.site.name}", style="bold"), table, Text()
    ]  # fmt: skip
    top = max(prices.months, key=lambda one: (one.free_night, one.month))
    if top.evening and top.free_night >= LEAST:
        parts.append(Text(f"One more free night is worth most in {top.month:%B}, on {_day(top.evening)}."))
    dearest = sorted(prices.nights, key=lambda night: (-night.hour, night.evening))[:DEAREST]
    nights = [f"{short_day(night.evening)} ({night.hour:.2f})" for night in dearest if night.hour >= LEAST]
    if nights:
        parts.append(Text(f"A clear hour more would bring most on {', '.join(nights)}."))
    if prices.night_a_week >= LEAST:
        parts.append(Text(f"One more night out allowed in every week would bring {prices.night_a_week:.2f}."))
    return Group(*parts, Text(PRICED))


def what_if_shown(answer: WhatIf) -> RenderableType:
    """Return what a change is expected to do."""
    before, after = answer.before, answer.after
    table = Table(box=None, pad_edge=False)
    for column in ("", "targets finished", "nights out", "worth planned", "at most"):
        table.add_column(column, justify="right" if column else "left", no_wrap=True)
    for name, one in (("as it is", before), ("changed", after)):
        table.add_row(
            name, f"{one.finished:.1f}", f"{one.nights_out:.1f}", f"{one.objective:.2f}", f"{one.bound:.2f}"
        )
    parts: list[RenderableType] = [
        Text(f"What if: {answer.change.words}", style="bold"), table, Text(),
        Text(_gained(answer)),
    ]  # fmt: skip
    gain, lose = sure_changes(answer)
    for heading, some in (("Gain most", gain), ("Lose", lose)):
        if some:
            parts += [Text(), Text(heading, style="bold"), _gains(some)]
    cautions = cautions_of(answer.change)
    return Group(*parts, *[Text()] * bool(cautions), *(Text(caution, style="yellow") for caution in cautions))


def _gained(answer: WhatIf) -> str:
    """Return the change in targets finished, in words."""
    gain = f"{answer.gain:+.2f} ± {answer.gain_error:.2f} targets finished"
    return f"{gain}, over the same {answer.years} weather years for both{_doubt(answer)}."


def _doubt(answer: WhatIf) -> str:
    """Return a doubt where the difference may be chance."""
    sure = abs(answer.gain) > SURE * answer.gain_error
    return "" if sure else "; that may be chance, more --years would tell"


def _gains(some: Sequence[TargetGain]) -> Table:
    table = Table(box=None, pad_edge=False, show_header=False)
    table.add_column(no_wrap=True)
    table.add_column(no_wrap=True)
    for one in some:
        before, after = (odds_percent(odds, one.error) for odds in (one.before, one.after))
        table.add_row(one.target, f"{before} to {after} (± {error_words(one.error)})")
    return table


def _shows(sight: Sight) -> str:
    """Return how well a target shows, and how it stands."""
    return f"Merit {sight.merit:.2f}, {stands(sight)}"


def _hours(time: Span, zone: ZoneInfo) -> str:
    return f"{time.start.astimezone(zone):%H:%M}-{time.end.astimezone(zone):%H:%M}"


def _day(evening: date) -> str:
    return f"{evening:%A} {evening.day} {evening:%B %Y}"
