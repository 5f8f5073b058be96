"""Pictures beside a plan's other files: `duskwright plan --pictures`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NoReturn

import pytest

from scheduler.cli import run
from scheduler.export import OUTPUTS, plan_from_json
from scheduler.pictures import files, standalone, targets_picture
from scheduler.pictures.files import NAMES, pictures_of
from scheduler.pictures.style import size_of
from tests.scheduler.moor import laid_out
from tests.small_plan import plan

from .drawn import nights_in, of_class, png_size, read, texts_in
from .test_targets import long_list


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return laid_out(tmp_path, "target\nM 42\nM 31\nJupiter\n")


def planned(folder: Path, out: Path, *words: str) -> int:
    return run(
        ["plan", str(folder), "--out", str(out), "--seconds", "0.3", "--years", "0", "--quiet", *words]
    )


def test_they_are_written_with_the_other_files(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "year"
    assert planned(folder, out, "--pictures") == 0
    assert {path.name for path in out.iterdir()} == {*OUTPUTS, *NAMES}
    assert "plan.json, year.svg, year.png, targets.svg, targets.png in " in capsys.readouterr().out
    made = plan_from_json((out / "plan.json").read_text("utf-8"))
    assert {name: (out / name).read_bytes() for name in NAMES} == pictures_of(made)
    year, targets = (read((out / name).read_text("utf-8")) for name in ("year.svg", "targets.svg"))
    assert list(nights_in(year)) == [night.evening.isoformat() for night in made.nights]
    assert {texts_in(row)[0] for row in of_class(targets, "target")} == {"M 42", "M 31", "Jupiter"}


def test_a_plan_made_anew_is_drawn_anew(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "year"
    planned(folder, out, "--pictures")
    before = (out / "year.svg").read_bytes()
    (folder / "outcomes.csv").write_text("evening,outcome\n2027-01-02,clouded out\n", encoding="utf-8")
    words = ["--scenario", str(folder), "--seconds", "0.3", "--years", "0", "--quiet", "--pictures"]
    assert run(["replan", str(out), *words]) == 0
    assert (out / "year.svg").read_bytes() != before
    assert "clouded out" in texts_in(read((out / "year.svg").read_text("utf-8")))


def test_where_one_cannot_be_drawn_nothing_is_written(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(svg: str, *, zoom: float) -> bytes:
        raise OSError("no letters")

    monkeypatch.setattr(files, "png_of", fails)
    assert planned(folder, tmp_path / "year", "--pictures") == 1
    assert list((tmp_path / "year").iterdir()) == []


def test_what_stands_in_the_way_is_told_before_planning(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def planned_already(*_: object, **__: object) -> NoReturn:
        raise AssertionError("this was to be told first")

    monkeypatch.setattr("scheduler.year.plan_year", planned_already)
    (tmp_path / "year" / "targets.png").mkdir(parents=True)
    assert planned(folder, tmp_path / "year", "--pictures") == 1
    assert "a folder stands in the way" in capsys.readouterr().err
    assert [path.name for path in (tmp_path / "year").iterdir()] == ["targets.png"]


def test_a_pixel_is_a_unit_unless_that_were_too_many(monkeypatch: pytest.MonkeyPatch) -> None:
    made = pictures_of(plan())
    assert png_size(made["targets.png"]) == size_of(made["targets.svg"].decode())
    monkeypatch.setattr(files, "MOST_PIXELS", 250_000.0)
    width, height = png_size(pictures_of(long_list(60))["targets.png"])
    assert 200_000 < width * height <= 252_000


def test_the_same_plan_gives_the_same_bytes() -> None:
    made = replace(plan(), scenario="twice")
    assert pictures_of(made) == pictures_of(made)
    assert standalone(targets_picture(made), "x") == standalone(targets_picture(made), "x")
