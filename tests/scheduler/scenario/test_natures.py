"""Rows of every kind: what the catalogue knows, what own cells say, and what cannot be."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from scheduler.domain import (
    Extended,
    Kind,
    LightCurve,
    MoonFeature,
    Nature,
    Occasion,
    Orbit,
    Pair,
    Phase,
    Shower,
)
from scheduler.scenario.columns import COLUMNS, LOWEST_ALTITUDE_DEG, MINUTES, OF_KIND

from .stand_ins import NAMES, SETTINGS, Known, faults_in, targets_of

# (10370) in the Minor Planet Center's one-line form, figures invented for this test
ELEMENTS = (
    "10370   10.10  0.15 K2731 120.00000   80.00000  150.00000    6.00000  0.1500000  0.27000000   "
    "2.3700000  0 E2027-A01"
)
OWN: dict[Kind, tuple[dict[str, str], Nature]] = {
    Kind.DEEP_SKY: (
        {"ra_deg": "10", "dec_deg": "20", "what": "open cluster", "minor_arcmin": "12", "stars": "80"},
        Extended("open cluster", 12.0, None, 80),
    ),
    Kind.DOUBLE_STAR: (
        {"ra_deg": "10", "dec_deg": "20", "bright_mag": "3.1", "faint_mag": "6.5",
         "separation_arcsec": "4.5", "position_angle_deg": "211"},
        Pair(3.1, 6.5, 4.5, 211.0),
    ),
    Kind.VARIABLE_STAR: (
        {"ra_deg": "10", "dec_deg": "20", "brightest_mag": "2.1", "faintest_mag": "3.4",
         "epoch_hjd": "2452500.21", "period_d": "2.867", "phase": "minimum", "wide_h": "5"},
        LightCurve(2.1, 3.4, 2452500.21, 2.867, Phase.MINIMUM, 5.0),
    ),
    Kind.MOON_FEATURE: (
        {"moon_longitude_deg": "-9.3", "moon_latitude_deg": "51.6", "size_km": "101"},
        MoonFeature(-9.3, 51.6, 101.0),
    ),
    Kind.METEOR_SHOWER: (
        {"ra_deg": "48", "dec_deg": "58", "peak_longitude_deg": "140", "zenithal_rate": "100",
         "population_index": "2.2"},
        Shower(140.0, 100.0, 2.2),
    ),
    Kind.EVENT: (
        {"at": "Jupiter", "start": "2027-07-12 21:30", "end": "2027-07-12 22:15"},
        Occasion(datetime(2027, 7, 12, 20, 30, tzinfo=UTC), datetime(2027, 7, 12, 21, 15, tzinfo=UTC)),
    ),
}  # fmt: skip


def _csv(cells: dict[str, str]) -> str:
    quoted = (f'"{cell}"' for cell in cells.values())
    return f"{','.join(cells)}\n{','.join(quoted)}\n"


@pytest.mark.parametrize("kind", OWN, ids=str)
def test_own_cells_make_a_target_of_every_kind(tmp_path: Path, kind: Kind) -> None:
    cells, nature = OWN[kind]
    (target,) = targets_of(tmp_path, _csv({"target": "Our own", "kind": kind.value, **cells}))
    assert (target.kind, target.nature) == (kind, nature)


def test_one_line_of_elements_makes_a_minor_body(tmp_path: Path) -> None:
    (target,) = targets_of(tmp_path, _csv({"target": "Our rock", "elements": ELEMENTS}))
    assert target.kind is Kind.MINOR_BODY
    assert isinstance(target.nature, Orbit)
    assert target.nature.perihelion_au == pytest.approx(2.37 * 0.85)


def test_an_event_takes_its_own_time_and_the_place_of_what_it_happens_at(tmp_path: Path) -> None:
    cells = OWN[Kind.EVENT][0]
    (at_jupiter,) = targets_of(tmp_path, _csv({"target": "Dance", "kind": "event", **cells}))
    assert (at_jupiter.body, at_jupiter.ra_deg, at_jupiter.minutes) == ("jupiter", None, 45)
    (at_m31,) = targets_of(tmp_path, _csv({"target": "Dance", "kind": "event", **cells, "at": "M 31"}))
    assert (at_m31.body, at_m31.ra_deg, at_m31.dec_deg) == (None, 10.0, 20.0)


def test_an_event_longer_than_a_visit_can_be_is_looked_at_for_as_long_as_one_can(tmp_path: Path) -> None:
    cells = {"target": "Long", "kind": "event", "at": "M 31", "start": "2027-01-12 17:00",
             "end": "2027-01-13 05:00"}  # fmt: skip
    (target,) = targets_of(tmp_path, _csv(cells))
    assert target.minutes == 600


def test_an_unknown_name_is_told_as_unknown_each_time_and_no_more(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, wishes="target\nM 9999\nM 9999\n")
    assert [(fault.row, "the catalogue knows" in fault.expected) for fault in faults] == [
        (2, True),
        (3, True),
    ]


def test_an_event_called_like_another_target_of_the_list_is_told(tmp_path: Path) -> None:
    text = "target,kind,at,start,end\nJupiter,,,,\nJupiter ,event,Jupiter,2027-07-12 21:30,2027-07-12 22:15\n"
    (fault,) = faults_in(tmp_path, wishes=text)
    assert (fault.row, fault.column) == (3, "target")
    assert "every target once; row 2 has the same name" in fault.expected


def test_what_the_catalogue_knows_comes_along_and_own_cells_win(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pair = Pair(3.2, 4.7, 34.6, 54.0)
    monkeypatch.setitem(NAMES, "albireo", replace(NAMES["albireo"], nature=pair))
    (plain,) = targets_of(tmp_path, "target\nAlbireo\n")
    assert plain.nature == pair
    (mended,) = targets_of(tmp_path, "target,separation_arcsec\nAlbireo,35.3\n")
    assert mended.nature == replace(pair, separation_arcsec=35.3)


def test_features_of_the_moon_and_eclipses_belong_to_the_moon(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plato = Known(
        "Plato", "Moon Plato", Kind.MOON_FEATURE, None, None, "moon", None, None, None, None,
        MoonFeature(-9.3, 51.6, 101.0),
    )  # fmt: skip
    eclipse = Known("Lunar eclipse", "Lunar eclipse", Kind.ECLIPSE, None, None, "moon", None, None, None)
    monkeypatch.setitem(NAMES, "plato", plato)
    monkeypatch.setitem(NAMES, "lunareclipse", eclipse)
    feature, shadow = targets_of(tmp_path, "target\nPlato\nLunar eclipse\n")
    assert (feature.body, feature.kind, shadow.body, shadow.kind) == (
        "moon", Kind.MOON_FEATURE, "moon", Kind.ECLIPSE,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"target": "M 31", "separation_arcsec": "4"}, "separation_arcsec", "only a double star has it"),
        ({"target": "Albireo", "bright_mag": "3", "faint_mag": "4"}, "separation_arcsec",
         "a value, as every double star of one's own needs"),
        ({"target": "Own", "kind": "event", "at": "Jupiter", "start": "2027-07-12 21:30"}, "end", "a value"),
        ({"target": "Own", "kind": "event", "start": "2027-07-12 21:30", "end": "2027-07-12 22:30"},
         "at", "the name of what it happens at"),
        ({"target": "Own", "kind": "event", "at": "Jupitr", "start": "2027-07-12 21:30",
          "end": "2027-07-12 22:30"}, "at", "the catalogue knows"),
        ({"target": "Own", "kind": "event", "at": "Jupiter", "start": "2027-07-12 22:30",
          "end": "2027-07-12 21:30"}, "end", "at most 18 hours later"),
        ({"target": "Own", "kind": "event", "at": "Jupiter", "start": "late", "end": "2027-07-12 21:30"},
         "start", "a local date and time such as"),
        ({"target": "Own", "kind": "moon feature", "moon_longitude_deg": "200", "moon_latitude_deg": "0"},
         "moon_longitude_deg", "from -180 to 180"),
        ({"target": "Own", "elements": "no elements"}, "elements", "Minor Planet Center"),
        ({"target": "M 31", "instrument": "spyglass"}, "instrument",
         "one of naked eye, telescope, 200 mm f/6 telescope, or blank"),
        ({"target": "Own", "kind": "double star", "ra_deg": "1", "dec_deg": "2", "bright_mag": "19.9",
          "faint_mag": "3", "separation_arcsec": "4"}, "faint_mag", "from 19.4 to 20"),
        ({"target": "Own", "kind": "variable star", "ra_deg": "1", "dec_deg": "2", "brightest_mag": "2",
          "faintest_mag": "3", "epoch_hjd": "2452500", "period_d": "0"}, "period_d", "from 0.02 to 20000"),
        ({"target": "Own", "kind": "variable star", "ra_deg": "1", "dec_deg": "2", "brightest_mag": "2",
          "faintest_mag": "3", "epoch_hjd": "5", "period_d": "3"}, "epoch_hjd", "from 2.4e+06 to 2.5e+06"),
        ({"target": "Own", "kind": "variable star", "ra_deg": "1", "dec_deg": "2", "brightest_mag": "2",
          "faintest_mag": "3", "epoch_hjd": "soon", "period_d": "3"}, "epoch_hjd", "a number such as"),
        ({"target": "Jupiter", "ra_deg": "east"}, "ra_deg", "degrees from 0 to 360"),
        ({"target": "Jupiter", "ra_deg": "12"}, "ra_deg", "a planet moves"),
        ({"target": "M 31", "at": "M 31"}, "at", "blank: only an event has it"),
        ({"target": "M 31", "kind": "planetoid", "separation_arcsec": "4"}, "kind", "one of deep-sky object"),
        ({"target": "M 31", "spacing_days": "12", "longest_spacing_days": "8"},
         "longest_spacing_days", "from 12 to 400"),
        ({"target": "Own", "kind": "variable star", "ra_deg": "1", "dec_deg": "2", "brightest_mag": "2",
          "faintest_mag": "3", "epoch_hjd": "2452500"}, "period_d", "an epoch and a period, or neither"),
        ({"target": "Own", "kind": "minor body", "ra_deg": "1", "dec_deg": "2"}, "kind", "in its place"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_once_with_its_place(
    tmp_path: Path, cells: dict[str, str], column: str, words: str
) -> None:
    (fault,) = faults_in(tmp_path, wishes=_csv(cells))
    assert (fault.row, fault.column) == (2, column)
    assert words in fault.expected


def test_every_figure_that_lacks_is_told_at_once(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, wishes=_csv({"target": "Albireo", "bright_mag": "3"}))
    assert [fault.column for fault in faults] == ["faint_mag", "separation_arcsec"]


def test_instruments_are_those_of_the_kit(tmp_path: Path) -> None:
    settings = SETTINGS.replace("[telescope]", '[telescope]\nname = "Old faithful"')
    (target,) = targets_of(tmp_path, "target,instrument\nM 31,Old faithful\n", settings)
    assert target.instrument == "Old faithful"
    in_other_letters = "target,instrument\nM 31,old Faithful\nM 42,Naked Eye\n"
    found = [one.instrument for one in targets_of(tmp_path, in_other_letters, settings)]
    assert found == ["Old faithful", "naked eye"]
    like = settings + '[binoculars]\nname = "old faithful"\nmagnification = 10\naperture_mm = 50\n'
    both = "target,instrument\nM 31,Old faithful\nM 42,old faithful\n"
    assert [one.instrument for one in targets_of(tmp_path, both, like)] == ["Old faithful", "old faithful"]


@pytest.mark.parametrize(
    ("kit", "asked"),
    [
        ("", "binoculars"),
        ('[binoculars]\nname = "Glass"\nmagnification = 10\naperture_mm = 50\n[[observers]]\n'
         'instruments = ["Glass"]\n', "telescope"),
        ('[[observers]]\nname = "Ada"\ninstruments = []\n', "binoculars"),
    ],
)  # fmt: skip
def test_what_the_kit_lacks_or_nobody_uses_cannot_be_asked_for(tmp_path: Path, kit: str, asked: str) -> None:
    (fault,) = faults_in(tmp_path, SETTINGS + kit, f"target,instrument\nM 31,{asked}\n")
    assert (fault.row, fault.column, fault.read) == (2, "instrument", asked)
    assert asked not in fault.expected
    assert "naked eye" in fault.expected


def test_every_kind_has_defaults_and_every_column_a_kind_or_all() -> None:
    assert set(MINUTES) == set(LOWEST_ALTITUDE_DEG) == set(OF_KIND) == set(Kind)
    assert {column for columns in OF_KIND.values() for column in columns} < set(COLUMNS)
