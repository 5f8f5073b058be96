from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.beginning.lists import READY
from api.beginning.pasted import joined, wish_list_of
from api.beginning.reading import catalogue_knows
from scheduler import joined_wish_lists

KNOWN = {"M 31", "M 13", "Jupiter", "Saturn", "Albireo", "61 Cyg", "Abell 4", "NGC 7000", "STF 747"}


def rows_of(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(wish_list_of(text, KNOWN.__contains__).csv, newline="")))


def cells_of(line: str) -> dict[str, str]:
    header, *rows = rows_of(line)
    (cells,) = rows
    return {name: cell for name, cell in zip(header, cells, strict=True) if cell}


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        ("M 31", {"target": "M 31"}),
        ("  M 31  ", {"target": "M 31"}),
        ("- M 31", {"target": "M 31"}),
        ("• M 31", {"target": "M 31"}),
        ("12. M 31", {"target": "M 31"}),
        ("[ ] M 31", {"target": "M 31"}),
        ("Jupiter 3", {"target": "Jupiter", "priority": "3"}),
        ("Jupiter x3", {"target": "Jupiter", "visits": "3"}),
        ("Jupiter x 12", {"target": "Jupiter", "visits": "12"}),
        ("Jupiter 3 times", {"target": "Jupiter", "visits": "3"}),
        ("Jupiter 5 x3", {"target": "Jupiter", "priority": "5", "visits": "3"}),
        ("Jupiter x3 5", {"target": "Jupiter", "priority": "5", "visits": "3"}),
        ("61 Cyg", {"target": "61 Cyg"}),
        ("61 Cyg 4", {"target": "61 Cyg", "priority": "4"}),
        ("Abell 4", {"target": "Abell 4"}),
        ("Abell 4 4", {"target": "Abell 4", "priority": "4"}),
        ("M 31 (Andromeda Galaxy)", {"target": "M 31", "notes": "Andromeda Galaxy"}),
        ("M 31 (Andromeda Galaxy) 5", {"target": "M 31", "priority": "5", "notes": "Andromeda Galaxy"}),
        ("Jupiter,3", {"target": "Jupiter", "priority": "3"}),
        ("M 31\tAndromeda Galaxy\t3.4", {"target": "M 31", "notes": "Andromeda Galaxy, 3.4"}),
        ("M 31\t5\tAndromeda Galaxy", {"target": "M 31", "priority": "5", "notes": "Andromeda Galaxy"}),
        ("Nothing 3", {"target": "Nothing 3"}),
        ("Saturn 9", {"target": "Saturn", "priority": "9"}),
        ("=HYPERLINK(1)", {"target": "=HYPERLINK(1)"}),
    ],
)  # fmt: skip
def test_a_line_is_a_name_and_what_stands_behind_it(line: str, cells: dict[str, str]) -> None:
    assert cells_of(line) == cells


def test_lines_keep_their_numbers() -> None:
    pasted = wish_list_of("# mine\nM 31\n\n\nM 13\n", KNOWN.__contains__)
    assert dict(pasted.lines) == {2: 2, 3: 5}
    assert dict(pasted.rows) == {2: "M 31", 3: "M 13"}


def test_a_list_in_a_single_line_is_one_of_several_targets() -> None:
    assert rows_of("M 31, M 13, Jupiter 5") == [["target", "priority"], ["M 31", ""], ["M 13", ""],
                                                ["Jupiter", "5"]]  # fmt: skip
    assert rows_of("M 31; M 13") == [["target"], ["M 31"], ["M 13"]]


def test_nothing_typed_is_no_list() -> None:
    assert wish_list_of(" \n# nothing\n", KNOWN.__contains__).csv == ""


def test_a_wish_list_csv_stays_as_it_is() -> None:
    text = 'target,priority,notes\r\nM 31,5,"a, b"\r\n\r\nM 13,4,\r\n'
    pasted = wish_list_of(text, KNOWN.__contains__)
    assert pasted.csv == text
    assert pasted.is_table
    assert list(pasted.rows) == [2, 4]
    assert pasted.columns_unused == ()


def test_columns_of_a_spreadsheet_that_mean_nothing_here_are_told_and_left_out() -> None:
    pasted = wish_list_of("Object\tType\tPriority\nM 31\tgalaxy\t5\nM 13\t\t4\n", KNOWN.__contains__)
    assert pasted.csv == "target\tpriority\r\nM 31\t5\r\nM 13\t4\r\n"
    assert pasted.columns_unused == ("type",)
    assert dict(pasted.unused) == {2: "galaxy"}


def test_a_misspelt_column_is_left_for_the_reader_to_tell_of() -> None:
    pasted = wish_list_of("target,prioritty\nM 31,5\n", KNOWN.__contains__)
    assert pasted.csv.startswith("target,prioritty")
    assert pasted.columns_unused == ()


def test_an_open_quote_is_left_for_the_reader_to_tell_of() -> None:
    assert wish_list_of('target\n"M 31\n', KNOWN.__contains__).csv == 'target\n"M 31\n'


@given(st.text(max_size=200))
def test_whatever_is_pasted_makes_a_table_with_a_row_for_every_line_of_it(text: str) -> None:
    pasted = wish_list_of(text, KNOWN.__contains__)
    assert "\0" in text or len(list(csv.reader(io.StringIO(pasted.csv, newline="")))) >= len(pasted.rows)


def test_lists_are_joined_and_nothing_is_said_twice() -> None:
    messier = READY["messier"].text
    once = joined("m31\nAlbireo\n", messier, catalogue_knows, joined_wish_lists)
    assert once.startswith("m31\nAlbireo\nM 1\n")
    assert len(once.splitlines()) == 111
    assert joined(once, messier, catalogue_knows, joined_wish_lists) == once
    assert joined(" \n", messier, catalogue_knows, joined_wish_lists) == messier


def test_lines_are_joined_to_a_table_as_rows_of_it() -> None:
    both = joined("target,priority\nM 31,5\n", "Jupiter x3\n", catalogue_knows, joined_wish_lists)
    assert both == "target,priority,visits\nM 31,5,\nJupiter,,3\n"


def test_ready_lists_name_what_the_catalogue_knows_each_once() -> None:
    assert len(READY["messier"].lines) == 110
    for ready in READY.values():
        pasted = wish_list_of(ready.text, catalogue_knows)
        names = [row[0] for row in csv.reader(io.StringIO(pasted.csv, newline=""))][1:]
        assert len(set(names)) == len(names) == len(ready.lines)
        assert all(map(catalogue_knows, names))
        count = ready.about.split()[0]
        assert not count.isdigit() or int(count) == len(ready.lines)
