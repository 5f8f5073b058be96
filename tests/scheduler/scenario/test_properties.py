"""Whatever the files hold, reading ends in a scenario or in its faults; and what is written is read again."""

from __future__ import annotations

import csv
import io
import tempfile
import textwrap
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from hypothesis import assume, given, settings
from hypothesis import strategies as st

import scheduler.scenario
from scheduler.check import judge
from scheduler.domain import (
    Extended,
    Kind,
    LightCurve,
    MoonFeature,
    Nature,
    Occasion,
    Pair,
    Phase,
    Scenario,
    Season,
    Shower,
    Target,
)
from scheduler.errors import ScenarioFaults
from scheduler.export import OUTPUTS, plan_from_json, plan_to_json
from scheduler.scenario import read_scenario
from scheduler.scenario.columns import COLUMNS, OF_KIND
from scheduler.scenario.natures import FIELDS
from scheduler.scenario.text import decoded
from scheduler.year import plan_year

from .stand_ins import SETTINGS, TODAY, laid_out, look_up

WISHES = (
    "target,minutes,priority,earliest,latest,ra_deg,dec_deg\nM 31,20,5,,,,\nHere,10,1,2027-03-01,,12.5,-3\n"
)


def reading(toml: bytes, wishes: bytes) -> Scenario | ScenarioFaults:
    with tempfile.TemporaryDirectory() as folder:
        try:
            return read_scenario(laid_out(Path(folder), toml, wishes), look_up, today=TODAY)
        except ScenarioFaults as faults:
            return faults


@st.composite
def damaged(draw: st.DrawFn, text: str) -> bytes:
    """Return a sound file with a stretch of it replaced."""
    raw = text.encode()
    start = draw(st.integers(0, len(raw)))
    end = draw(st.integers(start, min(len(raw), start + 12)))
    scrap = draw(
        st.binary(max_size=8) | st.sampled_from([b"nan", b"'", b'"', b"[", b",,", b"\n", b"9" * 40, b"="])
    )
    return raw[:start] + scrap + raw[end:]


def faults_make_sense(found: Scenario | ScenarioFaults) -> None:
    if isinstance(found, ScenarioFaults):
        assert found.faults
        assert all(fault.expected and str(fault) for fault in found.faults)
        assert len(set(found.faults)) == len(found.faults)


@given(st.binary(max_size=300), st.binary(max_size=300))
@settings(max_examples=150)
def test_any_bytes_give_faults(toml: bytes, wishes: bytes) -> None:
    faults_make_sense(reading(toml, wishes))


WHOLE = textwrap.dedent((scheduler.scenario.__doc__ or "").split("::\n", 1)[1].split("**wish-list.csv**")[0])
"""The settings as the package documents them: every table and key."""


@given(damaged(SETTINGS) | damaged(WHOLE), damaged(WISHES))
@settings(max_examples=300)
def test_damaged_files_give_faults_or_a_scenario(toml: bytes, wishes: bytes) -> None:
    faults_make_sense(reading(toml, wishes))


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=200))
@settings(max_examples=200)
def test_any_text_below_a_header_gives_faults_or_a_scenario(text: str) -> None:
    faults_make_sense(reading(SETTINGS.encode(), ("target,ra_deg,dec_deg,minutes,notes\n" + text).encode()))


