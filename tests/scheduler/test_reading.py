"""Scenarios that come as texts, and names that come from outside."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from scheduler.catalogue import look_up
from scheduler.domain import Forecast, Horizon, Outcome, Went
from scheduler.errors import InvalidValue, ScenarioFaults
from scheduler.reading import faults_of, read_scenario, read_scenario_texts

PLACE = b'[site]\nlatitude_deg = 55\nlongitude_deg = -2\nzone = "Europe/London"\n'
KIT = b"[binoculars]\nmagnification = 10\naperture_mm = 50\n[season]\nstart = 2027-01-01\n"
WISHES = b"target\nM 42\n"


@pytest.mark.parametrize("name", ["my year!", "../../etc", "/", "a/b", "\U00010348" * 80, "=1+1"])
def test_any_printable_name_is_a_name_and_never_a_path(name: str, tmp_path: Path) -> None:
    read = read_scenario_texts(name, PLACE + KIT, WISHES)
    assert (read.name, read.site.name, read.title) == (name, name, name)
    assert list(tmp_path.iterdir()) == []


def test_names_in_the_file_stand() -> None:
    read = read_scenario_texts("mine", b'title = "A year"\n' + PLACE + b'name = "Moor"\n' + KIT, WISHES)
    assert (read.name, read.site.name, read.title) == ("mine", "Moor", "A year")


def test_a_log_may_come_with_them() -> None:
    read = read_scenario_texts("mine", PLACE + KIT, WISHES, b"evening,outcome\n2026-12-01,clear\n")
    assert read.outcomes.lines == (Outcome(date(2026, 12, 1), Went.CLEAR),)
    with pytest.raises(ScenarioFaults, match=r"outcomes\.csv, row 2, outcome"):
        read_scenario_texts("mine", PLACE + KIT, WISHES, b"evening,outcome\n2026-12-01,wet\n")


def test_a_forecast_may_come_with_them() -> None:
    forecast = b"evening,clear_odds,made_on\n2027-01-03,0.7,2027-01-01\n"
    read = read_scenario_texts("mine", PLACE + KIT, WISHES, None, forecast)
    assert read.forecast == (Forecast(date(2027, 1, 3), 0.7, date(2027, 1, 1)),)
    assert read.outcomes.lines == ()


def test_all_faults_of_all_texts_are_told_at_once_by_file() -> None:
    with pytest.raises(ScenarioFaults) as found:
        read_scenario_texts(
            "mine", PLACE + KIT + b"night = 3\n", b"target\nM 42\nM 4200\n",
            b"evening,outcome\n2026-12-01,wet\n", b"evening,clear_odds,made_on\n2027-01-03,7,2027-01-01\n",
        )  # fmt: skip
    assert [(fault.file, fault.row) for fault in found.value.faults] == [
        ("scenario.toml", None), ("wish-list.csv", 3), ("outcomes.csv", 2), ("forecast.csv", 2),
    ]  # fmt: skip


@pytest.mark.parametrize("named", [b"", b'name = "Moor"\n'])
def test_texts_are_read_as_a_folder_of_that_name_with_the_same_files_is(named: bytes, tmp_path: Path) -> None:
    texts = {
        "scenario.toml": PLACE + named + KIT, "wish-list.csv": WISHES,
        "outcomes.csv": b"evening,outcome,seen\n2026-12-01,clear,M 42\n",
        "forecast.csv": b"evening,clear_odds,made_on\n2027-01-03,0.7,2027-01-01\n",
    }  # fmt: skip
    folder = tmp_path / "mine"
    folder.mkdir()
    for few in (2, 3, 4):
        for file, text in list(texts.items())[:few]:
            (folder / file).write_bytes(text)
        assert read_scenario_texts("mine", *list(texts.values())[:few]) == read_scenario(folder)


@pytest.mark.parametrize("name", ["", "  ", "two\nlines", "x" * 201])
def test_what_is_no_name_is_refused(name: str) -> None:
    with pytest.raises(InvalidValue, match="scenario name"):
        read_scenario_texts(name, PLACE + KIT, WISHES)


def test_a_horizon_too_finely_drawn_is_a_fault(tmp_path: Path) -> None:
    Horizon(tuple(range(360)) + (360.0,) * 40, (10.0,) * 400)
    points = ", ".join(f"[{n * 0.5}, {n % 60}]" for n in range(401))
    (tmp_path / "scenario.toml").write_bytes(PLACE + f"horizon = [{points}]\n".encode() + KIT)
    (tmp_path / "wish-list.csv").write_bytes(WISHES)
    (fault,) = faults_of(tmp_path)
    assert (fault.column, "1 to 400" in fault.expected) == ("site.horizon", True)


@pytest.mark.parametrize(
    ("written", "identity"),
    [("NGC-891", "NGC 891"), ("M-13", "NGC 6205"), ("Messier - 31", "NGC 224"), ("eps lyr", "Epsilon Lyr")],
)
def test_hyphens_and_short_greek_letters_are_read(written: str, identity: str) -> None:
    assert look_up(written).identity == identity


def test_near_names_do_not_depend_on_the_hash_seed() -> None:
    names = ("Grate Nebula", "Ring", "Swann")
    asked = f"from scheduler.catalogue import near_names; print([near_names(name) for name in {names}])"
    answers = {
        subprocess.run(
            [sys.executable, "-c", asked], capture_output=True, text=True, check=True,
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
        ).stdout
        for seed in range(4)
    }  # fmt: skip
    assert len(answers) == 1
