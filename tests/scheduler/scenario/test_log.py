"""outcomes.csv and forecasts, read with all faults at once."""

from __future__ import annotations

import csv
import io
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.domain import Forecast, Outcome, OutcomeLog, Scenario, Went
from scheduler.errors import Fault
from scheduler.scenario import faults_of, read_scenario
from scheduler.scenario.log import FORECAST_COLUMNS, OUTCOME_COLUMNS

from .stand_ins import SETTINGS, TODAY, faults_in, laid_out, look_up, places, scenario_of


def with_files(folder: Path, settings: str = SETTINGS, **files: str | bytes) -> Path:
    laid_out(folder, settings)
    for name, content in files.items():
        raw = content.encode() if isinstance(content, str) else content
        (folder / f"{name}.csv").write_bytes(raw)
    return folder


def read(folder: Path, settings: str = SETTINGS, **files: str | bytes) -> Scenario:
    return read_scenario(with_files(folder, settings, **files), look_up, today=TODAY)


def faults(folder: Path, settings: str = SETTINGS, **files: str | bytes) -> tuple[Fault, ...]:
    return faults_of(with_files(folder, settings, **files), look_up, today=TODAY)


def test_without_files_there_is_no_log_and_no_forecast(tmp_path: Path) -> None:
    scenario = scenario_of(tmp_path)
    assert scenario.outcomes == OutcomeLog()
    assert scenario.forecast == ()


def test_a_log_is_read_in_the_order_it_was_written(tmp_path: Path) -> None:
    log = """evening,outcome,usable_min,notes
2026-11-20,clear,,"first light, at last"
2026-11-18,Part clear,70,
2026-11-20,clouded-out,,came in at nine
2026-11-21,could not go,,cold
"""
    assert read(tmp_path, outcomes=log).outcomes.lines == (
        Outcome(date(2026, 11, 20), Went.CLEAR, None, "first light, at last"),
        Outcome(date(2026, 11, 18), Went.PART_CLEAR, 70),
        Outcome(date(2026, 11, 20), Went.CLOUDED_OUT, None, "came in at nine"),
        Outcome(date(2026, 11, 21), Went.COULD_NOT_GO, None, "cold"),
    )


def test_a_measured_sky_is_read_with_a_comma_too_and_told_where_it_cannot_be(tmp_path: Path) -> None:
    log = "evening;outcome;sky_brightness\n2026-11-20;clear;21,37\n2026-11-21;clear;\n"
    assert [one.sky_brightness for one in read(tmp_path, outcomes=log).outcomes.lines] == [21.37, None]
    wrong = faults(
        tmp_path, outcomes="evening,outcome,sky_brightness\n2026-11-20,clear,9\n2026-11-21,clear,dark\n"
    )
    assert [(one.row, one.column) for one in wrong] == [(2, "sky_brightness"), (3, "sky_brightness")]


@pytest.mark.parametrize("text", ["", "\n\n", "evening,outcome\n"], ids=["empty", "blank", "header"])
def test_a_log_not_begun_is_no_fault(tmp_path: Path, text: str) -> None:
    assert not read(tmp_path, outcomes=text, forecast="").outcomes


def test_columns_may_be_fewer_in_any_order_and_apart_by_other_signs(tmp_path: Path) -> None:
    found = read(tmp_path, outcomes="Outcome;Evening\nclear;2026-11-20\n",
                 forecast="made on\tevening\tclear odds\n2027-03-01\t2027-03-02\t0,7\n")  # fmt: skip
    assert found.outcomes.lines == (Outcome(date(2026, 11, 20), Went.CLEAR),)
    assert found.forecast == (Forecast(date(2027, 3, 2), 0.7, date(2027, 3, 1)),)


def test_all_faults_of_all_files_come_at_once_each_with_its_place(tmp_path: Path) -> None:
    with_files(
        tmp_path,
        outcomes="evening,outcome,usable_min\n2026-02-30,claer,\n,clear,\n2026-11-20,clouded out,40\n"
        "2026-11-21,clear\n2026-11-22,clear,soon\n",
        forecast="evening,clear_odds,made_on\n2027-03-02,70,2027-03-05\n",
    )
    (tmp_path / "wish-list.csv").write_text("target\nM 31\nM 999\n", encoding="utf-8")
    found = faults_of(tmp_path, look_up, today=TODAY)
    assert [(fault.file, fault.row, fault.column) for fault in found] == [
        ("wish-list.csv", 3, "target"),
        ("outcomes.csv", 2, "evening"), ("outcomes.csv", 2, "outcome"), ("outcomes.csv", 3, "evening"),
        ("outcomes.csv", 4, "usable_min"), ("outcomes.csv", 5, None), ("outcomes.csv", 6, "usable_min"),
        ("forecast.csv", 2, "clear_odds"), ("forecast.csv", 2, "made_on"),
    ]  # fmt: skip
    by_place = {(fault.file, fault.row, fault.column): fault for fault in found}
    misspelt = by_place["outcomes.csv", 2, "outcome"]
    assert misspelt.near == ("clear",)
    assert "clear, part-clear, clouded out, could not go" in misspelt.expected
    assert "part-clear" in by_place["outcomes.csv", 4, "usable_min"].expected
    assert by_place["outcomes.csv", 3, "evening"].read == "nothing"
    assert by_place["forecast.csv", 2, "made_on"].expected == "a day not after 2027-03-02"


