"""Seasons rebuilt from code: random targets under a simple sky, realistic in shape rather than exact.

Times are minutes after noon of day 0. The observer stands at 48 degrees north; the Sun, the Moon and the
stars move on circles. What matters is kept: every target has its season, its window moves about four
minutes a night, the Moon spoils half of every month, and several stretches of a night nest or part.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np

from scheduler.assignment.problem import Problem
from scheduler.domain.opportunity import Floats, Ints, Opportunities
from scheduler.policy import WeatherSeason
from scheduler.prices import NowOrLater

STEP_MIN = 10
LATITUDE = np.radians(48.0)


@dataclass(frozen=True, eq=False)
class Instance:
    """A season: its opportunities and what `NowOrLater` and `Problem` need beside them."""

    opportunities: Opportunities
    weights: Floats
    minutes: Ints
    visits: Ints
    spacing_days: Ints
    night_day: Ints
    odds: Floats
    persistence: float = 0.3

    def season(self) -> WeatherSeason:
        """Return the season as policies live through it."""
        return WeatherSeason(
            self.opportunities, self.weights, self.minutes, self.visits, self.spacing_days, self.night_day,
            self.odds, self.persistence,
        )  # fmt: skip

    def problem(self, mu: Floats | None = None) -> Problem:
        """Return the assignment problem under night prices `mu` (none: time is free later on)."""
        mu = np.zeros(len(self.night_day)) if mu is None else mu
        season = NowOrLater(
            self.opportunities, self.weights, self.minutes + 4, self.odds, self.persistence, mu,
            self.visits, self.spacing_days, self.night_day,
        )  # fmt: skip
        return Problem(self.opportunities, season.worths, self.minutes, self.visits, self.spacing_days,
                       self.night_day, move_min=4)  # fmt: skip


def r110w() -> Instance:
    """110 random targets on 46 weekend nights."""
    return make(110, 46, seed=110, hours=3.5)


def c400() -> Instance:
    """390 targets on 121 nights."""
    return make(390, 121, seed=400, hours=3.0)


def d1000() -> Instance:
    """977 targets on 131 nights."""
    return make(977, 131, seed=1000, hours=4.0)


def make(targets: int, nights: int, seed: int, hours: float) -> Instance:
    """Return a random season of `targets` targets, out for about `hours` on each of `nights` nights."""
    rng = np.random.default_rng(seed)
    ra = rng.uniform(0, 2 * np.pi, targets)
    dec = np.arcsin(rng.uniform(np.sin(np.radians(-25)), 1, targets))
    frail = rng.uniform(0.3, 1.0, targets)  # how much moonlight takes from it
    minutes = rng.choice([15, 20, 20, 20, 30, 40], targets).astype(np.int64)
    visits = np.where(rng.random(targets) < 0.06, rng.integers(2, 4, targets), 1).astype(np.int64)
    night_day = np.unique(np.round(np.arange(nights) * 365 / nights)).astype(np.int64)
    length = hours * 60 * rng.uniform(0.7, 1.3, nights)
    columns: list[tuple[int, int, int, int, int, float]] = []
    for night, day in enumerate(night_day):
        columns += _rows_of(night, int(day), float(length[night]), ra, dec, frail, minutes)
    columns.sort(key=lambda row: (row[1], row[0], row[2]))
    table = np.array(columns)
    t, n, s, e, b = (table[:, i].astype(np.int64) for i in range(5))
    opportunities = Opportunities(
        datetime(2027, 1, 1, 12, tzinfo=UTC), targets, nights, t, n, s, e, b, table[:, 5].copy()
    )
    odds = 0.42 - 0.14 * np.cos(2 * np.pi * (night_day - 10) / 365)
    weights = rng.choice([1.0, 2.0, 3.0, 4.0, 5.0], targets, p=[0.1, 0.2, 0.4, 0.2, 0.1])
    spacing = np.full(targets, 14, np.int64)
    return Instance(opportunities, weights, minutes, visits, spacing, night_day, odds)


def _sin_altitude(ra: Floats, dec: Floats, sidereal: Any) -> Floats:
    hour = sidereal[None, :] - ra[:, None]
    across = np.cos(LATITUDE) * np.cos(dec)[:, None] * np.cos(hour)
    sine: Floats = np.sin(LATITUDE) * np.sin(dec)[:, None] + across
    return sine


def _rows_of(
    night: int, day: int, length: float, ra: Floats, dec: Floats, frail: Floats, minutes: Ints
) -> list[tuple[int, int, int, int, int, float]]:
    """Rows of one night: stretches of at least 90, 65 and 40 per cent of the target's best merit then."""
    clock = np.arange(0, 1440, STEP_MIN)
    sun = 2 * np.pi * (day - 80) / 365.25
    sidereal = sun + np.pi / 720 * (clock * 1.0)  # noon: the Sun culminates
    sun_dec = np.radians(23.4) * np.sin(sun)
    dark = _sin_altitude(np.array([sun]), np.array([sun_dec]), sidereal)[0] < np.sin(np.radians(-15))
    first = clock[dark][0] if dark.any() else 700
    usable = (dark | (~dark.any())) & (clock >= max(first, 480)) & (clock < max(first, 480) + length)
    phase = 2 * np.pi * day / 29.53
    moon_ra, moon_dec = sun + phase, np.radians(23.4) * np.sin(sun + phase)
    moon = _sin_altitude(np.array([moon_ra]), np.array([moon_dec]), sidereal)[0] > 0
    glare = moon * ((1 - np.cos(phase)) / 2) ** 0.7
    sine = _sin_altitude(ra, dec, sidereal)
    merit = np.clip(sine, 0, 1) ** 0.7 * (1 - 0.9 * frail[:, None] * glare[None, :])
    merit = np.where((sine > np.sin(np.radians(22))) & usable[None, :], merit, 0.0)
    rows = []
    for target in np.flatnonzero(merit.max(axis=1) > 0.05):
        rows += _stretches(int(target), night, day * 1440, merit[target], int(minutes[target]))
    return rows