dates = st.dates(date(2000, 1, 1), date(2049, 12, 31))
names = st.text(
    st.characters(codec="cp1252", categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=30
).map(lambda text: "Own " + " ".join(text.split()))


WORDS = ("Jupiter", "M 31", "Own", "event", "moon feature", "variable star", "naked eye", "nan", "-1", "0",
         "1e400", "2452500.2", "0.02", "19.9", "2027-07-12 21:30", "2027-07-12", "minimum", "{}")  # fmt: skip


@given(
    st.lists(st.sampled_from(sorted(set(COLUMNS) - {"target"})), unique=True, max_size=12).flatmap(
        lambda columns: st.tuples(
            st.just(columns),
            st.lists(st.lists(st.sampled_from(["", *WORDS]), min_size=len(columns) + 1,
                              max_size=len(columns) + 1), min_size=1, max_size=4),
        )
    )
)  # fmt: skip
@settings(max_examples=300)
def test_any_cells_in_any_columns_give_faults_or_a_scenario(table: tuple[list[str], list[list[str]]]) -> None:
    columns, rows = table
    text = "\n".join(",".join(row) for row in [["target", *columns], *rows])
    faults_make_sense(reading(SETTINGS.encode(), text.encode()))


LONDON = ZoneInfo("Europe/London")


def figures(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high)


@st.composite
def natures(draw: st.DrawFn, kind: Kind) -> Nature | None:
    """Return the nature of a target of this kind, or None where it may do without."""
    if kind is Kind.DEEP_SKY:
        own = Extended(
            "open cluster", draw(st.none() | figures(0, 3600)), None, draw(st.none() | st.just(80))
        )
        return draw(st.sampled_from([None, own]))
    if kind is Kind.DOUBLE_STAR:
        bright_mag = draw(figures(-2, 19))
        pair = Pair(bright_mag, draw(figures(bright_mag, 20)), draw(figures(0.1, 3600)),
                    draw(st.none() | figures(0, 360)))  # fmt: skip
        return draw(st.sampled_from([None, pair]))
    if kind is Kind.VARIABLE_STAR:
        brightest_mag = draw(figures(-2, 20))
        elements = draw(st.sampled_from([(None, None), (2_452_500.21, 2.867)]))
        return LightCurve(brightest_mag, draw(figures(brightest_mag, 25)), *elements,
                          draw(st.sampled_from(Phase)), draw(figures(0.1, 9600)))  # fmt: skip
    if kind is Kind.MOON_FEATURE:
        return MoonFeature(draw(figures(-180, 180)), draw(figures(-90, 90)), draw(figures(0.5, 4000)))
    if kind is Kind.METEOR_SHOWER:
        return Shower(draw(figures(0, 360)), draw(figures(1, 20000)), draw(figures(1.5, 4)))
    begins = datetime(2027, 1, 1, tzinfo=UTC) + timedelta(minutes=draw(st.integers(0, 60 * 24 * 80)))
    return Occasion(begins, begins + timedelta(minutes=draw(st.integers(1, 1080))))


OWN_KINDS = (Kind.DEEP_SKY, Kind.DOUBLE_STAR, Kind.VARIABLE_STAR, Kind.MOON_FEATURE, Kind.METEOR_SHOWER,
             Kind.EVENT)  # fmt: skip
"""Kinds whose figures stand in cells of their own; elements are held to the line they come in elsewhere."""


@st.composite
def targets(draw: st.DrawFn, name: str) -> Target:
    earliest, latest = sorted((draw(dates), draw(dates)))
    kind = draw(st.sampled_from(OWN_KINDS))
    spacing_days = draw(st.integers(1, 366))
    moves = kind is Kind.MOON_FEATURE
    return Target(
        name=name.strip(),
        kind=kind,
        ra_deg=None if moves else draw(st.floats(0, 360)),
        dec_deg=None if moves else draw(st.floats(-90, 90)),
        body="moon" if moves else None,
        nature=draw(natures(kind)),
        magnitude=draw(st.none() | st.floats(-30, 30)),
        size_arcmin=draw(st.none() | st.floats(0, 3600)),
        minutes=draw(st.integers(2, 600)),
        priority=draw(st.integers(1, 5)),
        visits=draw(st.integers(1, 40)),
        spacing_days=spacing_days,
        longest_spacing_days=draw(st.none() | st.integers(spacing_days, 400)),
        earliest=draw(st.sampled_from([earliest, None])),
        latest=draw(st.sampled_from([latest, None])),
        lowest_altitude_deg=draw(st.floats(0, 85)),
        also_known_as=draw(st.none() | names.map(str.strip)),
        instrument=draw(st.sampled_from([None, "naked eye", "telescope", "200 mm f/6 telescope"])),
    )


def cells_of(wish: Target) -> dict[str, str]:
    """Return what a wish-list says of a target, by column."""
    told = {column: getattr(wish, column, None) for column in COLUMNS}
    own = {c: getattr(wish.nature, FIELDS.get(c, c), None) for c in OF_KIND[wish.kind]}
    cells = told | own | {"target": wish.name, "name": wish.also_known_as}
    return {column: cell_of(value) for column, value in cells.items()}


def cell_of(value: object) -> str:
    """Return a figure, a date or a local time as a cell of a wish-list."""
    if isinstance(value, datetime):
        return f"{value.astimezone(LONDON):%Y-%m-%d %H:%M}"
    return "" if value is None else str(value)


@st.composite
def wish_lists(draw: st.DrawFn) -> list[Target]:
    unique = draw(st.lists(names, min_size=1, max_size=6, unique_by=lambda name: name.strip().casefold()))
    return [draw(targets(name)) for name in unique]


@given(
    wish_lists(),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["\n", "\r\n"]),
    st.sampled_from([".", ","]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
)
@settings(max_examples=150)
def test_a_written_wish_list_reads_as_itself(
    wishes: list[Target], separator: str, newline: str, point: str, encoding: str
) -> None:
    table = io.StringIO(newline="")
    writer = csv.writer(table, delimiter=separator, lineterminator=newline)
    writer.writerow(COLUMNS)
    for wish in wishes:
        cells = cells_of(wish)
        if separator != ",":
            cells |= {c: text.replace(".", point) for c, text in cells.items() if c not in ("target", "name")}
        writer.writerow(cells.values())
    raw = table.getvalue().encode(encoding)
    assume(encoding != "cp1252" or decoded(raw) == table.getvalue())  # "Â¡" in cp1252 is "¡" in UTF-8
    found = reading(SETTINGS.encode(), raw)
    assert isinstance(found, Scenario), str(found)
    assert list(found.targets) == wishes


@given(wish_lists(), st.sampled_from([SETTINGS, WHOLE]))
@settings(max_examples=15)
def test_what_is_read_is_planned_written_and_read_back(wishes: list[Target], toml: str) -> None:
    table = io.StringIO(newline="")
    csv.writer(table).writerows([list(COLUMNS), *(cells_of(wish).values() for wish in wishes)])
    text = table.getvalue().replace("200 mm f/6 telescope", "telescope")
    roomy = toml.replace("longest_spacing_days = 12", "longest_spacing_days = 400")
    made = reading(roomy.encode(), text.encode())
    assert isinstance(made, Scenario), str(made)
    made = replace(made, season=Season(date(2027, 1, 1), 12))
    plan = plan_year(made, seconds=0.1)
    assert plan_from_json(plan_to_json(plan)) == plan
    judge(plan_from_json(plan_to_json(plan)))
    assert all(to_text(plan) for to_text in OUTPUTS.values())
