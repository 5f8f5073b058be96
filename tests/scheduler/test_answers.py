"""Every answer as JSON: whole, in plain names with units, UTC and ISO, and without NaN."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from functools import cache
from typing import Any

import pytest

from scheduler.answers import answer_to_json, plain_of, what_of
from scheduler.diary import diary_of, moon_csv
from scheduler.domain import (
    Amendment,
    Extended,
    Kind,
    LightCurve,
    Occasion,
    Orbit,
    Pair,
    Scenario,
    Target,
)
from scheduler.explain import season_prices, what_if, why_not, why_then
from scheduler.planets import planet_seasons_of
from scheduler.up import Up, overview_of
from scheduler.weather import weather_report_of
from scheduler.year import plan_year
from tests.scheduler.weather.logs import chain_log
from tests.small_plan import plan
from tests.small_season import (
    ALBIREO,
    ALGOL,
    ANDROMEDA,
    ECLIPSE,
    JUPITER,
    LARKMOOR,
    OMEGA,
    ORION,
    PERSEIDS,
    PLATO,
    scenario,
)

VESTA = Target("Vesta", Kind.MINOR_BODY, nature=Orbit(2461000.5, 2.15, 0.09, 7.1, 103.8, 151.0, 3.25, 0.32))
COMET = replace(VESTA, name="Comet", nature=Orbit(2461630.0, 1.2, 1.0, 70.0, 30.0, 120.0, 3.0, 4.0, True))
TALK = Target(
    "Open evening", Kind.EVENT, 10.0, 20.0,
    nature=Occasion(datetime(2027, 1, 8, 20, tzinfo=UTC), datetime(2027, 1, 8, 21, 30, tzinfo=UTC)),
)  # fmt: skip
EVERY_KIND = (ORION, ANDROMEDA, ALBIREO, ALGOL, JUPITER, PLATO, VESTA, COMET, PERSEIDS, ECLIPSE, TALK)
SMALL = scenario(ORION, ANDROMEDA, JUPITER, OMEGA, nights=7)


@cache
def made() -> Any:
    return plan_year(SMALL, seconds=0.3)


ANSWERS: dict[str, Callable[[], object]] = {
    "why then": lambda: why_then(made(), SMALL, "M 42"),
    "why not": lambda: why_not(made(), SMALL, "NGC 5139"),
    "prices": lambda: season_prices(SMALL),
    "what if": lambda: what_if(SMALL, Amendment(nights_per_week=1), years=4, seconds=0.2),
    "up": lambda: overview_of(SMALL, datetime(2027, 1, 8, 22, tzinfo=UTC)),
    "planets": lambda: planet_seasons_of(scenario(nights=300)),
    "weather": lambda: weather_report_of(SMALL.clear_odds, chain_log(90, 0.6, 0.5, seed=2)),
    "moon": lambda: diary_of(plan().diary, plan().site),
    "targets": lambda: scenario(*EVERY_KIND).targets,
}


@cache
def answered(name: str) -> tuple[object, Any]:
    answer = ANSWERS[name]()
    return answer, read(answer_to_json(answer))


def read(text: str) -> Any:
    def refused(word: str) -> None:
        pytest.fail(f"{word} is no JSON")

    return json.loads(text, parse_constant=refused)


def leaves(found: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(found, dict):
        for name, value in found.items():
            yield from leaves(value, name)
    elif isinstance(found, list):
        for value in found:
            yield from leaves(value, key)
    else:
        yield key, found


def keys(found: Any) -> Iterator[str]:
    if isinstance(found, dict):
        yield from found
    for value in found.values() if isinstance(found, dict) else found if isinstance(found, list) else ():
        yield from keys(value)


UNITS = ("_deg", "_mag", "_arcmin", "_arcsec", "_min", "_m", "_km", "_au", "_jd", "_hjd", "_d", "_h", "_mm")
PURE = {
    # odds, shares, merits and their errors
    "clear_odds", "merit", "moon_lit_fraction", "lit_fraction", "monthly", "persistence", "clear", "before",
    "after", "error", "gain", "gain_error", "low", "high", "mean_odds", "clear_share",
    # scores; priority times merit; counts in the mean
    "brier", "log", "skill", "worth", "cost", "by_prices", "hour", "free_night", "night_out", "night_a_week",
    "objective", "bound", "finished", "nights_out",
    # magnitudes as the trade has them, and pure numbers of a nature
    "magnitude", "sky_brightness", "eccentricity", "slope", "zenithal_rate", "population_index",
    "rise_per_deg", "fall_per_deg",
}  # fmt: skip
"""Figures without a unit; `sky_brightness` is in mag/arcsec2."""


@pytest.mark.parametrize("name", ANSWERS)
def test_an_answer_is_told_in_plain_names_with_units(name: str) -> None:
    answer, told = answered(name)
    places = {
        "high",
        "north",
        "north-east",
        "east",
        "south-east",
        "south",
        "south-west",
        "west",
        "north-west",
    }
    for key in set(keys(told)) - places:
        assert re.fullmatch(r"[a-z][a-z0-9_]*", key), key
    for key, value in leaves(told):
        if isinstance(value, float):
            assert key.endswith(UNITS) or key in PURE, (key, value)
    assert told == plain_of(answer)


@pytest.mark.parametrize("name", ANSWERS)
def test_dates_are_iso_and_moments_utc_with_a_z(name: str) -> None:
    texts = [value for _, value in leaves(answered(name)[1]) if isinstance(value, str)]
    for text in texts:
        if re.fullmatch(r"\d{4}-\d\d-\d\dT.*", text):
            assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", text)
        elif re.match(r"\d{4}-\d\d-\d\d$", text):
            assert date.fromisoformat(text)


def test_a_visit_is_told_with_its_alternatives() -> None:
    answer, told = answered("why then")
    visit = next(one for one in made().visits if one.target == "M 42")
    assert told["target"] == "M 42"
    assert told["evening"] == visit.evening.isoformat()
    assert told["time"] == {key: f"{getattr(visit.time, key):%Y-%m-%dT%H:%M:%SZ}" for key in ("start", "end")}
    assert told["sight"]["direction"] == visit.sight.direction
    assert told["sight"]["darkness"] == visit.sight.darkness.value
    assert [one["cost"] for one in told["alternatives"]] == [one.cost for one in answer.alternatives]  # type: ignore[attr-defined]
    assert told["alternatives"]


def test_a_target_without_a_visit_is_told_with_what_was_tried() -> None:
    answer, told = answered("why not")
    assert (told["target"], told["reason"]) == ("NGC 5139", "never high enough from here")
    assert told["tried"] == list(answer.tried)  # type: ignore[attr-defined]
    remedy = why_not(*faint_remedy(), "M 42").remedies[0]
    assert plain_of(remedy)["change"]["words"] == remedy.change.words  # type: ignore[index,call-overload]


def faint_remedy() -> tuple[Any, Scenario]:
    high = scenario(replace(ORION, lowest_altitude_deg=34.0), ANDROMEDA, nights=5)
    return plan_year(high, seconds=0.3), high


def test_what_would_be_if_tells_every_target_and_the_change_in_words() -> None:
    answer, told = answered("what if")
    assert told["change"]["words"] == "1 nights out a week"
    assert [one["gain"] for one in told["targets"]] == [one.gain for one in answer.targets]  # type: ignore[attr-defined]
    assert {one["target"] for one in told["targets"]} == {target.name for target in SMALL.targets}
    assert told["years"] == 4


def test_prices_are_told_by_night_and_month() -> None:
    _, told = answered("prices")
    assert [one["evening"] for one in told["nights"]] == [
        night.isoformat() for night in SMALL.season.evenings
    ]
    assert told["months"][0]["month"] == "2027-01-01"


def test_what_is_up_is_told_by_quarter_of_the_sky() -> None:
    answer, told = answered("up")
    assert told["moment"] == "2027-01-08T22:00:00Z"
    assert told["constellations"] == {place: list(names) for place, names in answer.constellations}  # type: ignore[attr-defined]
    assert "Orion" in told["constellations"]["south"]
    assert told["daylight"] is False
    assert told["stars"][0]["name"] == "Sirius"


def test_planets_are_told_with_words_and_their_peaks() -> None:
    answer, told = answered("planets")
    assert [one["body"] for one in told] == [season.body for season in answer]  # type: ignore[attr-defined]
    assert [one["words"] for one in told] == [list(season.words) for season in answer]  # type: ignore[attr-defined]
    peaks = [each["peak"] for one in told for each in one["apparitions"] if each["peak"]]
    assert peaks
    assert all(set(peak) == {"kind", "body", "instant", "elongation_deg"} for peak in peaks)


def test_weather_is_told_with_its_scores() -> None:
    answer, told = answered("weather")
    assert [one["name"] for one in told["scores"]] == ["as given", "learned", "with the last night"]
    assert told["learned"]["monthly"] == list(answer.learned.monthly)  # type: ignore[attr-defined]
    assert len(told["nights"]) == len(told["clear"]) == 12


def test_the_moons_diary_tells_what_its_csv_tells() -> None:
    _, told = answered("moon")
    header, *rows = moon_csv(plan().diary, plan().site).splitlines()
    assert len(told) == len(rows) > 20
    for night, row in zip(told, rows, strict=True):
        cells = dict(zip(header.split(","), row.split(","), strict=True))
        for column in ("evening", "weekday", "phase", "mark", "darkness"):
            assert night[column] == cells[column]
        assert f"{night['lit_fraction']:.2f}" == cells["lit_fraction"]
        assert f"{night['dark_min']:.0f}" == cells["dark_min"]
        assert f"{night['moonless_min']:.0f}" == cells["moonless_min"]
        set_local = night["set"] and datetime.fromisoformat(night["set"]).astimezone(LARKMOOR.local)
        assert (f"{set_local:%Y-%m-%d %H:%M}" if set_local else "") == cells["set_local"]
        dark = datetime.fromisoformat(night["dark"]["start"]).astimezone(LARKMOOR.local)
        assert f"{dark:%Y-%m-%d %H:%M}" == cells["dark_start_local"]
        assert night.keys() >= {"rise", "set", "dark"}


def test_targets_are_told_as_the_wish_list_was_read() -> None:
    targets, told = answered("targets")
    assert isinstance(targets, tuple)
    for target, one in zip(targets, told, strict=True):
        assert set(one) == {field.name for field in fields(Target)} | {"what"}
        for name in ("name", "priority", "visits", "spacing_days", "ra_deg", "dec_deg", "magnitude"):
            assert one[name] == getattr(target, name)
        assert one["kind"] == target.kind.value
    by_name = {one["name"]: one for one in told}
    assert by_name["Albireo"]["nature"] == {
        "bright_mag": 3.2, "faint_mag": 4.7, "separation_arcsec": 34.6, "position_angle_deg": None,
    }  # fmt: skip
    assert by_name["Open evening"]["nature"]["start"] == "2027-01-08T20:00:00Z"


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (ORION, "globular cluster"),
        (ANDROMEDA, "galaxy, type Sb"),
        (replace(ORION, nature=Extended("open cluster", stars=80)), "open cluster of about 80 stars"),
        (ALBIREO, "double star of 3.2 and 4.7 mag, 34.6″ apart"),
        (
            replace(ALBIREO, nature=Pair(3.2, 4.7, 34.6, 54.3)),
            "double star of 3.2 and 4.7 mag, 34.6″ apart at 54°",
        ),
        (ALGOL, "variable star of 2.1 to 3.4 mag, a minimum every 2.86732 days"),
        (replace(ALGOL, nature=LightCurve(2.1, 3.4)), "variable star of 2.1 to 3.4 mag"),
        (JUPITER, "planet"),
        (PLATO, "feature of the Moon, 101 km across, at 51.6° north and 9.3° west"),
        (VESTA, "minor planet of absolute magnitude 3.2, 2.15 au at perihelion"),
        (COMET, "comet of absolute magnitude 3.0, 1.20 au at perihelion"),
        (PERSEIDS, "meteor shower of up to 100 meteors an hour"),
        (ECLIPSE, "eclipse"),
        (TALK, "event from 2027-01-08T20:00:00Z to 2027-01-08T21:30:00Z"),
    ],
)  # fmt: skip
def test_what_a_target_is_is_told_in_words(target: Target, words: str) -> None:
    assert what_of(target) == words


@pytest.mark.parametrize("figure", [float("nan"), float("inf"), -float("inf")])
def test_a_figure_that_has_no_value_is_null(figure: float) -> None:
    told = read(answer_to_json([Up("Halo", "planet", "Leo", 10.0, 20.0, figure)]))
    assert told[0]["magnitude"] is None


def test_sets_are_told_in_order_and_moments_of_any_clock_in_utc() -> None:
    evenings = frozenset(date(2027, 1, day) for day in (9, 3, 27, 14))
    assert plain_of(evenings) == ["2027-01-03", "2027-01-09", "2027-01-14", "2027-01-27"]
    assert plain_of(datetime(2027, 7, 1, 12, tzinfo=LARKMOOR.local)) == "2027-07-01T11:00:00Z"
