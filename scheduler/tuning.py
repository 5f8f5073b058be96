"""How much of the nights' time prices should count on, found by living through drawn years with each part.

How far the time of a night can be filled depends on the sky and the list: on how many targets want the same
hour, on how long visits are against the night. So it is not a constant of ours but learned from the season
itself, before it begins, under weather drawn for this alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .domain.progress import Cancel, never_cancelled
from .policy import Repriced, WeatherSeason
from .simulation import draw_weather, live

PARTS = 1.0, 0.85, 0.7, 0.55  # of the nights' time
LATER = 0.95
YEARS = 20  # lived through with each
LABELS = 40


def tuned_part(
    season: WeatherSeason, seed: int, years: int = YEARS, parts: Sequence[float] = PARTS,
    cancel: Cancel = never_cancelled,
) -> float:  # fmt: skip
    """Return the part of the nights' time under which prices bring most, the first of equals. [0..1]

    Parameters
    ----------
    seed : Of the weather lived through; not the one whose years are then to be judged.
    years : How many; every part is tried in the same ones.
    parts : Those tried.

    Raises
    ------
    Cancelled
        When asked to stop.
    """
    clear = draw_weather(season.chain, years, seed)
    policies = [Repriced(season, later=LATER, labels=LABELS, filled=part) for part in parts]
    brought = [float(live(season, policy, clear, cancel).value.mean()) for policy in policies]
    return parts[int(np.argmax(brought))]


def tuned(season: WeatherSeason, seed: int, years: int = YEARS) -> Repriced:
    """Return the policy with prices refitted every night that brings most in years of `seed`."""
    return Repriced(season, later=LATER, labels=LABELS, filled=tuned_part(season, seed, years))
