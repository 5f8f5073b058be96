"""Twilights, phases, oppositions, elongations, eclipses as almanacs have them; sources in the tables."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from scheduler.domain import Site
from scheduler.sky import sky_of, sun_at
from scheduler.sky.events import (
    Event,
    EventKind,
    conjunctions_of,
    greatest_elongations_of,
    lunar_eclipses_of,
    moon_phases_of,
    oppositions_of,
)
from scheduler.sky.planets import looks_at

from .sky_figures import FIGURES, rows_of, unix_of_tt

BLUFFTON = Site("Bluffton", 40.8939, -83.8917, 0.0, "America/New_York", 20.0, 0.25)
DEFIANCE = Site("Defiance", 41.281944, -84.362778, 0.0, "America/New_York", 20.0, 0.25)


def found_for(row: dict[str, str]) -> tuple[Event, ...]:
    """Every event of the row's kind on its UTC date."""
    day, body, kind = date.fromisoformat(row["instant_utc"][:10]), row["body"], EventKind(row["kind"])
    searches: dict[str, Callable[[], tuple[Event, ...]]] = {
        "opposition": lambda: oppositions_of(body, day, day),
        "elongation": lambda: greatest_elongations_of(body, day, day),
        "conjunction": lambda: conjunctions_of(body, day, day),
        "eclipse": lambda: lunar_eclipses_of(day, day),
    }
    search = searches.get(kind.value.split()[-1], lambda: moon_phases_of(day, day))
    return tuple(event for event in search() if event.kind is kind)


@pytest.mark.parametrize(
    "row", rows_of("sky_events.csv"), ids=lambda r: f"{r['body']} {r['instant_utc'][:10]}"
)
def test_almanac(row: dict[str, str]) -> None:
    (event,) = found_for(row)
    assert event.body == row["body"]
    if float(row["tolerance_s"]):
        published = datetime.fromisoformat(row["instant_utc"])
        assert abs(event.instant - published) <= timedelta(seconds=float(row["tolerance_s"]))


def unix_s(events: tuple[Event, ...], kind: EventKind) -> float:
    (event,) = (e for e in events if e.kind is kind)
    return event.instant.timestamp()


@pytest.mark.parametrize(
    ("check", "kind", "first"),
    [
        ("new Moon 1977-02", EventKind.NEW_MOON, date(1977, 2, 5)),
        ("last quarter 2044-01", EventKind.LAST_QUARTER, date(2044, 1, 15)),
    ],
)
def test_phases_worked_out_in_print(check: str, kind: EventKind, first: date) -> None:
    found = unix_s(moon_phases_of(first, first + timedelta(days=20)), kind)
    figure = FIGURES[check]
    assert abs(found - unix_of_tt(figure.value)) <= figure.tolerance * 86400.0


@pytest.mark.parametrize(
    ("check", "kind"),
    [("first quarter 2018-09", EventKind.FIRST_QUARTER), ("full Moon 2018-09", EventKind.FULL_MOON)],
)
def test_phases_of_the_naval_observatory(check: str, kind: EventKind) -> None:
    found = unix_s(moon_phases_of(date(2018, 9, 1), date(2018, 9, 29)), kind)
    assert abs(found - FIGURES[check].unix_s) <= FIGURES[check].tolerance


def test_elongation_worked_out_in_print() -> None:
    when, angle = (FIGURES[f"Mercury greatest western elongation 1993{a}"] for a in ("", " angle"))
    (event,) = greatest_elongations_of("mercury", date(1993, 11, 1), date(1993, 11, 30))
    assert event.kind is EventKind.WESTERN_ELONGATION
    assert abs(event.instant.timestamp() - unix_of_tt(when.value)) <= when.tolerance * 86400.0
    assert angle.holds(event.value)


def test_eclipses_worked_out_in_print() -> None:
    (penumbral,) = lunar_eclipses_of(date(1973, 6, 15), date(1973, 6, 16))
    figure = FIGURES["penumbral eclipse 1973-06-15"]
    assert penumbral.kind is EventKind.PENUMBRAL_ECLIPSE
    assert abs(penumbral.instant.timestamp() - unix_of_tt(figure.value)) <= figure.tolerance * 86400.0
    for day in (date(1997, 9, 16), date(2027, 8, 17)):
        (eclipse,) = lunar_eclipses_of(day, day)
        assert FIGURES[f"umbral magnitude {day}"].holds(eclipse.value)


def test_mars_opposition() -> None:
    (event,) = oppositions_of("mars", date(2020, 10, 1), date(2020, 10, 31))
    figure = FIGURES["Mars opposition 2020"]
    assert abs(event.instant.timestamp() - figure.unix_s) <= figure.tolerance


def test_sunset_and_twilights() -> None:
    bluffton = sky_of(BLUFFTON, [date(2018, 9, 12)])
    defiance = sky_of(DEFIANCE, [date(2019, 11, 7), date(2019, 11, 8)])
    found = {
        "sunset Bluffton": bluffton.sunset_unix_s[0],
        "Sun -18 morning Defiance": defiance.dark_end_unix_s[0],
        "Sun -6 evening Defiance": defiance.twilit_start_unix_s[1],
        "Sun -0.8333 morning Defiance": defiance.sunrise_unix_s[0],
    }
    late = {name: found[name] - FIGURES[name].unix_s for name in found}
    assert {name: s for name, s in late.items() if abs(s) > FIGURES[name].tolerance} == {}


@pytest.mark.parametrize(
    ("check", "turn"), [("Sun -12 morning Defiance", 1), ("Sun -12 evening Defiance", -1)]
)
def test_nautical_twilight(check: str, turn: int) -> None:
    sky = sky_of(DEFIANCE, [date(2019, 11, 7), date(2019, 11, 8)])
    figure = FIGURES[check]
    before, after = sun_at(
        sky, [figure.unix_s - figure.tolerance, figure.unix_s + figure.tolerance]
    ).altitude_deg
    assert turn * (before + 12.0) < 0.0 < turn * (after + 12.0)


def test_events_carry_their_time_in_utc() -> None:
    (event,) = moon_phases_of(date(2026, 8, 12), date(2026, 8, 12))
    assert event.instant.tzinfo is UTC


@pytest.mark.parametrize("row", rows_of("sky_oppositions.csv"), ids=lambda r: f"{r['body']} {r['day']}")
def test_planets_look_as_announced_at_opposition(row: dict[str, str]) -> None:
    day = date.fromisoformat(row["day"])
    (event,) = oppositions_of(row["body"], day, day)
    disc_arcsec, magnitude = looks_at(row["body"], np.array([event.instant.timestamp()]))[:2, 0]
    assert disc_arcsec == pytest.approx(float(row["disc_arcsec"]), abs=float(row["disc_within"]))
    assert magnitude == pytest.approx(float(row["magnitude"]), abs=float(row["magnitude_within"]))
