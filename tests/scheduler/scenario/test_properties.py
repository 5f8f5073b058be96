"""Whatever the files hold, reading ends in a scenario or in its faults; and what is written is read again."""

from __future__ import annotations

import csv
import io
import tempfile
from datetime import date
from pathlib import Path

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scheduler.domain import Kind, Scenario, Target
from scheduler.errors import ScenarioFaults
from scheduler.scenario import read_scenario
from scheduler.scenario.text import decoded

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


@given(st.binary(max_size=300), st.binary(max_size=300))
@settings(max_examples=150, deadline=None)
def test_any_bytes_give_faults(toml: bytes, wishes: bytes) -> None:
    faults_make_sense(reading(toml, wishes))


@given(damaged(SETTINGS), damaged(WISHES))
@settings(max_examples=300, deadline=None)
def test_damaged_files_give_faults_or_a_scenario(toml: bytes, wishes: bytes) -> None:
    faults_make_sense(reading(toml, wishes))


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=200))
@settings(max_examples=200, deadline=None)
def test_any_text_below_a_header_gives_faults_or_a_scenario(text: str) -> None:
    faults_make_sense(reading(SETTINGS.encode(), ("target,ra_deg,dec_deg,minutes,notes\n" + text).encode()))


dates = st.dates(date(2000, 1, 1), date(2049, 12, 31))
names = st.text(
    st.characters(codec="cp1252", categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=30
).map(lambda text: "Own " + " ".join(text.split()))


@st.composite
def targets(draw: st.DrawFn, name: str) -> Target:
    earliest, latest = sorted((draw(dates), draw(dates)))
    return Target(
        name=name.strip(),
        kind=draw(st.sampled_from([Kind.DEEP_SKY, Kind.DOUBLE_STAR])),
        ra_deg=draw(st.floats(0, 360)),
        dec_deg=draw(st.floats(-90, 90)),
        magnitude=draw(st.none() | st.floats(-30, 30)),
        size_arcmin=draw(st.none() | st.floats(0, 3600)),
        minutes=draw(st.integers(2, 600)),
        priority=draw(st.integers(1, 5)),
        visits=draw(st.integers(1, 40)),
        spacing_days=draw(st.integers(1, 366)),
        earliest=draw(st.sampled_from([earliest, None])),
        latest=draw(st.sampled_from([latest, None])),
        lowest_altitude_deg=draw(st.floats(0, 85)),
        also_known_as=draw(st.none() | names.map(str.strip)),
    )


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
@settings(max_examples=150, deadline=None)
def test_a_written_wish_list_reads_as_itself(
    wishes: list[Target], separator: str, newline: str, point: str, encoding: str
) -> None:
    columns = (
        "kind",
        "minutes",
        "priority",
        "visits",
        "spacing_days",
        "earliest",
        "latest",
        "lowest_altitude_deg",
        "ra_deg",
        "dec_deg",
        "magnitude",
        "size_arcmin",
    )
    table = io.StringIO(newline="")
    writer = csv.writer(table, delimiter=separator, lineterminator=newline)
    writer.writerow(["target", "name", *columns])
    for wish in wishes:
        cells = [getattr(wish, column) for column in columns]
        texts = ["" if cell is None else str(cell) for cell in cells]
        if separator != ",":
            texts = [text.replace(".", point) for text in texts]
        writer.writerow([wish.name, wish.also_known_as or "", *texts])
    raw = table.getvalue().encode(encoding)
    assume(encoding != "cp1252" or decoded(raw) == table.getvalue())  # "Â¡" in cp1252 is "¡" in UTF-8
    found = reading(SETTINGS.encode(), raw)
    assert isinstance(found, Scenario), str(found)
    assert list(found.targets) == wishes
