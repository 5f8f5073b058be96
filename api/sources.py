"""Where settings come from: a TOML file, the environment above it, the command line above both."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from scheduler.errors import Fault

from .errors import SettingsFaults
from .settings import ABOUT, DEFAULTS, Settings, faults_of, without_password

PREFIX = "DUSKWRIGHT_"
FOR_TESTS = ("DUSKWRIGHT_TEST_", "DUSKWRIGHT_NOTHING_SKIPPED", "DUSKWRIGHT_EXPECT_ZONE")
"""Variables that tell the tests where they are run; no settings, and no mistakes either."""
SECRETS = ("DUSKWRIGHT_SEAL_KEY",)
"""Variables that hold secrets: read where they are needed (`api.seal`), and told nowhere."""
FILE = "settings"
"""Names the file itself: DUSKWRIGHT_SETTINGS, --settings."""


@dataclass(frozen=True, slots=True)
class _Source:
    """One place settings come from: how it is told, how it writes a setting's name, what it holds."""

    place: str
    spelt: Callable[[str], str]
    given: Mapping[str, Any]


def variable_of(name: str) -> str:
    """Return the environment's name of a setting.

    Examples
    --------
    >>> variable_of("plan_years")
    'DUSKWRIGHT_PLAN_YEARS'
    """
    return PREFIX + name.upper()


def flag_of(name: str) -> str:
    """Return the command line's name of a setting.

    Examples
    --------
    >>> flag_of("plan_years")
    '--plan-years'
    """
    return "--" + name.replace("_", "-")


def read_settings(
    flags: Mapping[str, str] | None = None, environment: Mapping[str, str] = os.environ
) -> Settings:
    """Return the settings asked for; lists are written with commas, in the file as arrays.

    Parameters
    ----------
    flags : What the command line gives, by the settings' names; "settings" is the file.
    environment : As in DUSKWRIGHT_PORT=8075; DUSKWRIGHT_SETTINGS is the file.

    Raises
    ------
    SettingsFaults
        With everything wrong in all three places at once, each with its place and remedy. What stands at a
        name nobody knows is not told: it may be a secret.

    Examples
    --------
    >>> read_settings({"port": "9001"}, {"DUSKWRIGHT_PORT": "9000", "DUSKWRIGHT_ZONES": "Europe/Berlin"}).port
    9001
    >>> read_settings({}, {}) == Settings()
    True
    """
    flags = flags or {}
    by_variable = {variable_of(name): name for name in (*ABOUT, FILE)}
    ours = {name: text for name, text in environment.items() if name.startswith(PREFIX)
            and not name.startswith(FOR_TESTS) and name not in SECRETS}  # fmt: skip
    known = {by_variable[name]: text for name, text in ours.items() if name in by_variable}
    faults = [_unknown("environment", name, by_variable) for name in ours if name not in by_variable]
    in_file: Mapping[str, Any] = {}
    file = flags.get(FILE, known.pop(FILE, None))
    if file is not None:
        in_file, ill_formed = _file_holds(file)
        faults += ill_formed
    sources = (
        _Source(without_password(file or ""), str, in_file),
        _Source("environment", variable_of, known),
        _Source("command line", flag_of, {name: text for name, text in flags.items() if name != FILE}),
    )
    values, places, wrong = _merged(sources)
    faults += wrong
    try:
        settings = Settings(**values)
    except SettingsFaults as unsafe:
        # Where one of these is faulty, its default stands where something else was meant.
        if not {"host", "hosts", "keys"} & (places.keys() - values.keys()):
            faults += [replace(fault, **places.get(fault.column or "", {})) for fault in unsafe.faults]
    if faults:
        raise SettingsFaults(tuple(faults))
    return settings


def settings_table() -> str:
    """Return the README's table of settings, in Markdown."""
    rows = [f"| `{name}` | `{variable_of(name)}` | {_default(name)} | {_meaning(name)} |" for name in ABOUT]
    return "\n".join(["| setting | variable | default | meaning |", "|---|---|---|---|", *rows])


def explained(name: str) -> str:
    """Return a line about a setting: meaning, what may stand there, variable and default."""
    return f"{_meaning(name)} (default {_default(name).replace('`', '')}; {variable_of(name)})"


def _meaning(name: str) -> str:
    about = ABOUT[name]
    unit = f" {about.unit}" if about.unit else ""
    bounds = f"{about.low} to {about.high}{unit}" if about.is_number else ", ".join(about.words)
    return f"{about.meaning} [{bounds}]" if bounds else about.meaning


def _default(name: str) -> str:
    default = DEFAULTS[name]
    return f"`{default}`" if default not in {(), ""} else "none"


def _file_holds(file: str) -> tuple[dict[str, Any], list[Fault]]:
    """Return what a file of settings holds and what is wrong with its form."""
    place = without_password(file)
    try:
        held = tomllib.loads(Path(file).read_text("utf-8"))
    except OSError as error:
        return {}, [Fault(place, None, None, error.strerror or "no file", "a TOML file that can be read")]
    except UnicodeDecodeError:
        return {}, [Fault(place, None, None, "other bytes", "UTF-8 text")]
    except tomllib.TOMLDecodeError as error:
        return {}, [Fault(place, None, None, without_password(str(error)), "TOML, as in port = 8075")]
    faults = [_unknown(place, key, ABOUT) for key in held if key not in ABOUT]
    kept = {}
    for name, value in held.items():
        if name in ABOUT and _fits(name, value):
            kept[name] = value
        elif name in ABOUT:
            told = without_password(str(value))
            faults.append(Fault(place, None, name, told, ABOUT[name].expected or _form(name)))
    return kept, faults


def _fits(name: str, value: Any) -> bool:
    if isinstance(DEFAULTS[name], tuple):
        return isinstance(value, list) and all(isinstance(one, str) for one in value)
    return type(value) is type(DEFAULTS[name])


def _form(name: str) -> str:
    return 'an array of texts, as in ["one", "two"]' if DEFAULTS[name] == () else "text in quotes"


def _merged(
    sources: tuple[_Source, ...],
) -> tuple[dict[str, Any], dict[str, dict[str, Any]], list[Fault]]:
    """Return each setting's value from the highest place that gives it, that place, and every fault."""
    values: dict[str, Any] = {}
    places: dict[str, dict[str, Any]] = {}
    faults = []
    for source in sources:
        read = {name: _read(name, given) for name, given in source.given.items()}
        wrong = {each[0]: each[1:] for each in faults_of(read)}
        faults += [Fault(source.place, None, source.spelt(name), *rest) for name, rest in wrong.items()]
        values |= {name: value for name, value in read.items() if name not in wrong}
        places |= {name: {"file": source.place, "column": source.spelt(name)} for name in read}
    return values, places, faults


def _read(name: str, given: Any) -> Any:
    """Return what a text means; one that is no number stays as it is, for the checks to refuse."""
    if isinstance(given, list):
        return tuple(given)
    if not isinstance(given, str):
        return given
    if isinstance(DEFAULTS[name], tuple):
        return tuple(part.strip() for part in given.split(",") if part.strip())
    if ABOUT[name].is_number and re.fullmatch(r"-?[0-9]{1,18}", given):
        return int(given)
    return given


def _unknown(place: str, name: str, known: Mapping[str, Any]) -> Fault:
    near = tuple(get_close_matches(name, known, n=3, cutoff=0.6))
    told = without_password(name)
    return Fault(place, None, told, told, "the name of a setting (see duskwright serve --help)", near)
