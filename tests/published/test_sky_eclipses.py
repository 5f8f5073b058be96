"""Lunar eclipses against NASA's lists and Meeus; sources stand in the tables."""

from __future__ import annotations

import itertools
from datetime import date, datetime, timedelta

import pytest

from scheduler.sky.eclipses import LunarEclipse, eclipse_phases_of
from scheduler.sky.events import lunar_eclipses_of

from .sky_figures import FIGURES, rows_of

CANON = rows_of("sky_eclipses.csv")


def half_min(eclipse: LunarEclipse, phase: str) -> float:
    span = getattr(eclipse, phase)
    return span.minutes / 2.0 if span else 0.0


def test_every_eclipse_of_the_canon_and_no_other() -> None:
    found = eclipse_phases_of(date(2020, 1, 1), date(2035, 12, 31))
    assert [e.kind.value for e in found] == [row["kind"] for row in CANON]
    for eclipse, row in zip(found, CANON, strict=True):
        assert abs(eclipse.greatest - datetime.fromisoformat(row["greatest_utc"])) < timedelta(seconds=60)
        assert eclipse.penumbral_magnitude == pytest.approx(
            float(row["penumbral_magnitude"]) - 0.027, abs=0.006
        )
        assert eclipse.umbral_magnitude == pytest.approx(float(row["umbral_magnitude"]) - 0.005, abs=0.006)


def test_phases_last_as_long_as_in_the_canon() -> None:
    # A graze lasts by the root of its depth, so there a rule's small difference shows as minutes.
    for eclipse, row in zip(eclipse_phases_of(date(2020, 1, 1), date(2035, 12, 31)), CANON, strict=True):
        for phase, column in (("partial", "partial_half_min"), ("total", "total_half_min")):
            published = float(row[column] or 0.0)
            grazes = published and min(abs(eclipse.umbral_magnitude - edge) for edge in (0.0, 1.0)) < 0.03
            assert half_min(eclipse, phase) == pytest.approx(published, abs=3.0 if grazes else 1.5)


@pytest.mark.parametrize("row", rows_of("sky_contacts.csv"), ids=lambda r: f"{r['day']} {r['contact']}")
def test_contact(row: dict[str, str]) -> None:
    day = date.fromisoformat(row["day"])
    (eclipse,) = eclipse_phases_of(day, day)
    phase, _, end = row["contact"].partition(" ")
    found = eclipse.greatest if phase == "greatest" else getattr(getattr(eclipse, phase), end)
    assert abs((found - datetime.fromisoformat(row["instant_utc"])).total_seconds()) <= float(
        row["tolerance_s"]
    )


def test_eclipses_worked_out_in_print() -> None:
    (penumbral,) = eclipse_phases_of(date(1973, 6, 15), date(1973, 6, 15))
    (total,) = eclipse_phases_of(date(1997, 9, 16), date(1997, 9, 16))
    assert FIGURES["penumbral magnitude 1973-06-15"].holds(penumbral.penumbral_magnitude)
    assert FIGURES["umbral magnitude 1997-09-16"].holds(total.umbral_magnitude)
    assert FIGURES["penumbral half 1973-06-15"].holds(half_min(penumbral, "penumbral"))
    for phase in ("total", "partial", "penumbral"):
        assert FIGURES[f"{phase} half 1997-09-16"].holds(half_min(total, phase))


def test_the_shortest_total_eclipse_of_the_century_is_total() -> None:
    # 2015-04-04: total for 4 min 48 s (ww1.inside.lk quoting the almanac of 2018), umbral magnitude 1.0008
    # (Five Millennium Canon, from memory): a radius of the Sun 0.05 % larger makes it partial.
    (eclipse,) = eclipse_phases_of(date(2015, 4, 4), date(2015, 4, 4))
    assert eclipse.total is not None
    assert eclipse.total.minutes == pytest.approx(4.8, abs=0.5)
    assert eclipse.umbral_magnitude == pytest.approx(1.0008, abs=0.0004)


def test_phases_nest_and_agree_with_the_events() -> None:
    years = date(2000, 1, 1), date(2050, 12, 31)
    found, events = eclipse_phases_of(*years), lunar_eclipses_of(*years)
    assert [e.greatest for e in found] == [e.instant for e in events]
    assert [e.kind for e in found] == [e.kind for e in events]
    for eclipse in found:
        spans = [s for s in (eclipse.penumbral, eclipse.partial, eclipse.total) if s]
        for outer, inner in itertools.pairwise(spans):
            assert outer.start < inner.start < eclipse.greatest < inner.end < outer.end
        assert (eclipse.partial is not None) == (eclipse.umbral_magnitude > 0.0)
        assert (eclipse.total is not None) == (eclipse.umbral_magnitude > 1.0)
    assert eclipse_phases_of(date(2026, 1, 1), date(2026, 2, 1)) == ()
