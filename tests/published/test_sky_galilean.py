"""Jupiter's moons as worked out in print, and their shadows as magazines announced them."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import numpy as np
import pytest

from scheduler.sky.ephemeris import ephemeris, planet, times_of
from scheduler.sky.galilean import MOONS, moons_radii, shadow_transits_of
from scheduler.sky.orbits import AU_KM

from .sky_figures import FIGURES, rows_of, unix_of_tt

BEHIND = (17295.0, 21819.0, 27558.0, 36548.0)
"""By how little the light of what is behind or before Jupiter is late (Meeus, p. 313)."""


def test_places_worked_out_in_print() -> None:
    times = times_of(np.array([unix_of_tt(2448972.50068)]))
    jupiter = ephemeris()["earth"].at(times).observe(planet("jupiter"))
    sight = np.asarray(jupiter.xyz.au)
    distance_au = np.sqrt((sight**2).sum())
    sight = sight / distance_au
    moons, pole = moons_radii(np.asarray(times.tdb) - np.asarray(jupiter.light_time))
    up = pole - (pole * sight).sum(axis=0) * sight
    up /= np.sqrt((up**2).sum())
    west = np.cross(sight, up, axis=0)
    for row, moon in enumerate(MOONS):
        place = moons[:, row]
        x, y, z = ((place * axis).sum() for axis in (west, up, sight))
        x += abs(z) / BEHIND[row] * np.sqrt(1.0 - x**2 / (place**2).sum())
        nearer = distance_au / (distance_au + z * 71492.0 / AU_KM)
        assert FIGURES[f"{moon} X 1992-12-16"].holds(x * nearer)
        assert FIGURES[f"{moon} Y 1992-12-16"].holds(y * nearer)


@pytest.mark.parametrize(
    "row", rows_of("sky_shadows.csv"), ids=lambda r: f"{r['moon']} {r['end']} {r['instant_utc'][:10]}"
)
def test_shadow(row: dict[str, str]) -> None:
    published = datetime.fromisoformat(row["instant_utc"])
    (found,) = (
        getattr(transit.span, row["end"])
        for transit in shadow_transits_of(published.date(), published.date())
        if transit.moon == row["moon"]
    )
    assert abs(found - published) <= timedelta(seconds=float(row["tolerance_s"]))


def test_three_shadows_at_once_on_the_one_day() -> None:
    # Universe Today, 2015-01: from 6:26 to 6:54 UT, and not again before 2032-03-20.
    transits = shadow_transits_of(date(2015, 1, 24), date(2015, 1, 24))
    assert {transit.moon for transit in transits} == {"Io", "Europa", "Callisto"}
    start, end = max(t.span.start for t in transits), min(t.span.end for t in transits)
    assert abs(start - datetime.fromisoformat("2015-01-24T06:26:00+00:00")) < timedelta(minutes=2)
    assert abs(end - datetime.fromisoformat("2015-01-24T06:54:00+00:00")) < timedelta(minutes=3)
