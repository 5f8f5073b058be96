"""Jupiter's moons keep their orbits, and a year of shadows holds each of them once."""

from __future__ import annotations

import itertools
from datetime import date, timedelta

import numpy as np
import pytest

from scheduler.errors import OutsideEphemeris
from scheduler.sky.galilean import MOONS, moons_radii, shadow_transits_of

YEAR = (date(2026, 1, 1), date(2026, 12, 31))


def test_moons_keep_their_distances_and_their_planet_its_pole() -> None:
    moons, pole = moons_radii(2461000.5 + np.linspace(0.0, 400.0, 2000))
    distance = np.sqrt((moons**2).sum(axis=0))
    # Meeus ch. 44: 5.9, 9.4, 15.0, 26.4 radii, eccentricities at most 0.01.
    for row, mean in enumerate((5.9057, 9.3966, 14.9883, 26.3627)):
        assert distance[row] == pytest.approx(np.full(2000, mean), rel=0.011)
    # Jupiter's pole, 268.057 and 64.495 degrees (Archinal et al. 2018): E5's own is within 0.1.
    ra, dec = np.radians([268.057, 64.495])
    expected = np.array([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)])
    assert np.degrees(np.arccos(np.clip(expected @ pole, -1.0, 1.0))).max() < 0.1
    # Their planes lie within a degree of the equator's.
    assert np.abs((moons * pole[:, None]).sum(axis=0) / distance).max() < 0.02


def test_a_years_shadows_come_once_a_turn() -> None:
    transits = shadow_transits_of(*YEAR)
    # Synodic periods: 1.7699, 3.5541, 7.1664, 16.7536 days (Meeus ch. 44, from memory).
    for moon, period_d, hours in zip(
        MOONS, (1.7699, 3.5541, 7.1664, 16.7536), (2.4, 3.0, 3.8, 5.3), strict=True
    ):
        spans = [t.span for t in transits if t.moon == moon]
        assert len(spans) == pytest.approx(365.0 / period_d, abs=1.0)
        for one, next_one in itertools.pairwise(spans):
            assert (next_one.middle - one.middle) / timedelta(days=1) == pytest.approx(period_d, abs=0.05)
        assert max(span.minutes for span in spans) < 60.0 * hours
    assert list(transits) == sorted(transits, key=lambda t: t.span.start)


def test_days_are_kept_and_what_overlaps_is_whole() -> None:
    whole = shadow_transits_of(*YEAR)
    late = next(t for t in whole if t.span.start.date() != t.span.end.date())
    for day in (late.span.start.date(), late.span.end.date()):
        again = [t for t in shadow_transits_of(day, day) if t.moon == late.moon]
        assert any(
            abs(t.span.start - late.span.start) < timedelta(seconds=1)
            and abs(t.span.end - late.span.end) < timedelta(seconds=1)
            for t in again
        )
    assert all(
        t.span.start.date() <= date(2026, 5, 5) <= t.span.end.date()
        for t in shadow_transits_of(date(2026, 5, 5), date(2026, 5, 5))
    )


def test_callisto_misses_the_disc_for_years() -> None:
    # Around 2018 Jupiter's equator was turned to the Sun's north by 3.4 degrees, and Callisto's shadow passed
    # beside it (common knowledge of observers, no source).
    assert "Callisto" not in {t.moon for t in shadow_transits_of(date(2018, 1, 1), date(2018, 3, 1))}


def test_dates_are_checked() -> None:
    with pytest.raises(OutsideEphemeris):
        shadow_transits_of(date(2026, 1, 1), date(2099, 1, 1))
