"""What leaves the scheduler reads back equal, opens in a spreadsheet, and is never half written."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler import export
from scheduler.domain import (
    Availability,
    EveningRule,
    Extended,
    Horizon,
    Kind,
    LightCurve,
    MoonFeature,
    Nature,
    Occasion,
    Orbit,
    Pair,
    Phase,
    Plan,
    Shower,
    Target,
)
from scheduler.domain.target import NATURES
from scheduler.errors import UnreadablePlan
from scheduler.export import (
    NIGHT_COLUMNS,
    ODDS_COLUMNS,
    SCHEDULE_COLUMNS,
    UNPLACED_COLUMNS,
    nights_csv,
    odds_csv,
    plan_from_json,
    plan_to_json,
    schedule_csv,
    unplaced_csv,
    write_plan,
)
from tests.scheduler.planted_odds import with_odds
from tests.small_plan import FIRST, ORION, SITE, plan, visit


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def named(name: str) -> Plan:
    """Return a plan of one target with this name."""
    target = replace(ORION, name=name)
    return replace(
        plan(), targets=(target,), visits=(visit(name, FIRST, 1, 20, 0, 20),), standbys=(), unplaced=()
    )


def test_a_plan_reads_back_equal() -> None:
    made = plan()
    rich = replace(
        made,
        site=replace(SITE, horizon=Horizon((0.0, 90.0), (5.0, 12.5))),
        availability=Availability(
            (EveningRule((4,)),), frozenset({date(2027, 1, 9)}), frozenset({date(2027, 2, 1)})
        ),
    )
    for one in (made, rich, with_odds()):
        assert plan_from_json(plan_to_json(one)) == one


MOMENT = datetime(2027, 1, 8, 20, tzinfo=UTC)
MINIMAL: dict[Kind, Nature] = {
    Kind.DEEP_SKY: Extended("galaxy"), Kind.DOUBLE_STAR: Pair(3.0, 5.0, 2.0),
    Kind.VARIABLE_STAR: LightCurve(2.0, 3.0), Kind.MOON_FEATURE: MoonFeature(0.0, 0.0, 10.0),
    Kind.MINOR_BODY: Orbit(2461000.5, 1.0, 0.0, 0.0, 0.0, 0.0, 10.0),
    Kind.METEOR_SHOWER: Shower(0.0, 1.0), Kind.EVENT: Occasion(MOMENT, MOMENT + timedelta(hours=1)),
}  # fmt: skip
FULL: dict[Kind, Nature] = {
    Kind.DEEP_SKY: Extended("galaxy", 1.5, "Sb", 9), Kind.DOUBLE_STAR: Pair(3.0, 5.0, 2.0, 90.0),
    Kind.VARIABLE_STAR: LightCurve(2.0, 3.0, 2452500.5, 2.867, Phase.MAXIMUM, 3.0, 2.4),
    Kind.MINOR_BODY: Orbit(2461000.5, 1.0, 0.9, 9.0, 8.0, 7.0, 5.0, 4.0, True, 3.0),
    Kind.METEOR_SHOWER: Shower(140.0, 100.0, 2.2, 0.3, 0.1),
}  # fmt: skip
PLACELESS = {Kind.MOON_FEATURE: "moon", Kind.MINOR_BODY: None}


@pytest.mark.parametrize(("kind", "nature"), [*MINIMAL.items(), *FULL.items()], ids=str)
def test_every_nature_reads_back_as_itself(kind: Kind, nature: Nature) -> None:
    ra_deg, dec_deg = (None, None) if kind in PLACELESS else (10.0, 20.0)
    own = Target("Own", kind, ra_deg, dec_deg, PLACELESS.get(kind), nature=nature)
    made = replace(plan(), targets=(*plan().targets, own))
    found = plan_from_json(plan_to_json(made))
    assert found == made
    assert type(found.targets[-1].nature) is type(nature)


def test_a_plan_kept_from_before_mean_maxima_were_told_reads_as_it_was() -> None:
    own = Target("Own", Kind.VARIABLE_STAR, 10.0, 20.0, nature=LightCurve(2.0, 3.0))
    made = replace(plan(), targets=(*plan().targets, own))
    whole = json.loads(plan_to_json(made))
    for target in whole["plan"]["targets"]:
        (target["nature"] or {}).pop("mean_maximum_mag", None)
    assert "mean_maximum_mag" not in json.dumps(whole)
    assert plan_from_json(json.dumps(whole)) == made


def test_every_kind_with_a_nature_is_among_these() -> None:
    assert set(MINIMAL) == {kind for kind, allowed in NATURES.items() if allowed}


def test_json_bytes_do_not_depend_on_the_order_of_sets() -> None:
    dates = [date(2027, 1, day) for day in range(1, 29)]
    forward = replace(plan(), availability=Availability(away=frozenset(dates)))
    backward = replace(plan(), availability=Availability(away=frozenset(reversed(dates))))
    assert plan_to_json(forward) == plan_to_json(backward)
    away = json.loads(plan_to_json(forward))["plan"]["availability"]["away"]
    assert away == sorted(away)


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (lambda text: text[:-20], "not a readable plan"),
        (lambda text: text.replace("duskwright-plan", "another-plan"), "another-plan"),
        (
            lambda text: text.replace('"format_version": 3', '"format_version": 1'),
            "format version 1, and only 3 can be read here; plan the scenario anew",
        ),
        (lambda text: text.replace('"seed": 0,', ""), "not a readable plan: seed: Field required"),
        (lambda text: text.replace('"seed": 0,', "").replace('"version": 1,', ""), "and 1 more"),
        (lambda text: text.replace('"latitude_deg": 55.2', '"latitude_deg": 91'), "latitude_deg"),
        (lambda text: "[]", "not a readable plan"),
        (lambda text: "[" * 100_000, "not a readable plan"),
        (lambda text: "null", "not a readable plan"),
    ],
)
def test_a_damaged_plan_is_refused_with_the_reason(damage: object, said: str) -> None:
    with pytest.raises(UnreadablePlan, match=said):
        plan_from_json(damage(plan_to_json(plan())))  # type: ignore[operator]


def test_the_schedule_has_a_row_a_visit_and_a_row_a_standby_in_order() -> None:
    rows = table(schedule_csv(plan()))
    assert tuple(rows[0]) == SCHEDULE_COLUMNS
    assert [(row["evening"], row["role"], row["target"]) for row in rows] == [
        ("2027-01-08", "visit", "Jupiter"), ("2027-01-08", "visit", "M 42"),
        ("2027-01-15", "visit", "M 1"), ("2027-01-15", "standby", "M 42"),
    ]  # fmt: skip
    assert rows[0]["start_local"] == "2027-01-08 18:20"
    assert rows[0]["start_utc"] == "2027-01-08T18:20:00Z"
    assert rows[0]["weekday"] == "Fri"
    assert rows[0]["direction"] == "south"
    assert rows[0]["darkness"] == "night"


def test_local_time_is_that_of_the_site() -> None:
    rows = table(schedule_csv(replace(plan(), site=replace(SITE, zone="Australia/Lord_Howe"))))
    assert rows[0]["start_local"] == "2027-01-09 05:20"


def test_every_line_ends_as_rfc_4180_says_and_pandas_reads_the_tables() -> None:
    for text, columns in (
        (schedule_csv(plan()), SCHEDULE_COLUMNS),
        (nights_csv(plan()), NIGHT_COLUMNS),
        (unplaced_csv(plan()), UNPLACED_COLUMNS),
    ):
        assert text.count("\n") == text.count("\r\n") > 1
        assert tuple(pd.read_csv(io.StringIO(text)).columns) == columns


def test_nights_add_up_the_planned_minutes() -> None:
    rows = table(nights_csv(plan()))
    assert [(row["visits"], row["planned_min"], row["dark_min"]) for row in rows] == [
        ("2", "35", "720"), ("1", "20", "720"),
    ]  # fmt: skip


def test_unplaced_targets_carry_their_reason() -> None:
    assert [(row["target"], row["reason"]) for row in table(unplaced_csv(plan()))] == [
        ("Jupiter", "every suitable night is full"), ("NGC 5139", "never high enough from here"),
    ]  # fmt: skip


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_text_that_looks_like_a_formula_is_defused_and_numbers_are_not(start: str) -> None:
    (row,) = table(schedule_csv(named(f"{start}1+cmd|' /C calc'!A0")))
    assert row["target"].startswith(f"'{start}")
    assert float(row["moon_altitude_deg"]) == -30.0


def test_a_figure_a_hair_below_nothing_is_no_minus_nothing() -> None:
    low = replace(plan().visits[0].sight, moon_altitude_deg=-0.04)
    made = replace(plan(), visits=(replace(plan().visits[0], sight=low),))
    assert table(schedule_csv(made))[0]["moon_altitude_deg"] == "0.0"


@given(name=st.text(min_size=1, max_size=40).filter(lambda text: text.isprintable() and bool(text.strip())))
def test_any_name_survives_the_csv_and_the_json(name: str) -> None:
    made = named(name)
    (row,) = table(schedule_csv(made))
    assert row["target"].removeprefix("'") == name.removeprefix("'") or row["target"] == name
    assert plan_from_json(plan_to_json(made)) == made


def test_the_odds_are_a_row_a_target() -> None:
    crab = table(odds_csv(with_odds()))[1]
    assert crab == {
        "target": "M 1", "kind": "deep-sky object", "priority": "3", "visits_wanted": "1",
        "planned_evenings": "2027-01-15", "completion_odds": "0.500", "standard_error": "0.075",
        "at_risk": "yes", "last_good_evenings": "2027-01-15",
    }  # fmt: skip
    assert [row["at_risk"] for row in table(odds_csv(with_odds()))] == ["no", "yes", "yes", "no"]
    assert odds_csv(plan()).splitlines() == [",".join(ODDS_COLUMNS)]


def test_all_files_are_written_and_nothing_else(tmp_path: Path) -> None:
    paths = write_plan(plan(), tmp_path / "new" / "folder")
    assert sorted(path.name for path in paths) == [
        "changes.csv",
        "moon.csv",
        "nights.csv",
        "odds.csv",
        "plan.json",
        "schedule.csv",
        "unplaced.csv",
    ]
    assert sorted((tmp_path / "new" / "folder").iterdir()) == sorted(paths)
    assert (tmp_path / "new" / "folder" / "schedule.csv").read_bytes() == schedule_csv(plan()).encode()


def test_a_failure_while_composing_leaves_the_old_files_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_plan(plan(), tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def fail(_: Plan) -> str:
        raise OSError("disk full")

    monkeypatch.setitem(export.OUTPUTS, "plan.json", fail)
    with pytest.raises(OSError, match="disk full"):
        write_plan(replace(plan(), version=2), tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_failure_while_writing_leaves_the_old_files_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_plan(plan(), tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def fail(_: int) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(OSError, match="disk full"):
        write_plan(replace(plan(), version=2), tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
