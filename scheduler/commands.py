"""The commands about the sky, the weather and single nights. Heavy libraries are imported inside them."""

from __future__ import annotations

import argparse
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .domain import Plan


def add_commands(commands: Any) -> None:
    """Add `night`, `up`, `planets`, `moon`, `dates` and `weather` to the command line."""
    night = commands.add_parser("night", help="one night of a written plan: where to point, what to take")
    night.add_argument("plan", type=Path, help="plan.json, or the folder it was written into")
    night.add_argument(
        "--on", metavar="DATE", help="any free evening, as in 2027-01-08 (default: the next planned one)"
    )
    night.set_defaults(command=_night)
    up = commands.add_parser("up", help="say what is up at a given hour at a scenario's site")
    up.add_argument("scenario", type=Path, help="folder with scenario.toml and wish-list.csv")
    up.add_argument("--at", metavar="TIME", help="local, as in 2027-03-05T21:00 (default: today at 22:00)")
    up.add_argument("--all", action="store_true", help="fainter stars too, and every target and showpiece")
    up.set_defaults(command=_up)
    planets = commands.add_parser(
        "planets", help="the season of each planet: from when, best weeks, until when"
    )
    planets.add_argument("scenario", type=Path, help="folder with scenario.toml and wish-list.csv")
    planets.set_defaults(command=_planets)
    moon = commands.add_parser("moon", help="the Moon's diary of a scenario's season")
    moon.add_argument("scenario", type=Path, help="folder with scenario.toml and wish-list.csv")
    moon.add_argument("--out", type=Path, metavar="FILE", help="write it as CSV, a row a night")
    moon.set_defaults(command=_moon)
    dates = commands.add_parser("dates", help="the sky's own dates in a scenario's season")
    dates.add_argument("scenario", type=Path, help="folder with scenario.toml and wish-list.csv")
    dates.set_defaults(command=_dates)
    weather = commands.add_parser("weather", help="clear odds learned from the log, and how good they were")
    weather.add_argument("scenario", type=Path, help="folder of a scenario, with its log outcomes.csv")
    weather.set_defaults(command=_weather)


def _night(options: argparse.Namespace) -> int:
    from .errors import InvalidValue
    from .terminal_night import night_shown

    path = options.plan / "plan.json" if options.plan.is_dir() else options.plan
    plan = plan_in(path)
    planned = sorted({visit.evening for visit in plan.visits})
    if not planned:
        raise InvalidValue("plan", str(path), "a plan with at least one visit")
    if options.on is None:
        today = datetime.now(UTC).astimezone(plan.site.local).date()
        evening = next((one for one in planned if one >= today), planned[0])
    else:
        evening = _evening_of(options.on, sorted({*planned, *(standby.evening for standby in plan.standbys)}))
    _print(night_shown(plan, evening))
    return 0


def plan_in(path: Path) -> Plan:
    """Return the sound plan a file holds."""
    from .check import judge
    from .errors import UnreadablePlan
    from .export import plan_from_json

    try:
        plan = plan_from_json(path.read_text(encoding="utf-8"))
    except OSError as fault:
        raise UnreadablePlan(f"{path}: {fault.strerror or fault}") from fault
    except UnicodeDecodeError as fault:
        raise UnreadablePlan(f"{path}: not a readable plan: it is no UTF-8 text") from fault
    except UnreadablePlan as fault:
        raise UnreadablePlan(f"{path}: {fault}") from fault
    judge(plan, kept=True)
    return plan


def _evening_of(text: str, known: list[date]) -> date:
    """Return an evening of the plan by its date; where there is none, say which lie nearest."""
    from .errors import InvalidValue

    try:
        wanted = date.fromisoformat(text.strip())
    except ValueError as fault:
        raise InvalidValue("--on", text, 'a date such as "2027-01-08"') from fault
    if wanted in known:
        return wanted
    near = [*[one for one in known if one < wanted][-2:], *[one for one in known if one > wanted][:2]]
    nearest = ", ".join(map(str, near))
    raise InvalidValue("--on", text, f"an evening on which something shows; the nearest are {nearest}")


def _up(options: argparse.Namespace) -> int:
    from .reading import read_scenario
    from .terminal_sky import overview_shown
    from .up import moment_from, overview_of

    scenario = read_scenario(options.scenario)
    today = datetime.now(UTC).astimezone(scenario.site.local).date().isoformat()
    moment = moment_from(today if options.at is None else options.at, scenario.site)
    _print(overview_shown(overview_of(scenario, moment), options.all))
    return 0


def _planets(options: argparse.Namespace) -> int:
    from .planets import planet_seasons_of
    from .reading import read_scenario
    from .terminal_sky import planets_shown

    scenario = read_scenario(options.scenario)
    _print(planets_shown(planet_seasons_of(scenario), scenario))
    return 0


def _moon(options: argparse.Namespace) -> int:
    from .diary import diary_of, moon_csv
    from .errors import CannotWrite
    from .reading import read_scenario
    from .sky import sky_of
    from .terminal_sky import diary_shown

    scenario = read_scenario(options.scenario)
    nights = sky_of(scenario.site, scenario.season.evenings).nights
    if options.out is None:
        _print(diary_shown(diary_of(nights, scenario.site), scenario.site))
        return 0
    try:
        options.out.write_text(moon_csv(nights, scenario.site), encoding="utf-8", newline="")
    except OSError as fault:
        raise CannotWrite(options.out, fault.strerror or str(fault)) from fault
    print(f"Written: {options.out}, {len(nights)} nights")
    return 0


def _dates(options: argparse.Namespace) -> int:
    from .reading import read_scenario
    from .skydates import sky_dates_of
    from .terminal_sky import dates_shown

    scenario = read_scenario(options.scenario)
    _print(dates_shown(sky_dates_of(scenario), scenario.site))
    return 0


def _weather(options: argparse.Namespace) -> int:
    from .reading import read_scenario
    from .terminal_weather import weather_shown
    from .weather import weather_report_of

    scenario = read_scenario(options.scenario)
    report = weather_report_of(scenario.clear_odds, scenario.outcomes, scenario.forecast)
    _print(weather_shown(report, scenario))
    return 0


def _print(shown: Any) -> None:
    from rich.console import Console

    Console(markup=False, highlight=False).print(shown)
