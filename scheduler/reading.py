"""Scenario and catalogue tied together: files in, a `Scenario` out, names resolved."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import date
from pathlib import Path

from . import scenario
from .catalogue import look_up
from .domain import Scenario
from .domain.checks import named
from .errors import Fault, OutsideEphemeris, ScenarioFaults
from .sky.ephemeris import check_covered

UNNAMED = "unnamed-site"
"""Stands in for the names of a site and a year that a scenario without a folder leaves open."""


def read_scenario(folder: Path, *, today: date | None = None) -> Scenario:
    """Return the scenario of a folder with `scenario.toml` and `wish-list.csv`, and a log where there is one.

    Parameters
    ----------
    folder : Holds the files.
    today : First evening of a season that names no start; None for the site's date now.

    Raises
    ------
    ScenarioFaults
        With everything wrong with all its files at once.
    """
    read = scenario.read_scenario(folder, look_up, today=today)
    if faults := _outside_the_ephemeris(read):
        raise ScenarioFaults(faults)
    return read


def faults_of(folder: Path) -> tuple[Fault, ...]:
    """Return everything wrong with the files of a folder; empty for a sound scenario."""
    try:
        read_scenario(folder)
    except ScenarioFaults as found:
        return found.faults
    return ()


def _outside_the_ephemeris(read: Scenario) -> tuple[Fault, ...]:
    first, last = read.season.evenings[0], read.season.evenings[-1]
    try:
        check_covered(first, last)
    except OutsideEphemeris as outside:
        expected = f"a season from {outside.first} to {outside.last}, which the ephemeris covers"
        return (
            Fault("scenario.toml", None, "season.start", f"{first} ({read.season.nights} nights)", expected),
        )
    return ()


def read_scenario_texts(
    name: str,
    scenario_toml: bytes,
    wish_list_csv: bytes,
    outcomes_csv: bytes | None = None,
    forecast_csv: bytes | None = None,
    *,
    today: date | None = None,
) -> Scenario:
    """Return the scenario of files that came some other way; `name` becomes its name.

    It equals what `read_scenario` returns for a folder of that name with the same files.

    Parameters
    ----------
    scenario_toml, wish_list_csv : What these files hold; faults name them so.
    outcomes_csv, forecast_csv : The same; None or nothing where there is no log or no forecast.
    today : First evening of a season that names no start; None for the site's date now.

    Raises
    ------
    InvalidValue
        `name` is blank, not printable, or longer than 200 characters.
    ScenarioFaults
        With everything wrong with all texts at once.
    """
    named("scenario name", name)
    texts = {
        "scenario.toml": scenario_toml, "wish-list.csv": wish_list_csv,
        "outcomes.csv": outcomes_csv or b"", "forecast.csv": forecast_csv or b"",
    }  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="duskwright-") as aside:
        folder = Path(aside) / UNNAMED  # never `name`: it comes from outside and may hold a path
        folder.mkdir()
        for file, text in texts.items():
            (folder / file).write_bytes(text)
        read = read_scenario(folder, today=today)
    site = replace(read.site, name=name) if read.site.name == UNNAMED else read.site
    return replace(read, name=name, site=site, title=name if read.title == UNNAMED else read.title)
