"""`duskwright weather`, as a person meets it."""

from __future__ import annotations

from pathlib import Path

import pytest

from scheduler.cli import run
from tests.scheduler import moor

SETTINGS = moor.SETTINGS.replace("nights = 10", "nights = 40") + "[clear_odds]\nmonthly = 0.4\n"
LOG = """\
evening,outcome,usable_min
2026-11-01,clear,
2026-11-02,clear,
2026-11-03,part-clear,90
2026-11-04,clouded out,
2026-11-05,could not go,
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COLUMNS", "100")
    return moor.laid_out(tmp_path, "target\nM 42\n", SETTINGS)


def shown(folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    assert run(["weather", str(folder)]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_it_shows_learned_odds_beside_the_given_and_how_good_they_were(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "outcomes.csv").write_text(LOG, encoding="utf-8")
    text = shown(folder, capsys)
    for words in (
        "Clear odds at moor: 4 nights logged, 1 more on which nobody could go",
        "November 40 % 42 % 4 2.5", "October 40 % 41 % 0 0", "July 40 % 40 % 0 0",
        "Persistence: given 0.30, learned 0.", "odds Brier log skill", "as given 0.223 0.764 +0.0 %",
        "with the last night 0.1", "40 to 60 %", "Log clouded nights too",
    ):  # fmt: skip
        assert words in text, text
    assert "with the forecasts" not in text


def test_forecasts_of_logged_nights_are_scored(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "outcomes.csv").write_text(LOG, encoding="utf-8")
    table = "evening,clear_odds,made_on\n2026-11-04,0.05,2026-11-03\n"
    (folder / "forecast.csv").write_text(table, encoding="utf-8")
    assert "Odds with the forecasts, and what came" in shown(folder, capsys)


def test_without_a_log_the_given_odds_stand(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = shown(folder, capsys)
    assert "the given odds stand" in text
    assert "January 40 % 40 % 0 0" in text
    assert "Brier" not in text


def test_small_odds_are_not_told_as_none(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "scenario.toml").write_text(
        SETTINGS.replace("monthly = 0.4", "monthly = 0.004"), encoding="utf-8"
    )
    (folder / "outcomes.csv").write_text(LOG, encoding="utf-8")
    text = shown(folder, capsys)
    assert "July under 1 % under 1 % 0 0" in text
    assert "0 to 20 % 1 under 1 % 100 %" in text


def test_a_faulty_log_is_told_row_by_row(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "outcomes.csv").write_text(LOG.replace("clouded out", "cloudy"), encoding="utf-8")
    assert run(["check", str(folder)]) == 1
    assert "outcomes.csv, row 5, outcome: read 'cloudy'" in capsys.readouterr().out
