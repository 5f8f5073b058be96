"""No text of any table is a formula to a spreadsheet, whatever a user calls things; figures stay figures.

The signs are those of OWASP's page on CSV injection, see `text_cell`.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.cells import text_cell
from scheduler.domain import Change, ChangeReason, Extended, Observer, Plan, Trip
from scheduler.domain.checks import named
from scheduler.errors import InvalidValue
from scheduler.export import OUTPUTS
from tests.scheduler.planted_odds import with_odds
from tests.small_plan import FIRST, SECOND, SITE, night

FORMULA = re.compile(r"[\t\r\n]|\s*[=+\-@\uff1d\uff0b\uff0d\uff20]")
FIGURE = re.compile(r"-?\d+(\.\d+)?")
BY_USERS = {
    "schedule.csv": {
        "site",
        "target",
        "also_known_as",
        "what",
        "instrument",
        "eyepiece",
        "filter",
        "observers",
    },
    "nights.csv": {"site", "observers"},
    "unplaced.csv": {"target", "words"},
    "changes.csv": {"target", "words"},
    "odds.csv": {"target"},
}
"""Columns with texts of a user's own, or with such texts in them."""


def full() -> Plan:
    """Return a plan with something of a user's own in every column that may have it."""
    made = with_odds()
    visits = tuple(
        replace(one, view=replace(one.view, eyepiece="Low power", filter="Oxygen filter",
                                  observers=("Ada", "Ben")))
        for one in made.visits
    )  # fmt: skip
    cluster = Extended("open cluster")
    away = replace(night(SECOND), trip=Trip(replace(SITE, name="Moss"), 60, 0.5), observers=("Ada",))
    return replace(
        made, visits=visits, nights=(night(FIRST), away), observers=(Observer("Ada"), Observer("Ben")),
        targets=tuple(
            replace(one, also_known_as="a name", nature=cluster if one.ra_deg else None)
            for one in made.targets
        ),
        changes=(Change("M 42", None, FIRST, ChangeReason.NEWLY_PLACED, "one visit more than before"),),
        notes=("a note",),
    )  # fmt: skip


def planted(value: Any, start: str) -> Any:
    """Return a noun whose texts all begin so, as far as it takes such texts."""
    if isinstance(value, str) and not isinstance(value, Enum):
        return start + value
    if isinstance(value, tuple):
        return tuple(planted(one, start) for one in value)
    if not is_dataclass(value):
        return value
    for field in fields(value):
        try:
            if field.name == "target":
                named("target", f"{start}1")  # what a target cannot be called, nothing can call it
            value = replace(value, **{field.name: planted(getattr(value, field.name), start)})  # type: ignore[type-var]
        except InvalidValue:
            continue  # nobody can write that there
    return value


def cells(plan: Plan, file: str) -> list[tuple[str, str]]:
    """Return every cell of a table with its column, in order."""
    read = csv.DictReader(io.StringIO(OUTPUTS[file](plan), newline=""))
    return [(column, cell) for row in read for column, cell in row.items()]


TABLES = [file for file in OUTPUTS if file.endswith(".csv")]


@pytest.mark.parametrize("file", TABLES)
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "＝", " =", "  -"])
def test_hostile_names_are_written_as_texts_and_figures_as_figures(start: str, file: str) -> None:
    before, after = cells(full(), file), cells(planted(full(), start), file)
    assert len(before) == len(after)
    hit = set()
    for (column, cell), (_, told) in zip(before, after, strict=True):
        if told != cell:
            assert told.startswith(f"'{start}"), (column, told)
            hit.add(column)
        assert FIGURE.fullmatch(told) or not FORMULA.match(told), (column, told)
        assert not any(FORMULA.match(part) for part in told.split(";")[1:]), (column, told)
    assert hit >= BY_USERS.get(file, set())


@pytest.mark.parametrize("file", TABLES)
@pytest.mark.parametrize("start", ["\t", "\r", "\n", "\t=", "\u00a0+", "\r\n=", "x;=", "x; @", "x\t-"])
def test_neither_tabs_nor_line_ends_nor_semicolons_open_another_cell(start: str, file: str) -> None:
    for column, told in cells(planted(full(), start), file):
        assert FIGURE.fullmatch(told) or not FORMULA.match(told), (column, told)
        parts = re.split(r"[;\t\r\n]", told)
        assert not any(re.match(r"\s*[=+\-@]", part) for part in parts[1:]), (column, told)


@given(st.text())
def test_text_that_is_no_formula_stays_as_it_is_and_nothing_is_guarded_twice(text: str) -> None:
    told = text_cell(text)
    assert told.replace("'", "") == text.replace("'", "")
    assert text_cell(told) == told
    assert not FORMULA.match(told)


@pytest.mark.parametrize("text", ["M 31", "M 31 - M 33", "a=b", "5 + 5", "", "'=1", "clear; cold", "x;y"])
def test_other_texts_stay_as_they_are(text: str) -> None:
    assert text_cell(text) == text