@pytest.mark.parametrize(("header", "column", "expected"), [
    ("evening,outcom", "outcom", "one of the columns"),
    ("evening,outcome,evening", "evening", "each column once"),
    ("evening,notes", None, 'one of them "outcome"'),
    ("night,notes", None, '2 of them "evening" and "outcome"'),
])  # fmt: skip
def test_a_header_that_will_not_do(tmp_path: Path, header: str, column: str | None, expected: str) -> None:
    found = faults(tmp_path, outcomes=header + "\n")
    assert any(fault.column == column and expected in fault.expected for fault in found)
    assert {(fault.file, fault.row) for fault in found} == {("outcomes.csv", 1)}


def test_bytes_that_are_no_text_and_a_folder_in_the_files_place_are_faults(tmp_path: Path) -> None:
    (tmp_path / "forecast.csv").mkdir()
    found = faults_of(laid_out(tmp_path), look_up, today=TODAY)
    assert [fault.file for fault in found] == ["forecast.csv"]
    (tmp_path / "forecast.csv").rmdir()
    assert [fault.file for fault in faults(tmp_path, outcomes=b"\x00\x01")] == ["outcomes.csv"]


def test_forecasts_may_stand_in_the_settings_and_those_of_the_file_follow(tmp_path: Path) -> None:
    told = """
[[forecast]]
evening = 2027-03-05
clear_odds = 0.7
made_on = 2027-03-03
[[forecast]]
evening = "2027-03-06"
clear_odds = 1
made_on = 2027-03-03
"""
    found = read(
        tmp_path, SETTINGS + told, forecast="evening,clear_odds,made_on\n2027-03-06,0.2,2027-03-04\n"
    )
    assert found.forecast == (
        Forecast(date(2027, 3, 5), 0.7, date(2027, 3, 3)),
        Forecast(date(2027, 3, 6), 1.0, date(2027, 3, 3)),
        Forecast(date(2027, 3, 6), 0.2, date(2027, 3, 4)),
    )


def test_faults_of_forecasts_in_the_settings(tmp_path: Path) -> None:
    told = """
[[forecast]]
clear_odds = 7
odds = 1
[[forecast]]
evening = 2027-03-06
clear_odds = "likely"
made_on = 2027-03-03
[[forecast]]
evening = 2027-03-06
clear_odds = 70
made_on = 2027-03-07
"""
    found = faults_in(tmp_path, SETTINGS + told)
    assert [column for _, column in places(found)] == [
        "forecast.1.odds", "forecast.1.evening", "forecast.1.made_on", "forecast.2.clear_odds",
        "forecast.3.clear_odds", "forecast.3.made_on",
    ]  # fmt: skip


WORDS = ("", "clear", "clouded out", "part-clear", "could not go", "2027-03-02", "2027-02-30", "0.5", "70",
         "-1", "nan", "1e400", "soon")  # fmt: skip


@given(st.data())
@settings(max_examples=200)
def test_any_cells_in_any_columns_give_faults_or_a_scenario(data: st.DataObject) -> None:
    files = {}
    for name, known in (("outcomes", OUTCOME_COLUMNS), ("forecast", FORECAST_COLUMNS)):
        columns = data.draw(st.lists(st.sampled_from([*known, "else"]), max_size=5))
        cells = st.lists(st.sampled_from(WORDS), min_size=len(columns), max_size=len(columns))
        rows = [columns, *data.draw(st.lists(cells, max_size=4))]
        files[name] = "\n".join(",".join(row) for row in rows)
    with tempfile.TemporaryDirectory() as folder:
        found = faults(Path(folder), **files)
        if not found:
            assert len(read(Path(folder), **files).outcomes.lines) <= 4
    assert len(set(found)) == len(found)
    assert {fault.file for fault in found} <= {"outcomes.csv", "forecast.csv"}


@st.composite
def lines(draw: st.DrawFn) -> Outcome:
    went = draw(st.sampled_from(Went))
    minutes = st.integers(1, 900) if went in (Went.CLEAR, Went.PART_CLEAR) else st.just(0)
    words = draw(st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs")), max_size=20))
    return Outcome(draw(st.dates(date(2000, 1, 1), date(2100, 12, 31))), went, draw(st.none() | minutes),
                   " ".join(words.split()))  # fmt: skip


@given(st.lists(lines(), max_size=12), st.sampled_from([",", ";", "\t"]))
def test_a_written_log_reads_as_itself(log: list[Outcome], mark: str) -> None:
    table = io.StringIO(newline="")
    writer = csv.writer(table, delimiter=mark)
    writer.writerow(["evening", "outcome", "usable_min", "notes"])
    for one in log:
        minutes = "" if one.usable_min is None else one.usable_min
        writer.writerow([one.evening, one.went.value, minutes, one.notes])
    with tempfile.TemporaryDirectory() as folder:
        assert read(Path(folder), outcomes=table.getvalue()).outcomes.lines == tuple(log)
