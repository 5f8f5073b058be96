"""wish-list.csv: what people's programs write reads right, and what is wrong is told by row and column."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from scheduler.domain import Kind
from scheduler.scenario.columns import COLUMNS, OF_KIND

from .stand_ins import SETTINGS, faults_in, places, targets_of


def test_one_column_is_enough(tmp_path: Path) -> None:
    (target,) = targets_of(tmp_path, "target\nm31\n")
    assert (target.name, target.also_known_as) == ("M 31", "Andromeda Galaxy")
    assert (target.ra_deg, target.dec_deg, target.constellation) == (10.0, 20.0, "Andromeda")
    assert (target.minutes, target.priority, target.visits, target.spacing_days) == (20, 3, 1, 7)


@pytest.mark.parametrize(
    ("name", "minutes", "lowest_deg"),
    [
        ("M 31", 20, 20.0),
        ("Albireo", 10, 20.0),
        ("Jupiter", 15, 15.0),
        ("Venus", 15, 10.0),
        ("Mercury", 15, 8.0),
    ],
)
def test_blank_cells_mean_what_suits_the_kind(
    tmp_path: Path, name: str, minutes: int, lowest_deg: float
) -> None:
    (target,) = targets_of(tmp_path, f"target,minutes,lowest_altitude_deg\n{name},,\n")
    assert (target.minutes, target.lowest_altitude_deg) == (minutes, lowest_deg)


def test_the_scenarios_defaults_come_before_the_kinds_and_after_the_cells(tmp_path: Path) -> None:
    settings = SETTINGS + "[defaults]\nminutes = 33\npriority = 5\nlowest_altitude_deg = 31\n"
    silent, said = targets_of(tmp_path, "target,minutes,priority\nM 31,,\nM 42,44,1\n", settings)
    assert (silent.minutes, silent.priority, silent.lowest_altitude_deg) == (33, 5, 31.0)
    assert (said.minutes, said.priority, said.lowest_altitude_deg) == (44, 1, 31.0)


def test_every_column_reaches_the_target(tmp_path: Path) -> None:
    row = {
        "target": "Our Corner",
        "kind": "double star",
        "minutes": "25",
        "priority": "5",
        "visits": "3",
        "spacing_days": "14",
        "longest_spacing_days": "30",
        "earliest": "2027-03-01",
        "latest": "2027-05-31",
        "lowest_altitude_deg": "33.5",
        "instrument": "telescope",
        "observer": "observer",
        "ra_deg": "05:35:17.3",
        "dec_deg": "-05 23 28",
        "magnitude": "4.5",
        "size_arcmin": "0.2",
        "name": "The Corner",
        "notes": "=1+1 is text, with\na second line",
    }
    assert set(row) == set(COLUMNS) - {column for columns in OF_KIND.values() for column in columns}
    text = ",".join(row) + "\n" + ",".join(f'"{cell}"' for cell in row.values()) + "\n"
    (target,) = targets_of(tmp_path, text)
    assert (target.name, target.kind, target.also_known_as) == ("Our Corner", Kind.DOUBLE_STAR, "The Corner")
    assert (target.minutes, target.priority, target.visits, target.spacing_days) == (25, 5, 3, 14)
    assert (target.longest_spacing_days, target.instrument, target.observer) == (30, "telescope", "observer")
    assert (target.earliest, target.latest) == (date(2027, 3, 1), date(2027, 5, 31))
    assert target.ra_deg == pytest.approx(83.8220833)
    assert target.dec_deg == pytest.approx(-5.3911111)
    assert (target.magnitude, target.size_arcmin, target.lowest_altitude_deg) == (4.5, 0.2, 33.5)


def test_own_cells_win_over_the_catalogue(tmp_path: Path) -> None:
    text = "target,ra_deg,dec_deg,magnitude,size_arcmin,name\nM 31,11,41,3.3,180,Our Neighbour\n"
    (target,) = targets_of(tmp_path, text)
    assert (target.name, target.ra_deg, target.dec_deg) == ("M 31", 11.0, 41.0)
    assert (target.magnitude, target.size_arcmin, target.also_known_as) == (3.3, 180.0, "Our Neighbour")


LIST = (
    "target{0}minutes{0}magnitude{0}ra_deg{0}dec_deg\n"
    "M 31{0}25{0}{0}{0}\n"
    "José's 5° field{0}30{0}8{1}5{0}12{1}5{0}-3{1}25\n"
)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    ("separator", "point"), [(",", "."), (";", "."), (";", ","), ("\t", ","), ("\t", ".")]
)
def test_spreadsheets_of_all_countries_say_the_same(
    tmp_path: Path, encoding: str, newline: str, separator: str, point: str
) -> None:
    text = LIST.format(separator, point).replace("\n", newline)
    first, second = targets_of(tmp_path, text.encode(encoding))
    assert (first.name, first.minutes) == ("M 31", 25)
    assert (second.name, second.magnitude, second.ra_deg, second.dec_deg) == (
        "José's 5° field",
        8.5,
        12.5,
        -3.25,
    )


@pytest.mark.parametrize(
    "text",
    [
        "target\n\n\nM 31\n\n",
        "  Target  \n  M   31  \n",
        '"target"\n"M 31"\n',
        "target\nM 31",
        "TARGET,,\nM 31,,\n",
        "target\n\xa0M\xa031\xa0\n",
        "\n\ntarget\nM 31\n",
        "target,minutes\nM 31,20.0\n,\n",
    ],
)
def test_blank_lines_quotes_and_spaces_do_no_harm(tmp_path: Path, text: str) -> None:
    assert [(target.name, target.minutes) for target in targets_of(tmp_path, text)] == [("M 31", 20)]


@pytest.mark.parametrize(
    ("ra", "dec", "ra_deg", "dec_deg"),
    [
        ("83.822", "-5.391", 83.822, -5.391),
        ("05:35:17", "-05:23:28", 83.8208333, -5.3911111),
        ("05 35 17", "-05 23 28", 83.8208333, -5.3911111),
        ("5h35m17s", "-5°23'28\"", 83.8208333, -5.3911111),
        ("5h 30m", "−00:30", 82.5, -0.5),
        ("24:00:00", "+90", 360.0, 90.0),
    ],
)
def test_places_are_read_in_all_usual_forms(
    tmp_path: Path, ra: str, dec: str, ra_deg: float, dec_deg: float
) -> None:
    (target,) = targets_of(tmp_path, f"target\tra_deg\tdec_deg\nHere\t{ra}\t{dec}\n")
    assert (target.ra_deg, target.dec_deg) == pytest.approx((ra_deg, dec_deg))


def test_formulas_are_harmless_text(tmp_path: Path) -> None:
    (target,) = targets_of(tmp_path, "target,ra_deg,dec_deg,notes\n=cmd|' /C calc'!A0,1,2,=2+2\n")
    assert target.name == "=cmd|' /C calc'!A0"


@pytest.mark.parametrize(
    ("column", "cell", "words"),
    [
        ("minutes", "1", "from 2 to 600"),
        ("minutes", "soon", "a whole number"),
        ("minutes", "20.5", "a whole number"),
        ("minutes", "1e99", "a whole number"),
        ("minutes", "9" * 5000, "a whole number"),
        ("minutes", "٣٠", "a whole number"),
        ("priority", "6", "from 1 to 5"),
        ("visits", "0", "from 1 to 40"),
        ("spacing_days", "400", "from 1 to 366"),
        ("earliest", "01/03/2027", "2027-03-01"),
        ("earliest", "2027-02-30", "no such day"),
        ("latest", "0001-01-01", "1900"),
        ("lowest_altitude_deg", "90", "from 0 to 85"),
        ("lowest_altitude_deg", "nan", "a number"),
        ("magnitude", "inf", "a number"),
        ("magnitude", "99", "from -30 to 30"),
        ("size_arcmin", "-1", "from 0 to 3600"),
        ("kind", "galaxy", "one of deep-sky object, double star, variable star"),
        ("kind", "planet", "stays in its place"),
        ("name", "a\x07b", "printable"),
        ("name", "x" * 300, "at most 200"),
    ],
)
def test_a_bad_cell_is_told_by_row_and_column(tmp_path: Path, column: str, cell: str, words: str) -> None:
    (fault,) = faults_in(tmp_path, wishes=f"target;{column}\nM 42;\n\nM 31;{cell}\n")
    assert (fault.file, fault.row, fault.column) == ("wish-list.csv", 4, column)
    assert words in fault.expected
    assert fault.read[:60] == cell[:60]


@pytest.mark.parametrize(
    ("ra", "dec", "column", "words"),
    [
        ("400", "1", "ra_deg", "degrees from 0 to 360"),
        ("1", "-91", "dec_deg", "degrees from -90 to 90"),
        ("25:00:00", "1", "ra_deg", "hours from 0 to 24"),
        ("1", "12:61:00", "dec_deg", "below 60"),
        ("nan", "1", "ra_deg", "degrees"),
        ("", "1", "ra_deg", "beside dec_deg"),
        ("1", "", "dec_deg", "beside ra_deg"),
    ],
)
def test_a_bad_place_is_told(tmp_path: Path, ra: str, dec: str, column: str, words: str) -> None:
    (fault,) = faults_in(tmp_path, wishes=f"target,ra_deg,dec_deg\nHere,{ra},{dec}\n")
    assert (fault.row, fault.column) == (2, column)
    assert words in fault.expected


def test_latest_before_earliest_is_told(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, wishes="target,earliest,latest\nM 31,2027-05-01,2027-04-01\n")
    assert (fault.row, fault.column, fault.read) == (2, "latest", "2027-04-01")
    assert "not before 2027-05-01" in fault.expected


def test_all_faults_of_a_row_are_told(tmp_path: Path) -> None:
    faults = faults_in(tmp_path, wishes="target,minutes,priority,visits,magnitude\nNothing,1,0,99,x\n")
    assert {fault.column for fault in faults} == {"target", "minutes", "priority", "visits", "magnitude"}


def test_an_unknown_name_is_told_with_names_that_look_alike(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, wishes="target\nM 42\nM 131\n")
    assert (fault.row, fault.column, fault.read, fault.near) == (3, "target", "M 131", ("M 31",))
    assert "ra_deg and dec_deg" in fault.expected


@pytest.mark.parametrize("again", ["M 31", "m31", "NGC 224"])
def test_one_object_under_any_two_names_is_told_with_both_rows(tmp_path: Path, again: str) -> None:
    (fault,) = faults_in(tmp_path, wishes=f"target\nM 42\nM 31\n\n{again}\n")
    assert (fault.row, fault.column, fault.read) == (5, "target", again)
    assert "row 3 (M 31)" in fault.expected


@pytest.mark.parametrize("name", ["Sun", "the SUN", "Solar eclipse"])
def test_the_sun_is_refused_with_its_danger(tmp_path: Path, name: str) -> None:
    (fault,) = faults_in(tmp_path, wishes=f"target\n{name}\n")
    assert "nothing here is planned on the Sun, for one unfiltered look blinds" in fault.expected


def test_an_own_target_twice_is_told(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, wishes="target,ra_deg,dec_deg\nHere,1,2\nHERE,3,4\n")
    assert (fault.row, "row 2 (Here)" in fault.expected) == (3, True)


def test_a_planet_with_a_place_is_told(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, wishes="target,ra_deg,dec_deg\nJupiter,1,2\n")
    assert (fault.row, fault.column) == (2, "ra_deg")
    assert "a planet moves" in fault.expected


@pytest.mark.parametrize(
    ("text", "row", "column", "words"),
    [
        ("", None, None, "a header row"),
        ("\n\n \n", None, None, "a header row"),
        ("target\n", None, None, "at least one row"),
        ("M 31\nM 42\n", 1, None, 'one of them "target"'),
        ("object\nM 31\n", 1, "object", "one of the columns target"),
        ("target,target\nM 31,M 42\n", 1, "target", "each column once"),
        ("target,minutes\nM 31\n", 2, None, "2 cells as in the header"),
        ("target,minutes\nM 31,20,5\n", 2, None, "2 cells as in the header"),
        ("target,minutes\n,20\n", 2, "target", "a designation or name"),
        ('target,notes\nM 31,"left open\nM 42,\n', 2, None, "quotes that come in pairs"),
        ('target\n"M 31\nM 42"\n', 2, "target", "on one line"),
        ("target\nM\x0131\n", 2, "target", "printable"),
        ("x," * 70 + "target\n" + "," * 70 + "M 31\n", 1, None, "at most 60 columns"),
    ],
)
def test_a_malformed_table_is_told(
    tmp_path: Path, text: str, row: int | None, column: str | None, words: str
) -> None:
    faults = faults_in(tmp_path, wishes=text)
    assert (row, column) in places(faults)
    assert any(words in fault.expected for fault in faults)


def test_an_unknown_column_is_told_with_columns_that_look_alike(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, wishes="target,minuts\nM 31,20\n")
    assert (fault.row, fault.column, fault.near) == (1, "minuts", ("minutes",))


@pytest.mark.parametrize(
    "raw", [b"\x89PNG\r\n\x1a\n\x00\x00", b"target\nM\x0031\n", b"\xff\xfe\x00", b"\x81\x8d\x8f"]
)
def test_bytes_that_are_not_text_are_told(tmp_path: Path, raw: bytes) -> None:
    (fault,) = faults_in(tmp_path, wishes=raw)
    assert fault.read == "bytes that are not text"
    assert "UTF-8" in fault.expected


def test_too_long_a_list_is_one_fault(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, wishes="target\n" + "M 31\n" * 20001)
    assert fault.read == "20001 rows"
    assert "at most 20000 targets" in fault.expected


def test_a_list_of_the_greatest_length_is_read(tmp_path: Path) -> None:
    rows = "".join(f"Field {number},{number % 360},{number % 90}\n" for number in range(20000))
    assert len(targets_of(tmp_path, "target,ra_deg,dec_deg\n" + rows)) == 20000


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    (fault,) = faults_in(tmp_path, wishes=b"x" * 10_000_001)
    assert "split the list" in fault.expected


def test_a_fault_never_carries_what_a_terminal_would_obey(tmp_path: Path) -> None:
    for fault in faults_in(tmp_path, wishes="target,\x1b[31mred\nM\x1b[31m42,1\n"):
        assert str(fault).isprintable()
