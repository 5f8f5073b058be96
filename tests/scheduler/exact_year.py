"""The best that can be expected of a small season under weather, by trying every programme in every state."""

from __future__ import annotations

from functools import cache
from itertools import combinations, product

import numpy as np

from scheduler.order import NightVisits, order_of
from scheduler.policy import WeatherSeason
from scheduler.simulation import Bools

Floats = np.ndarray[tuple[int], np.dtype[np.float64]]


def all_weathers(season: WeatherSeason) -> tuple[Bools, Floats]:
    """Every weather there can be, and its probability."""
    nights = len(season.odds)
    clear = np.array(list(product((False, True), repeat=nights)))
    odds = np.where(clear[:, 0], season.odds[0], 1 - season.odds[0])
    for night in range(1, nights):
        after_cloud, after_clear = season.chain.clear_after(night - 1)
        after = np.where(clear[:, night - 1], after_clear, after_cloud)
        odds = odds * np.where(clear[:, night], after, 1 - after)
    return clear, odds


def programmes_of(season: WeatherSeason, night: int) -> list[tuple[int, ...]]:
    """Every set of rows of the night that can be walked."""
    rows, o = season.rows_of(night), season.opportunities
    at, found = list(range(rows.start, rows.stop)), list[tuple[int, ...]]([()])
    for size in range(1, len(at) + 1):
        for subset in combinations(at, size):
            some = np.array(subset)
            visits = NightVisits(o.start_min[some], o.end_min[some], season.minutes[o.target[some]],
                                 o.best_min[some], season.move_min)  # fmt: skip
            if len(np.unique(o.target[some])) == size and order_of(visits) is not None:
                found.append(subset)
    return found


def best_expected(season: WeatherSeason) -> float:
    """What the best policy expects, weather known up to the night only."""
    o, nights = season.opportunities, len(season.odds)
    choices = [programmes_of(season, night) for night in range(nights)]

    @cache
    def value(night: int, left: tuple[int, ...], ready: tuple[int, ...], clear: bool) -> float:
        """What `night` and the later ones bring if it is as `clear` says."""
        if not clear:
            return onward(night, left, ready, clear)
        best = 0.0
        for rows in choices[night]:
            targets = [int(o.target[row]) for row in rows]
            if all(left[t] and ready[t] <= night for t in targets):
                fewer, free = list(left), list(ready)
                for t in targets:
                    fewer[t] -= 1
                    free[t] = int(season.rest[t, night]) if fewer[t] else 0
                gained = sum(float(season.value[row]) for row in rows)
                best = max(best, gained + onward(night, tuple(fewer), tuple(free), clear))
        return best

    def onward(night: int, left: tuple[int, ...], ready: tuple[int, ...], clear: bool) -> float:
        if night + 1 == nights:
            return 0.0
        odds = season.chain.clear_after(night)[clear]
        return odds * value(night + 1, left, ready, True) + (1 - odds) * value(night + 1, left, ready, False)

    state = tuple(season.visits.tolist()), (0,) * len(season.visits)
    return float(season.odds[0]) * value(0, *state, True) + float(1 - season.odds[0]) * value(
        0, *state, False
    )
