"""The command line as a person meets it, run as a process of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from scheduler.cli import run
from scheduler.export import plan_from_json
from tests.scheduler.moor import SETTINGS, laid_out


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return laid_out(tmp_path, "target\nM 42\nM 31\nJupiter\nM 7\n")


def test_a_plan_is_written_and_shown(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert (
        run(["plan", str(folder), "--out", str(tmp_path / "year"), "--seconds", "0.5", "--years", "6"]) == 0
    )
    shown = capsys.readouterr().out
    assert "January 2027" in shown
    assert "M 7" in shown
    assert "never above" in shown
    assert "Never point a telescope or binoculars near the Sun" in shown
    plan = plan_from_json((tmp_path / "year" / "plan.json").read_text(encoding="utf-8"))
    assert {visit.target for visit in plan.visits} == {"M 42", "M 31", "Jupiter"}
    assert sorted(path.name for path in (tmp_path / "year").iterdir()) == [
        "changes.csv", "moon.csv", "nights.csv", "odds.csv", "plan.json", "schedule.csv", "unplaced.csv",
    ]  # fmt: skip


def test_quiet_says_only_where_the_files_are(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["plan", str(folder), "--out", str(tmp_path / "year"), "--seconds", "0.5", "--years", "6", "--quiet"])
    shown = capsys.readouterr()
    assert len(shown.out.splitlines()) == 2
    assert shown.err == ""


def test_a_sound_scenario_is_said_to_be_sound(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", str(folder)]) == 0
    assert "sound, 4 targets, 10 nights" in capsys.readouterr().out


def test_check_lists_every_fault_with_its_place(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "scenario.toml").write_text(SETTINGS.replace("55.2", "91"), encoding="utf-8")
    (folder / "wish-list.csv").write_text("target,priority\nM 42,9\nAndromeda Galxy,3\n", encoding="utf-8")
    assert run(["check", str(folder)]) == 1
    shown = capsys.readouterr().out
    assert "scenario.toml, site.latitude_deg: read '91'" in shown.replace("91.0", "91")
    assert "wish-list.csv, row 2, priority: read '9'" in shown
    assert "wish-list.csv, row 3, target: read 'Andromeda Galxy'" in shown
    assert "Andromeda Galaxy" in shown
    assert "3 faults in" in shown


def test_a_faulty_scenario_writes_nothing(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "wish-list.csv").write_text("target\n", encoding="utf-8")
    assert run(["plan", str(folder), "--out", str(tmp_path / "year")]) == 1
    assert not (tmp_path / "year").exists()
    assert "wish-list.csv" in capsys.readouterr().err


def test_a_missing_folder_is_a_clear_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", str(tmp_path / "nowhere")]) == 1
    assert "scenario.toml" in capsys.readouterr().err


@pytest.mark.parametrize("words", [[], ["frobnicate"], ["plan"], ["plan", "x", "--seconds", "many"]])
def test_wrong_usage_is_explained(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        run(words)
    assert left.value.code == 2
    assert "usage: duskwright" in capsys.readouterr().err


def test_help_loads_nothing_heavy() -> None:
    seen = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "scheduler", "--help"],
        capture_output=True, text=True, check=True, env={**os.environ, "PYTHONUTF8": "1"},
    )  # fmt: skip
    assert "plan the year of a scenario" in seen.stdout
    heavy = ("numpy", "pandas", "ortools", "skyfield", "fastapi", "pydantic", "rich", "svg", "resvg_py")
    assert [name for name in heavy if f" {name}\n" in seen.stderr] == []


@pytest.mark.parametrize("way", ["a file", "below a file", "a folder in the way"])
def test_a_folder_that_cannot_be_written_is_told_before_planning(
    way: str, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "year" / "plan.json").mkdir(parents=True)
    out = {"a file": "file", "below a file": "file/year", "a folder in the way": "year"}[way]
    assert run(["plan", str(folder), "--out", str(tmp_path / out)]) == 1
    assert "cannot write to" in capsys.readouterr().err
    assert (tmp_path / "file").read_text() == "mine"
    assert [path.name for path in (tmp_path / "year").iterdir()] == ["plan.json"]


@pytest.mark.parametrize("words", [["--seed", "-1"], ["--seconds", "-3"], ["--seconds", "nan"]])
def test_a_seed_or_effort_out_of_range_is_told(
    words: list[str], folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["plan", str(folder), "--out", str(tmp_path / "year"), *words]) == 1
    assert "expected a" in capsys.readouterr().err


def test_a_season_past_the_ephemeris_is_a_fault_of_the_scenario(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "scenario.toml").write_text(SETTINGS.replace("2027-01-01", "2053-09-28"), encoding="utf-8")
    assert run(["check", str(folder)]) == 1
    assert "season.start: read '2053-09-28 (10 nights)'" in capsys.readouterr().out


@pytest.mark.parametrize("after_s", [0.5, 2.0, 3.5])
def test_ctrl_c_stops_in_good_order_and_writes_nothing(after_s: float, tmp_path: Path) -> None:
    words = [
        "-m",
        "scheduler",
        "plan",
        "scenarios/larkmoor",
        "--out",
        str(tmp_path / "year"),
        "--seconds",
        "60",
    ]
    starter = "import os, signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    starter += "sys.argv[0] = '-c'; from scheduler.cli import run; sys.exit(run(sys.argv[1:]))"
    root = Path(__file__).parents[2]
    with subprocess.Popen(
        [sys.executable, "-c", starter, *words[2:]],
        cwd=root,
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as child:
        time.sleep(after_s)
        child.send_signal(signal.SIGINT)
        _, said = child.communicate(timeout=20)
    assert child.returncode == 130
    assert said.strip().endswith("duskwright: stopped; nothing was written")
    assert list((tmp_path / "year").iterdir()) == [] if (tmp_path / "year").exists() else True


def test_a_lost_night_is_planned_anew(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "year"
    run(["plan", str(folder), "--out", str(out), "--seconds", "0.5", "--quiet"])
    first = plan_from_json((out / "plan.json").read_text(encoding="utf-8"))
    assert (out / "changes.csv").read_text(encoding="utf-8").count("\n") == 1
    lost = min(visit.evening for visit in first.visits)
    (folder / "outcomes.csv").write_text(f"evening,outcome\n{lost},clouded out\n", encoding="utf-8")
    capsys.readouterr()
    assert run(["replan", str(out), "--scenario", str(folder), "--seconds", "0.5"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "from the plan before" in shown
    assert f"{lost} was clouded out" in shown
    assert "changes.csv" in shown
    second = plan_from_json((out / "plan.json").read_text(encoding="utf-8"))
    assert second.version == 2
    lines = (out / "changes.csv").read_text(encoding="utf-8").splitlines()
    assert len(lines) == 1 + len(second.changes)
    elsewhere = tmp_path / "third"
    again = ["replan", str(out / "plan.json"), "--scenario", str(folder), "--out", str(elsewhere), "--quiet"]
    assert run([*again, "--seconds", "0.5"]) == 0
    assert plan_from_json((elsewhere / "plan.json").read_text(encoding="utf-8")).version == 3


def test_planning_anew_says_what_is_wrong_with_its_files(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["replan", str(tmp_path / "none"), "--scenario", str(folder)]) == 1
    assert "none" in capsys.readouterr().err
    run(["plan", str(folder), "--out", str(tmp_path / "year"), "--seconds", "0.2", "--quiet"])
    (folder / "outcomes.csv").write_text("evening,outcome,seen\n2027-01-01,clear,M 999\n", encoding="utf-8")
    assert run(["replan", str(tmp_path / "year"), "--scenario", str(folder)]) == 1
    assert "outcomes.csv, row 2, seen: read 'M 999'" in capsys.readouterr().err
