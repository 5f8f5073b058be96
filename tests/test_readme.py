"""The README does what it says: its Python and its commands run, its files are read."""

from __future__ import annotations

import doctest
import re
import shlex
from pathlib import Path

import pytest

from scheduler.cli import run
from scheduler.pictures import png_of
from scheduler.reading import read_scenario_texts
from tests.scheduler.pictures.shown import SHOWN, form_of

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def test_it_opens_with_the_job() -> None:
    title, job = README.split("\n\n")[:2]
    assert title == "# Duskwright"
    assert "assigns a wish-list to\nnights across a year" in job


def test_its_python_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    found = doctest.DocTestParser().get_doctest(README, {}, "README.md", "README.md", 0)
    assert len(found.examples) >= 6
    outcome = doctest.DocTestRunner(verbose=False).run(found)
    assert outcome.failed == 0


@pytest.mark.parametrize("block", blocks("console"), ids=lambda block: block.splitlines()[0])
def test_its_commands_print_what_it_shows(
    block: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "200")
    command, _, shown = block.partition("\n")
    words = shlex.split(command.removeprefix("$ "))
    assert words[0] == "duskwright"
    quick = ["--out", str(tmp_path), "--seconds", "1", "--years", "6", "--pictures"]
    extra = quick if words[1] == "plan" else []
    assert run([*words[1:], *extra]) == 0
    printed = re.sub(r"[ \t]+", " ", capsys.readouterr().out)
    position = 0
    for piece in re.sub(r"[ \t]+", " ", shown).split("...\n"):
        assert piece.strip() in printed[position:], piece
        position = printed.index(piece.strip(), position)
    for name in ("year.svg", "targets.svg") if extra else ():
        assert form_of(SHOWN / name) == form_of(tmp_path / name), "renew the pictures, as DEVELOPERS.md tells"


def test_its_pictures_are_there_small_and_drawn_of_each_other() -> None:
    shown = re.findall(r"!\[[^]]+\]\((\S+)\)", README)
    assert shown == [f"scenarios/larkmoor/pictures/{name}.png" for name in ("year", "targets")]
    for name in shown:
        drawn = (ROOT / name).with_suffix(".svg").read_text(encoding="utf-8")
        assert len(drawn) < 150_000
        assert len((ROOT / name).read_bytes()) < 400_000
        assert (ROOT / name).read_bytes() == png_of(drawn)


def test_its_scenario_is_sound() -> None:
    (settings,), (wishes,) = blocks("toml"), blocks("csv")
    scenario = read_scenario_texts("mine", settings.encode(), wishes.encode())
    assert [target.name for target in scenario.targets][:2] == ["M 42", "Andromeda Galaxy"]


def test_its_shell_commands_name_files_that_exist() -> None:
    first, tests, anew, *_ = blocks("sh")
    assert first.strip() == "sh .ci/setup && .venv/bin/duskwright plan scenarios/larkmoor --pictures"
    assert tests.strip() == "sh .ci/setup test && .venv/bin/python -m pytest"
    assert tests.strip() in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert anew.strip() == ".venv/bin/duskwright replan out/larkmoor --scenario scenarios/larkmoor"
    assert (ROOT / ".ci" / "setup").exists()
    assert (ROOT / "scenarios" / "larkmoor" / "scenario.toml").exists()
