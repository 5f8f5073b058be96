"""Events keep to the dates asked for, and nothing is invented."""

from __future__ import annotations

import itertools
from datetime import date, timedelta

import pytest

from scheduler.errors import OutsideEphemeris, UnknownName
from scheduler.sky.events import (
    EventKind,
    conjunctions_of,
    greatest_elongations_of,
    lunar_eclipses_of,
    moon_phases_of,
    oppositions_of,
)


def test_inner_planets_have_no_opposition_and_outer_ones_no_greatest_elongation() -> None:
    year = date(2026, 1, 1), date(2026, 12, 31)
    assert oppositions_of("venus", *year) == ()
    assert greatest_elongations_of("jupiter", *year) == ()
    assert {e.kind for e in conjunctions_of("mercury", *year)} == {
        EventKind.INFERIOR_CONJUNCTION, EventKind.SUPERIOR_CONJUNCTION,
    }  # fmt: skip
    (meeting,) = conjunctions_of("mars", *year)
    assert meeting.kind is EventKind.CONJUNCTION
    assert meeting.value < 2.0


def test_both_dates_are_included_and_nothing_beyond() -> None:
    whole = moon_phases_of(date(2026, 1, 1), date(2026, 12, 31))
    assert len(whole) in (49, 50)
    assert list(whole) == sorted(whole, key=lambda e: e.instant)
    kinds = [e.value / 90.0 for e in whole]
    assert all((b - a) % 4 == 1 for a, b in itertools.pairwise(kinds))
    day = whole[7].instant.date()
    (again,) = moon_phases_of(day, day)
    assert abs(again.instant - whole[7].instant) < timedelta(seconds=1)
    assert moon_phases_of(day + timedelta(days=1), day + timedelta(days=2)) == ()


def test_eclipses_fall_on_full_moons() -> None:
    years = date(2026, 1, 1), date(2027, 12, 31)
    full = [e.instant for e in moon_phases_of(*years) if e.kind is EventKind.FULL_MOON]
    eclipses = lunar_eclipses_of(*years)
    assert len(eclipses) == 5  # NASA Five Millennium Canon (from memory)
    assert all(min(abs(e.instant - f) for f in full) < timedelta(minutes=30) for e in eclipses)


def test_dates_and_names_are_checked() -> None:
    with pytest.raises(OutsideEphemeris):
        moon_phases_of(date(2026, 1, 1), date(2099, 1, 1))
    with pytest.raises(UnknownName):
        oppositions_of("vulcan", date(2026, 1, 1), date(2026, 2, 1))
