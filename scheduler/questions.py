"""The commands that ask about a plan: why, prices, whatif. Heavy libraries are imported inside them."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime, time
from pathlib import Path
from threading import Event
from typing import Any, NamedTuple

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Means(NamedTuple):
    """What the command line lends: stopping in good order, and how many processes can work at once."""

    interrupts: Callable[[], AbstractContextManager[Event]]
    cores: Callable[[], int]


def add_questions(commands: Any, means: Means) -> None:
    """Add `why`, `prices` and `whatif` to the command line."""
    why = commands.add_parser("why", help="why a target is on its night, or on none, and what else there is")
    why.add_argument("plan", type=Path, help="plan.json, or the folder it was written into")
    why.add_argument("target", help="its name on the wish-list, or another it is known by")
    why.add_argument("--scenario", type=Path, required=True, help="folder of the scenario it was made of")
    why.add_argument("--on", metavar="DATE", help="evening of the visit (default: the next one)")
    why.set_defaults(command=lambda options: _why(options, means))
    prices = commands.add_parser("prices", help="where one more free night, or clear hour, is worth most")
    prices.add_argument("scenario", type=Path, help="folder with scenario.toml and wish-list.csv")
    prices.set_defaults(command=lambda options: _prices(options, means))
    _add_whatif(commands, means)


def _add_whatif(commands: Any, means: Means) -> None:
    ask = commands.add_parser("whatif", help="what a change to the scenario would do to the targets finished")
    ask.add_argument("scenario", type=Path, help="folder with scenario.toml and wish-list.csv")
    ask.add_argument("--nights-per-week", type=int, metavar="N", help="most nights out in a week")
    ask.add_argument("--nights-per-month", type=int, metavar="N", help="most nights out in a month")
    ask.add_argument("--weekday", action="append", default=[], metavar="DAY", help="free as well, as in Thu")
    ask.add_argument("--start", metavar="TIME", help="evenings that start later start then, as in 18:00")
    ask.add_argument("--finish", metavar="TIME", help="evenings that finish earlier finish then, as in 01:00")
    ask.add_argument("--lowest-altitude", type=float, metavar="DEG", help="for targets with a higher limit")
    ask.add_argument("--target", action="append", default=[], metavar="NAME", help="that limit for it alone")
    ask.add_argument("--sky", type=float, metavar="MAG", help="sky brightness, in mag/arcsec2")
    ask.add_argument(
        "--on", action="append", default=[], metavar="DATE", help="that sky on this evening only"
    )
    ask.add_argument("--years", type=int, default=100, help="weather years lived through (default 100)")
    ask.add_argument("--seed", type=int, default=0, help="the same seed gives the same answer (default 0)")
    ask.add_argument("--seconds", type=float, default=5.0, help="effort of each search (default 5)")
    ask.set_defaults(command=lambda options: _whatif(options, means))


def _why(options: argparse.Namespace, means: Means) -> int:
    from rich.console import Console

    from .commands import plan_in
    from .errors import InvalidValue
    from .explain import why_not, why_then
    from .explain.made import target_of
    from .reading import read_scenario
    from .terminal import reporting
    from .terminal_explain import why_not_shown, why_then_shown

    path = options.plan / "plan.json" if options.plan.is_dir() else options.plan
    plan, scenario = plan_in(path), read_scenario(options.scenario)
    name = plan.targets[target_of(plan, options.target)].name
    evenings = sorted(visit.evening for visit in plan.visits if visit.target == name)
    today = datetime.now(UTC).astimezone(plan.site.local).date()
    on = _date(options.on) if options.on else next((one for one in evenings if one >= today), None)
    shown = []
    if not evenings and all(one.target != name for one in plan.unplaced):
        last = max(one.evening for one in plan.seen if one.target == name)
        raise InvalidValue("target", name, f"a target still wanted; by the log it was seen, last on {last}")
    with means.interrupts() as stop, reporting(Console(stderr=True)) as report:
        if evenings or options.on:
            answer = why_then(plan, scenario, name, on, report=report, cancel=stop)
            shown.append(why_then_shown(answer, plan.site.local))
        if not options.on and any(one.target == name for one in plan.unplaced):
            missing = why_not(plan, scenario, name, report=report, cancel=stop)
            shown.append(why_not_shown(missing, plan.site.local))
    for one in shown:
        _print(one)
    return 0


def _prices(options: argparse.Namespace, means: Means) -> int:
    from rich.console import Console

    from .explain import season_prices
    from .reading import read_scenario
    from .terminal import reporting
    from .terminal_explain import prices_shown

    scenario = read_scenario(options.scenario)
    with means.interrupts() as stop, reporting(Console(stderr=True)) as report:
        prices = season_prices(scenario, report=report, cancel=stop)
    _print(prices_shown(prices, scenario))
    return 0


def _whatif(options: argparse.Namespace, means: Means) -> int:
    from rich.console import Console

    from .domain import Amendment
    from .explain import what_if
    from .reading import read_scenario
    from .terminal import reporting
    from .terminal_explain import what_if_shown

    change = Amendment(
        nights_per_week=options.nights_per_week, nights_per_month=options.nights_per_month,
        weekdays=tuple(_weekday(day) for day in options.weekday), start=_time("--start", options.start),
        finish=_time("--finish", options.finish), lowest_altitude_deg=options.lowest_altitude,
        targets=tuple(options.target), sky_brightness=options.sky,
        evenings=tuple(_date(day) for day in options.on),
    )  # fmt: skip
    scenario = read_scenario(options.scenario)
    with means.interrupts() as stop, reporting(Console(stderr=True)) as report:
        answer = what_if(
            scenario, change, years=options.years, seed=options.seed, seconds=options.seconds,
            workers=means.cores(), report=report, cancel=stop,
        )  # fmt: skip
    _print(what_if_shown(answer))
    return 0


def _weekday(text: str) -> int:
    from .errors import InvalidValue

    short = text.strip().lower()[:3]
    if short not in WEEKDAYS:
        raise InvalidValue("--weekday", text, 'a weekday such as "Thu"')
    return WEEKDAYS.index(short)


def _time(field: str, text: str | None) -> time | None:
    from .errors import InvalidValue

    try:
        return time.fromisoformat(text.strip()).replace(tzinfo=None) if text else None
    except ValueError as fault:
        raise InvalidValue(field, text, 'a local time such as "01:00"') from fault


def _date(text: str) -> date:
    from .errors import InvalidValue

    try:
        return date.fromisoformat(text.strip())
    except ValueError as fault:
        raise InvalidValue("--on", text, 'a date such as "2027-01-08"') from fault


def _print(shown: Any) -> None:
    from rich.console import Console

    Console(markup=False, highlight=False).print(shown)