def _stretches(
    target: int, night: int, noon: int, merit: Floats, minutes: int
) -> list[tuple[int, int, int, int, int, float]]:
    found: dict[tuple[int, int], tuple[int, int, int, int, int, float]] = {}
    for level in (0.9, 0.65, 0.4):
        inside = np.concatenate([[False], merit >= level * merit.max(), [False]])
        edges = np.flatnonzero(np.diff(inside.astype(np.int8)))
        for a, b in zip(edges[::2], edges[1::2], strict=True):
            start, end = noon + int(a) * STEP_MIN, noon + int(b) * STEP_MIN
            if end - start >= minutes and (start, end) not in found:
                best = noon + int(a + np.argmax(merit[a:b])) * STEP_MIN
                best = min(max(best, start + minutes // 2), end - minutes // 2)
                found[start, end] = (target, night, start, end, best, float(merit[a:b].mean()))
    return list(found.values())


def small(seed: int, targets: int = 5, nights: int = 6, often: bool = True) -> Instance:
    """Return a season so small that every way through it can be tried: short nights, a few days apart."""
    rng = np.random.default_rng(seed)
    night_day = np.cumsum(rng.integers(1, 4, nights)).astype(np.int64)
    minutes = rng.choice([15, 20, 30], targets).astype(np.int64)
    rows = []
    for night, day in enumerate(night_day.tolist()):
        for target in np.flatnonzero(rng.random(targets) < 0.75).tolist():
            start = int(day * 1440 + 480 + rng.integers(0, 30))
            end = start + int(minutes[target] + rng.integers(0, 30))
            rows.append((target, night, start, end, (start + end) // 2, float(rng.uniform(0.1, 1.0))))
    table = np.array(rows)
    t, n, s, e, b = (table[:, i].astype(np.int64) for i in range(5))
    opportunities = Opportunities(
        datetime(2027, 1, 1, 12, tzinfo=UTC), targets, nights, t, n, s, e, b, table[:, 5].copy()
    )
    visits = np.where(rng.random(targets) < 0.3, 2, 1) if often else np.ones(targets)
    return Instance(
        opportunities, rng.choice([1.0, 2.0, 3.0], targets), minutes, visits.astype(np.int64),
        rng.integers(1, 6, targets).astype(np.int64), night_day, rng.uniform(0.15, 0.75, nights),
        float(rng.uniform(0, 0.6)),
    )  # fmt: skip
