"""Read the tables of published figures about the sky."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from scheduler.sky.ephemeris import Floats, times_of

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Figure:
    """A published value, and how closely it is to be met."""

    text: str
    tolerance: float

    @property
    def value(self) -> float:
        return float(self.text)

    @property
    def unix_s(self) -> float:
        return datetime.fromisoformat(self.text).timestamp()

    def holds(self, computed: float) -> bool:
        return abs(float(computed) - self.value) <= self.tolerance


def rows_of(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


FIGURES = {row["check"]: Figure(row["value"], float(row["tolerance"])) for row in rows_of("sky.csv")}


def unix_of_tt(julian_day: float) -> float:
    """Return the Unix time at which terrestrial time shows a Julian day."""
    guess = (julian_day - 2440587.5) * 86400.0
    for _ in range(3):
        guess -= (float(times_of(_one(guess)).tt[0]) - julian_day) * 86400.0
    return guess


def unix_of_ut1(julian_day: float) -> float:
    """Return the Unix time at which universal time shows a Julian day."""
    guess = (julian_day - 2440587.5) * 86400.0
    for _ in range(3):
        guess -= (float(times_of(_one(guess)).ut1[0]) - julian_day) * 86400.0
    return guess


def _one(value: float) -> Floats:
    return np.array([value])
