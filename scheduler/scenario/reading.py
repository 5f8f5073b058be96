"""Read a scenario's folder: all its files, all faults."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import UTC, date
from itertools import chain
from pathlib import Path

from ..domain import Forecast, OutcomeLog, Scenario, Target
from ..errors import Fault, ScenarioFaults
from .kits import ways_to_look
from .known import LookUp
from .log import forecasts_of, outcomes_of
from .notes import Notes
from .rows import Circumstances
from .seen import WishNames
from .settings import Settings, settings_of
from .text import text_of
from .wishes import targets_of

SETTINGS_FILE, WISHES_FILE = "scenario.toml", "wish-list.csv"
OUTCOMES_FILE, FORECAST_FILE = "outcomes.csv", "forecast.csv"
MOST_SETTINGS_BYTES, MOST_TABLE_BYTES = 200_000, 10_000_000


def read_scenario(folder: Path, look_up: LookUp, *, today: date | None = None) -> Scenario:
    """Return the scenario a folder holds.

    Parameters
    ----------
    folder : Holds `scenario.toml` and `wish-list.csv`, and where there is one a log `outcomes.csv` and a
        `forecast.csv`; see the package for their format.
    look_up : Resolves a designation or raises `UnknownName`; `catalogue.look_up` does.
    today : First evening of a season that names no start; None for the site's date now.

    Raises
    ------
    ScenarioFaults
        With everything wrong in all files.
    """
    scenario, faults = _read(Path(folder), look_up, today)
    if scenario is None:
        raise ScenarioFaults(faults)
    return scenario


def faults_of(folder: Path, look_up: LookUp, *, today: date | None = None) -> tuple[Fault, ...]:
    """Return everything wrong with a scenario's files, settings first, then row by row; empty when sound."""
    return _read(Path(folder), look_up, today)[1]


def _read(folder: Path, look_up: LookUp, today: date | None) -> tuple[Scenario | None, tuple[Fault, ...]]:
    name = folder.resolve().name
    if not name.strip() or not name.isprintable() or len(name) > 200:
        name = "scenario"
    settings, about_settings = _settings(folder, name, today)
    targets, about_wishes = _targets(folder, look_up, settings)
    names = None if about_wishes.found else WishNames(targets, look_up)
    outcomes, about_outcomes = _outcomes(folder, names)
    forecast, about_forecast = _forecast(folder)
    tables = (about_wishes, about_outcomes, about_forecast)
    by_row = [sorted(about.found, key=lambda fault: fault.row or 0) for about in tables]
    faults = (*about_settings.found, *chain.from_iterable(by_row))
    if faults or settings is None:
        return None, faults
    found = _scenario(name, settings, targets)
    return found and replace(found, outcomes=outcomes, forecast=(*settings.forecast, *forecast)), faults


def _settings(folder: Path, name: str, today: date | None) -> tuple[Settings | None, Notes]:
    notes = Notes(SETTINGS_FILE)
    text = text_of(folder / SETTINGS_FILE, notes, MOST_SETTINGS_BYTES)
    return None if text is None else settings_of(text, name, today, notes), notes


def _targets(folder: Path, look_up: LookUp, settings: Settings | None) -> tuple[tuple[Target, ...], Notes]:
    notes = Notes(WISHES_FILE)
    text = text_of(folder / WISHES_FILE, notes, MOST_TABLE_BYTES)
    if text is None:
        return (), notes
    known = Circumstances(look_up)
    if settings:
        known = Circumstances(
            look_up,
            settings.wishes,
            settings.site.local if settings.site else UTC,
            ways_to_look(settings.kit, settings.observers) if settings.kit and settings.observers else None,
            tuple(one.name for one in settings.observers) if settings.observers else None,
        )
    return targets_of(text, known, notes), notes


def _outcomes(folder: Path, names: WishNames | None) -> tuple[OutcomeLog, Notes]:
    notes = Notes(OUTCOMES_FILE)
    text = _text_if_any(folder, notes)
    return OutcomeLog() if text is None else outcomes_of(text, notes, names), notes


def _forecast(folder: Path) -> tuple[tuple[Forecast, ...], Notes]:
    notes = Notes(FORECAST_FILE)
    text = _text_if_any(folder, notes)
    return () if text is None else forecasts_of(text, notes), notes


def _text_if_any(folder: Path, notes: Notes) -> str | None:
    """Return the text of a file a scenario may do without, or None where there is none."""
    path = folder / notes.file
    return text_of(path, notes, MOST_TABLE_BYTES) if os.path.lexists(path) else None


def _scenario(name: str, settings: Settings, targets: tuple[Target, ...]) -> Scenario | None:
    """Return the scenario; a part that could not be read has its fault noted and leaves none."""
    site, kit, season, availability = settings.site, settings.kit, settings.season, settings.availability
    clear_odds, routine = settings.clear_odds, settings.routine
    observers, guests, title = settings.observers, settings.guests, settings.title
    if not (site and kit and season and availability and clear_odds and routine and observers and guests):
        return None
    return Scenario(
        name, site, kit, season, availability, clear_odds, targets, routine, title, observers, guests,
        trips=settings.trips, club=settings.club,
    )  # fmt: skip
