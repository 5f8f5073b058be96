"""The command line. Heavy libraries are imported inside the commands that need them."""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

from .commands import add_commands
from .errors import Cancelled, DuskwrightError, ScenarioFaults
from .questions import Means, add_questions

if TYPE_CHECKING:
    from .domain import Plan

UPKEEP = {
    "backup": "write everything the service keeps into a file",
    "database": "bring the service's database up to date, or move it into another",
    "club": "list clubs, export and import them, make keys",
}


def run(arguments: Sequence[str] | None = None) -> int:
    """Carry out one command line and return its exit code: 0 done, 1 faults found, 2 usage, 130 stopped."""
    try:
        options = _options(arguments)
        code: int = options.command(options)
        sys.stdout.flush()
        return code
    except BrokenPipeError:  # whoever read along has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except (Cancelled, KeyboardInterrupt):
        print("duskwright: stopped; nothing was written", file=sys.stderr)
        return 130
    except (DuskwrightError, OSError) as fault:
        print(f"duskwright: {fault}", file=sys.stderr)
        return 1


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Read a command line; the service reads its own words, so that its settings are told in one place."""
    parser = _parser()
    options, rest = parser.parse_known_args(arguments)
    if rest and options.command not in {_serve, _work, _upkeep}:
        parser.error(f"unrecognized arguments: {' '.join(rest)}")
    options.rest = rest
    return options


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="duskwright",
        description="Turn a wish-list into a year of nights: which night, what, in which order.",
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    plan = commands.add_parser("plan", help="plan the year of a scenario and write its files")
    plan.add_argument("scenario", type=Path, help="folder with scenario.toml and wish-list.csv")
    plan.add_argument("--out", type=Path, help="folder for the files (default: out/NAME)")
    _add_search(plan, seconds=10.0)
    plan.set_defaults(command=_plan)
    replan = commands.add_parser("replan", help="plan the rest of the year anew after nights in the log")
    replan.add_argument("plan", type=Path, help="plan.json, or the folder it was written into")
    replan.add_argument("--scenario", type=Path, required=True, help="the scenario's folder, with its log")
    replan.add_argument("--out", type=Path, help="folder for the files (default: that of the plan)")
    _add_search(replan, seconds=5.0)
    replan.set_defaults(command=_replan)
    check = commands.add_parser("check", help="read a scenario and list everything wrong with it")
    check.add_argument("scenario", type=Path, help="folder with scenario.toml and wish-list.csv")
    check.set_defaults(command=_check)
    add_commands(commands)
    add_questions(commands, Means(_interrupts, _cores))
    serve = commands.add_parser("serve", help="start the service on this machine", add_help=False)
    serve.set_defaults(command=_serve)
    work = commands.add_parser(
        "work", help="work on the jobs of a service, here or on another machine", add_help=False
    )
    work.set_defaults(command=_work)
    for name, purpose in UPKEEP.items():
        upkeep = commands.add_parser(name, help=purpose, add_help=False)
        upkeep.set_defaults(command=_upkeep, upkeep=name)
    return parser


def _add_search(command: argparse.ArgumentParser, seconds: float) -> None:
    command.add_argument("--seed", type=int, default=0, help="the same seed gives the same plan (default 0)")
    command.add_argument(
        "--seconds", type=float, default=seconds,
        help=f"effort of the search, about seconds (default {seconds:g})",
    )  # fmt: skip
    command.add_argument(
        "--years", type=int, default=200, help="weather years lived through for the odds (default 200)"
    )
    command.add_argument(
        "--pictures", action="store_true", help="draw the year and the targets' seasons too, as SVG and PNG"
    )
    command.add_argument(
        "--quiet", action="store_true", help="write the files, print nothing but where they are"
    )


def _plan(options: argparse.Namespace) -> int:
    from rich.console import Console

    from .export import check_writable, write_plan
    from .reading import read_scenario
    from .terminal import reporting, year_of
    from .year import plan_year

    console = Console(markup=False, highlight=False)
    scenario = read_scenario(options.scenario)
    folder = options.out or Path("out") / scenario.name
    check_writable(folder, _picture_names(options))
    with _interrupts() as stop, reporting(Console(stderr=True, quiet=options.quiet)) as report:
        plan = plan_year(
            scenario, seed=options.seed, seconds=options.seconds, years=options.years, workers=_cores(),
            report=report, cancel=stop,
        )  # fmt: skip
    paths = write_plan(plan, folder, _pictures(plan, options))
    if not options.quiet:
        console.print(year_of(plan, console.width))
        console.print()
    console.print(f"Written: {', '.join(path.name for path in paths)} in {folder}", soft_wrap=True)
    console.print(f"Open {folder / 'schedule.csv'} in a spreadsheet.", soft_wrap=True)
    return 0


def _cores() -> int:
    """Return how many processes can work at once here."""
    known = getattr(os, "sched_getaffinity", None)
    return len(known(0)) if known else os.cpu_count() or 1


def _replan(options: argparse.Namespace) -> int:
    from rich.console import Console

    from .commands import plan_in
    from .export import check_writable, write_plan
    from .reading import read_scenario
    from .replanning import replan
    from .terminal import changes_shown, reporting, year_of

    console = Console(markup=False, highlight=False)
    path = options.plan / "plan.json" if options.plan.is_dir() else options.plan
    previous, scenario = plan_in(path), read_scenario(options.scenario)
    folder = options.out or path.parent
    check_writable(folder, _picture_names(options))
    with _interrupts() as stop, reporting(Console(stderr=True, quiet=options.quiet)) as report:
        plan = replan(
            previous, scenario, seed=options.seed, seconds=options.seconds, years=options.years,
            workers=_cores(), report=report, cancel=stop,
        )  # fmt: skip
    paths = write_plan(plan, folder, _pictures(plan, options))
    if not options.quiet:
        console.print(year_of(plan, console.width))
        console.print()
        console.print(changes_shown(plan))
        console.print()
    console.print(f"Written: {', '.join(path.name for path in paths)} in {folder}", soft_wrap=True)
    console.print(f"Open {folder / 'changes.csv'} to see what is different.", soft_wrap=True)
    return 0


def _picture_names(options: argparse.Namespace) -> tuple[str, ...]:
    """Return the files of the pictures asked for."""
    if not options.pictures:
        return ()
    from .pictures.files import NAMES

    return NAMES


def _pictures(plan: Plan, options: argparse.Namespace) -> dict[str, bytes]:
    """Return the pictures asked for, by file."""
    if not options.pictures:
        return {}
    from .pictures.files import pictures_of

    return pictures_of(plan)


@contextmanager
def _interrupts() -> Iterator[threading.Event]:
    """Turn the first Ctrl-C into a request to stop in good order; a second one interrupts at once."""
    stop = threading.Event()
    before = signal.getsignal(signal.SIGINT)

    def ask(number: int, frame: FrameType | None) -> None:
        signal.signal(signal.SIGINT, before)
        stop.set()

    signal.signal(signal.SIGINT, ask)
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, before)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _check(options: argparse.Namespace) -> int:
    from .reading import read_scenario

    try:
        scenario = read_scenario(options.scenario)
    except ScenarioFaults as found:
        for fault in found.faults:
            print(fault)
        print(f"{_count(len(found.faults), 'fault')} in {options.scenario}")
        return 1
    targets, nights = len(scenario.targets), scenario.season.nights
    print(f"{options.scenario}: sound, {_count(targets, 'target')}, {_count(nights, 'night')}")
    return 0


def _serve(options: argparse.Namespace) -> int:
    from importlib import import_module

    code: int = import_module("api.command").serve_command(options.rest)
    return code


def _work(options: argparse.Namespace) -> int:
    from importlib import import_module

    code: int = import_module("api.command").work_command(options.rest)
    return code


def _upkeep(options: argparse.Namespace) -> int:
    from importlib import import_module

    code: int = import_module("api.upkeep").upkeep_command(options.upkeep, options.rest)
    return code
