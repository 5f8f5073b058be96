"""Names in the log: any spelling the wish-list takes, and every fault with its place."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.domain import Outcome, Went
from scheduler.errors import Fault
from scheduler.scenario import faults_of, read_scenario
from scheduler.scenario.seen import names, names_cell

from .stand_ins import SETTINGS, TODAY, laid_out, look_up, places, scenario_of

WISHES = "target\nM 31\nM 42\nAlbireo\nJupiter\n"
EVENING = date(2027, 3, 1)


def outcomes(folder: Path, log: str, wishes: str = WISHES) -> tuple[Outcome, ...]:
    laid_out(folder, wishes=wishes)
    (folder / "outcomes.csv").write_text(log, encoding="utf-8")
    return read_scenario(folder, look_up, today=TODAY).outcomes.lines


def faults(folder: Path, log: str, wishes: str = WISHES) -> tuple[Fault, ...]:
    laid_out(folder, wishes=wishes)
    (folder / "outcomes.csv").write_text(log, encoding="utf-8")
    return faults_of(folder, look_up, today=TODAY)


@pytest.mark.parametrize("name", ["M 31", "m31", "M31", "andromeda  galaxy", "Andromeda Galaxy", "NGC 224"])
def test_a_target_seen_may_be_written_as_the_wish_list_takes_it(tmp_path: Path, name: str) -> None:
    (line,) = outcomes(tmp_path, f"evening,outcome,seen\n2027-03-01,clear,{name}\n")
    assert line == Outcome(EVENING, Went.CLEAR, seen=("M 31",))


@pytest.mark.parametrize("log", [
    "evening,outcome,seen,seen_poorly,not_seen\n2027-03-01,clear,M 42; m31 ;,albireo,Jupiter\n",
    'evening;outcome;seen;seen_poorly;not_seen\n2027-03-01;clear;"M 42;M 31";Albireo;jupiter\n',
    "evening\toutcome\tnot seen\tseen poorly\tseen\n2027-03-01\tclear\tJupiter\tAlbireo\tM 42;M 31\n",
])  # fmt: skip
def test_names_are_separated_by_semicolons_whatever_separates_the_columns(tmp_path: Path, log: str) -> None:
    (line,) = outcomes(tmp_path, log)
    assert (line.seen, line.seen_poorly, line.not_seen) == (("M 42", "M 31"), ("Albireo",), ("Jupiter",))


@given(st.lists(st.text("ab;. ", min_size=1), min_size=1, max_size=4))
def test_any_names_are_read_as_they_were_written(told: list[str]) -> None:
    plain = [" ".join(name.split()) for name in told if name.strip()]
    assert names(names_cell(plain)) == tuple(plain)


def test_a_doubled_semicolon_belongs_to_a_name(tmp_path: Path) -> None:
    wishes = "target,ra_deg,dec_deg,magnitude\nM 31;,10.7,41.3,4\nM 42,,,\n"
    log = "evening,outcome,seen\n2027-03-01,clear,M 31;;; M 42\n"
    (line,) = outcomes(tmp_path, log, wishes)
    assert line.seen == ("M 31;", "M 42")


def test_a_later_line_says_again_what_was_seen(tmp_path: Path) -> None:
    log = "evening,outcome,seen\n2027-03-01,clear,M 31;M 42\n2027-03-01,clear,M 42\n"
    laid_out(tmp_path, wishes=WISHES)
    (tmp_path / "outcomes.csv").write_text(log, encoding="utf-8")
    read = read_scenario(tmp_path, look_up, today=TODAY).outcomes
    assert len(read.lines) == 2
    assert [outcome.seen for outcome in read.standing] == [("M 42",)]


def test_all_faults_of_names_come_at_once(tmp_path: Path) -> None:
    found = faults(
        tmp_path,
        "evening,outcome,seen,seen_poorly,not_seen\n"
        "2027-03-01,clear,M 43;Albiero,,M 99\n"
        "2027-03-02,clouded out,M 31,,\n"
        "2027-03-03,could not go,,Jupiter,M 42\n"
        "2027-03-04,part-clear,M 31,m31,\n"
        "2027-03-05,clear,M 42;m42,,\n",
    )
    assert places(found) == [
        (2, "seen"), (2, "seen"), (2, "not_seen"), (3, "seen"), (4, "seen_poorly"), (5, "seen_poorly"),
        (6, "seen"),
    ]  # fmt: skip
    assert [fault.read for fault in found[:3]] == ["M 43", "Albiero", "M 99"]
    assert "M 42" in found[0].near
    assert found[1].near[0] == "Albireo"
    assert "targets of the wish-list" in found[0].expected
    assert "clouded out" in found[3].expected
    assert "each target once" in found[5].expected


def test_where_the_wish_list_is_at_fault_the_log_is_not_blamed(tmp_path: Path) -> None:
    log = "evening,outcome,seen\n2027-03-01,clear,M 42\n"
    assert {fault.file for fault in faults(tmp_path, log, "target\nM 31\nM 999\n")} == {"wish-list.csv"}


def test_evenings_announced_and_steadiness_are_settings(tmp_path: Path) -> None:
    more = '[availability]\nannounced = [2027-03-05, "2027-04-01..2027-04-02"]\n[routine]\nsteadiness = 0.2\n'
    scenario = scenario_of(tmp_path, SETTINGS + more)
    assert sorted(scenario.availability.announced) == [
        date(2027, 3, 5), date(2027, 4, 1), date(2027, 4, 2)
    ]  # fmt: skip
    assert scenario.routine.steadiness == 0.2
    laid_out(tmp_path, SETTINGS + "[routine]\nsteadiness = 2\n")
    assert [fault.column for fault in faults_of(tmp_path, look_up, today=TODAY)] == ["routine.steadiness"]
