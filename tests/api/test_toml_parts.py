from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.storage import NewShared, Noun
from api.toml_parts import availability_in, named_alone, with_availability, with_shared

TEXT = st.characters(exclude_categories=["Cs"])
TOML = b"""# my year
title = "A year"   # said aloud

[site]
name = "Home"
latitude_deg = 50.0 # north
zone = "Europe/London"

[[observers]]
name = "Ada"
age = 61

[[evenings]]
weekdays = "Fri"

[availability]
away = ["2027-07-10..2027-07-24", 2027-08-01]
nights_per_week = 2

[telescope]
name = "Dobsonian"
aperture_mm = 200
focal_length_mm = 1200

[[eyepieces]]
focal_length_mm = 25
"""


def test_availability_is_read_with_dates_in_words() -> None:
    assert availability_in(TOML) == {
        "evenings": [{"weekdays": "Fri"}], "away": ["2027-07-10..2027-07-24", "2027-08-01"],
        "nights_per_week": 2,
    }  # fmt: skip
    assert availability_in(b'title = "bare"') == {"evenings": []}


def test_another_availability_leaves_the_rest_as_it_stands() -> None:
    wanted = {"evenings": [{"weekdays": "Sat", "start": "20:00"}], "extra": ["2027-02-12"]}
    edited = with_availability(TOML, wanted)
    assert availability_in(edited) == wanted
    assert b"# my year" in edited
    assert b"# north" in edited
    before, after = tomllib.loads(TOML.decode()), tomllib.loads(edited.decode())
    for name in set(before) - {"evenings", "availability"}:
        assert after[name] == before[name]


def test_no_availability_takes_the_tables_away() -> None:
    assert set(tomllib.loads(with_availability(TOML, {}).decode())) == {
        "title", "site", "observers", "telescope", "eyepieces",
    }  # fmt: skip


def test_what_is_shared_replaces_the_table_of_its_name_or_is_added() -> None:
    shared = {
        Noun.MEMBER: [NewShared("Ada", {"age": 62}), NewShared("Jory", {"age": 27, "weekdays": "Wed"})],
        Noun.SITE: [NewShared("Far Carn", {"latitude_deg": 50.75, "travel_min": 95})],
        Noun.TELESCOPE: [
            NewShared("Dobsonian", {"aperture_mm": 250, "focal_length_mm": 1250}),
            NewShared("Small one", {"aperture_mm": 70, "focal_length_mm": 700}),
        ],
    }
    read = tomllib.loads(with_shared(TOML, shared, None).decode())
    assert read["observers"] == [{"name": "Ada", "age": 62}, {"name": "Jory", "age": 27, "weekdays": "Wed"}]
    assert read["sites"] == [{"name": "Far Carn", "latitude_deg": 50.75, "travel_min": 95}]
    assert read["telescope"] == {"name": "Dobsonian", "aperture_mm": 250, "focal_length_mm": 1250}
    assert read["telescopes"] == [{"name": "Small one", "aperture_mm": 70, "focal_length_mm": 700}]
    assert read["site"]["name"] == "Home"


def test_taking_over_twice_changes_nothing_the_second_time() -> None:
    shared = {
        Noun.MEMBER: [NewShared("Jory", {"age": 27})],
        Noun.SITE: [NewShared("Far Carn", {"travel_min": 9})],
    }
    home = NewShared("Quay", {"latitude_deg": 51.0, "zone": "Europe/London"})
    once = with_shared(TOML, shared, home)
    assert with_shared(once, shared, home) == once
    assert tomllib.loads(once.decode())["site"] == {
        "name": "Quay",
        "latitude_deg": 51.0,
        "zone": "Europe/London",
    }


def test_tables_written_in_line_are_replaced_too() -> None:
    toml = b"""
site = {name = "Home", zone = "UTC"}
observers = [{name = "Ada", age = 61}]
availability = {away = []}
"""
    read = tomllib.loads(with_shared(toml, {Noun.MEMBER: [NewShared("Ada", {"age": 62})]}, None).decode())
    assert read["observers"] == [{"name": "Ada", "age": 62}]
    added = with_shared(toml, {Noun.MEMBER: [NewShared("Jory", {"age": 27})]}, None)
    assert [one["name"] for one in tomllib.loads(added.decode())["observers"]] == ["Ada", "Jory"]
    edited = with_availability(toml, {"evenings": [{"weekdays": "Sat"}], "nights_per_week": 1})
    assert availability_in(edited) == {"evenings": [{"weekdays": "Sat"}], "nights_per_week": 1}


@pytest.mark.parametrize("noun", list(Noun))
def test_one_alone_stands_in_a_small_scenario(noun: Noun) -> None:
    read = tomllib.loads(named_alone(noun, NewShared("One", {"x": 1})).decode())
    assert {"name": "One", "x": 1} in [
        *read.get("observers", []),
        *read.get("sites", []),
        *read.get("telescopes", []),
    ]
    assert tomllib.loads(named_alone(noun, NewShared("One", {"x": 1}), home=True).decode())["site"]["x"] == 1


@given(
    name=st.text(TEXT, min_size=1),
    settings=st.dictionaries(
        st.text(TEXT),
        st.recursive(
            st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.text(TEXT)
            | st.floats(allow_nan=False, allow_infinity=False),
            lambda inner: st.lists(inner, max_size=3),
            max_leaves=5,
        ),
        max_size=4,
    ),
)  # fmt: skip
def test_whatever_json_is_shared_the_file_stays_toml_and_says_it(
    name: str, settings: dict[str, object]
) -> None:
    edited = with_shared(TOML, {Noun.MEMBER: [NewShared(name, settings)]}, None)
    read = tomllib.loads(edited.decode())["observers"]
    assert read[-1]["name"] == name
    assert len(read) == (1 if read[-1]["name"] == "Ada" else 2)


def test_dotted_keys_and_a_first_table_are_no_trap() -> None:
    toml = b'site.name = "Home"\nsite.zone = "UTC"\ntitle = "after"\n'
    edited = with_shared(toml, {}, NewShared("Quay", {"zone": "Europe/London"}))
    assert tomllib.loads(edited.decode()) == {
        "title": "after",
        "site": {"name": "Quay", "zone": "Europe/London"},
    }
    assert with_shared(edited, {}, NewShared("Quay", {"zone": "Europe/London"})) == edited
