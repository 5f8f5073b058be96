from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.beginning.fields import typed_in
from api.beginning.lists import READY, SAMPLE
from api.beginning.reading import Told, Understood, answers_of, told, understood, with_refusal
from api.door import scheduler_door
from scheduler.errors import InvalidValue, ScenarioFaults

TODAY = date(2026, 11, 26)


def read(**typed: str) -> tuple[Told, tuple[Understood, ...]]:
    """Return what is wrong with the sample changed in some fields, and how its lines were understood."""
    answers = answers_of(typed_in({**SAMPLE, **typed}.items()), TODAY)
    door, wrong = scheduler_door(), Told()
    try:
        door.read_scenario(answers.title, answers.files)
    except ScenarioFaults as found:
        wrong = told(found.faults, answers)
    return wrong, understood(answers, wrong, door.read_scenario)


@pytest.mark.parametrize("name", READY)
def test_the_sample_is_sound_with_every_ready_list(name: str) -> None:
    wrong, lines = read(wishes=READY[name].text)
    assert wrong == Told()
    assert all(line.target for line in lines)


def test_each_line_tells_what_it_was_understood_as() -> None:
    _, lines = read(wishes="m31\nAlbireo 5\nSaturn x2\nPlato (tonight?)\nPerseids")
    shown = [(one.number, one.text, one.what, one.unused) for one in lines]
    assert shown == [
        (1, "m31", "galaxy", ""), (2, "Albireo 5", "double star", ""), (3, "Saturn x2", "planet", ""),
        (4, "Plato (tonight?)", "moon feature", "tonight?"), (5, "Perseids", "meteor shower", ""),
    ]  # fmt: skip
    first = lines[0].target
    assert first is not None
    assert (first.name, first.also_known_as, first.constellation) == ("M 31", "Andromeda Galaxy", "Andromeda")
    assert [one.target.priority for one in lines if one.target] == [3, 5, 3, 3, 3]
    assert [one.target.visits for one in lines if one.target] == [1, 1, 2, 1, 1]


def test_all_faults_are_told_at_once_each_beside_its_line_and_field() -> None:
    wrong, lines = read(wishes="M 31\nGalxy\n\nm 31\nM 13\nNGC 9999999", latitude="91", until_1="12:30")
    assert set(wrong.fields) == {"latitude", "until_1"}
    faulty = {one.number: one.faults for one in lines if one.faults}
    assert set(faulty) == {2, 4, 6}
    assert faulty[4] == ("M 31 stands on line 1 already; write x2 behind that one for two visits.",)
    assert "expected a name or number the catalogue knows, such as M 31 or Albireo." in faulty[2][0]
    assert [one.number for one in lines if one.target] == [1, 5], "sound lines are understood all the same"


def test_names_that_look_alike_are_offered() -> None:
    _, lines = read(wishes="Andromeda Galxy")
    assert "Did you mean Andromeda Galaxy or " in lines[0].faults[0]


def test_a_table_tells_of_its_cells() -> None:
    wrong, lines = read(wishes="target,priority,instrument\nM 31,9,\nM 13,5,big eye\nM 42,1,binoculars\n")
    assert wrong.fields == {}
    assert [(one.number, one.faults[:1]) for one in lines if one.faults] == [
        (2, ("priority: read “9”, expected a whole number from 1 to 5.",)),
        (3, (
            "instrument: read “big eye”, expected one of naked eye, binoculars, 10x50 binoculars, telescope, "
            "200 mm f/6 reflector, or blank.",
        )),
    ]  # fmt: skip
    assert lines[2].target is not None


def test_an_object_stands_in_a_table_once() -> None:
    _, lines = read(wishes="target,priority\nM 31,5\nm31,4\n")
    assert lines[1].faults == ("M 31 stands in row 2 already; raise its visits instead.",)


def test_a_number_behind_a_known_name_is_a_priority_even_when_too_high() -> None:
    _, lines = read(wishes="Plato 9\nGalxy 9")
    assert lines[0].faults == ("priority: read “9”, expected a whole number from 1 to 5.",)
    assert "the catalogue knows" in lines[1].faults[0]


def test_a_number_that_is_refused_is_given_back_as_people_write_it() -> None:
    wrong, _ = read(nights="500", elevation="9000", latitude="91.50")
    assert [wrong.fields[name][0].partition(",")[0] for name in ("nights", "elevation", "latitude")] == [
        "read “500”", "read “9000”", "read “91.5”"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("Europe/Freiburg", " Did you mean Europe/Berlin?"), ("Europe/Londn", " Did you mean Europe/London?"),
     ("Europe/Xqzzw", "")],
)  # fmt: skip
def test_a_zone_there_is_not_leads_to_that_of_the_town_it_names_or_to_one_alike(
    typed: str, meant: str
) -> None:
    wrong, _ = read(zone=typed)
    (words,) = wrong.fields["zone"]
    assert words.partition(".")[2] == meant


def test_a_table_that_cannot_be_read_is_a_fault_of_the_list_and_its_row_is_named() -> None:
    wrong, lines = read(wishes='target,priority\nM 31,9\nM 13,"5')
    assert lines == ()
    assert any("row 2, priority" in words for words in wrong.fields["wishes"])
    assert any("quotes that come in pairs" in words for words in wrong.fields["wishes"])


@pytest.mark.parametrize("blank", ["", "  \n", "# only a remark"])
def test_a_list_of_nothing_says_what_to_do(blank: str) -> None:
    wrong, lines = read(wishes=blank)
    assert wrong.fields == {"wishes": ("write one target a line, or take a ready list",)}
    assert lines == ()


def test_what_is_needed_and_blank_is_told_in_the_words_of_its_field() -> None:
    wrong, _ = read(latitude="", longitude="", zone="", focal_length="", eyepiece_1="")
    assert wrong.fields == {
        "latitude": ("choose a town above, or write it as 47.3 or 47° 18′ N",),
        "longitude": ("choose a town above, or write it as 11.4 or 11° 24′ E; east is positive",),
        "zone": ("choose a town above, or write it as Europe/Vienna",),
        "focal_length": ("write the focal length in millimetres, such as 1200; it is printed on the tube",),
        "eyepiece_1": ("write the focal length printed on it, in millimetres",),
    }


def test_what_a_service_does_not_take_is_told_beside_its_field() -> None:
    refused = with_refusal(
        Told({"zone": ("x",)}), InvalidValue("targets", 3000, "at most 2000 at this service")
    )
    assert refused.fields["wishes"] == ("read “3000”, expected at most 2000 at this service.",)
    assert refused.fields["zone"] == ("x",)
    assert with_refusal(Told(), InvalidValue("odd", 1, "2")).elsewhere == ("odd: read “1”, expected 2.",)


@given(st.text(max_size=120))
@settings(max_examples=100, deadline=None)
def test_whatever_is_pasted_is_understood_or_told_of(text: str) -> None:
    wrong, lines = read(wishes=text)
    assert lines or wrong.fields.get("wishes")
    if "wishes" not in wrong.fields:
        assert all(one.target or one.faults for one in lines)
