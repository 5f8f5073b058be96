"""Answers in words: how a target stands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.answer_words import stands
from tests.small_plan import sight


@pytest.mark.parametrize(
    ("moon_altitude_deg", "apart_deg", "moon"),
    [
        (20.0, 57.0, "Moon 63 % lit, 57° away"),
        (20.0, 0.4, "Moon 63 % lit, 0° away"),
        (20.0, 0.0, "Moon 63 % lit"),  # on her: away from her makes no sense
        (-1.0, 57.0, "Moon down"),
    ],
)
def test_the_moon_is_said_to_be_away_from_what_is_not_on_her(
    moon_altitude_deg: float, apart_deg: float, moon: str
) -> None:
    stood = replace(
        sight(), moon_lit_fraction=0.63, moon_altitude_deg=moon_altitude_deg, moon_separation_deg=apart_deg
    )
    assert stands(stood) == f"40° up in the south, {moon}"
