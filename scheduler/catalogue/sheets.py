"""Read a table of `data`, and the Latin of constellations for the names of stars."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


def sheet(name: str) -> list[dict[str, str]]:
    """Return the rows of one table by the names of its columns."""
    text = (files(__package__) / "data" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def latin() -> dict[str, tuple[str, str]]:
    """Return the name and the genitive of every constellation, by abbreviation."""
    return {row["abbreviation"]: (row["name"], row["genitive"]) for row in sheet("constellations.csv")}


def in_full(star: str) -> str:
    """Return a star's designation with the constellation's genitive, other names as they are.

    >>> in_full("Alpha Tau"), in_full("51 And"), in_full("R Leo"), in_full("Albireo")
    ('Alpha Tauri', '51 Andromedae', 'R Leonis', 'Albireo')
    """
    letter, _, abbreviation = star.rpartition(" ")
    return f"{letter} {latin()[abbreviation][1]}" if abbreviation in latin() else star


def full_name(abbreviation: str) -> str:
    """Return the IAU name of a constellation.

    >>> full_name("Tau")
    'Taurus'
    """
    return latin()[abbreviation][0]


def constellation_of_star(star: str) -> str:
    """Return the constellation a star's designation names.

    >>> constellation_of_star("Alpha Tau")
    'Taurus'
    """
    return full_name(star.rpartition(" ")[2])
