"""A pad on which readers note what is wrong and go on reading."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from typing import Any, TypeVar

from ..errors import Fault, InvalidValue

Noun = TypeVar("Noun")

LONGEST_QUOTE = 80  # characters of what stands in the file that a fault repeats


SAID = {"odds": "monthly"}
"""Words the nouns' refusals end with, and the key they mean."""

COLUMN = {"longitude_deg": "moon_longitude_deg", "latitude_deg": "moon_latitude_deg"}
"""Figures of a wish-list that stand in a column of another name."""


class Unreadable(ValueError):
    """A value is not of the sort its place wants; says what may stand there, and names that look alike."""

    def __init__(self, expected: str, near: tuple[str, ...] = ()) -> None:
        self.expected, self.near = expected, near
        super().__init__(expected)


class Notes:
    """The faults found in one file so far."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.found: list[Fault] = []
        self._places: set[tuple[str | None, int | None]] = set()

    def add(
        self,
        read: object,
        expected: str,
        *,
        column: str | None = None,
        row: int | None = None,
        near: tuple[str, ...] = (),
    ) -> None:
        """Note one fault."""
        if column is not None and not (column.isprintable() and len(column) <= LONGEST_QUOTE):
            column = None  # a place nobody can print is told by `read` alone
        self._places.add((column, row))
        self.found.append(Fault(self.file, row, column, _short(read), expected, near))

    def has(self, column: str, row: int | None = None) -> bool:
        """Tell whether something has been noted about a key of the file, or a cell of it."""
        return (column, row) in self._places

    def build(
        self,
        make: Callable[..., Noun],
        values: Mapping[str, Any],
        spare: Mapping[str, Any],
        *,
        under: str = "",
        row: int | None = None,
        written: Mapping[str, str] | None = None,
    ) -> Noun | None:
        """Return the noun made of `values`, or None where no such noun can be.

        The nouns check their own values but stop at the first bad one. So each refused value is noted, then
        replaced by its `spare` (or left to the noun's default), and the noun is tried again: one pass tells
        everything. The ranges stay in one place, the nouns.

        Parameters
        ----------
        make : Makes the noun; refuses by `InvalidValue`.
        values : Keyword arguments.
        spare : Legal stand-ins for arguments without a default.
        under : Dotted key of the table in a TOML file; empty for a row of a CSV file.
        row : Row of a CSV file.
        written : The text that stood in the file, by key.
        """
        left, written, noted = {**spare, **values}, written or {}, set[str]()
        while True:
            try:
                return make(**left)
            except InvalidValue as refused:
                last = refused.field.split()[-1]
                key = SAID.get(last, last)
                known = key in left
                if key in noted:
                    return None  # beside what else stands there not even the spare will do
                noted.add(key)
                column = ".".join(part for part in (under, key if known else "") if part) or None
                column = COLUMN.get(column or "", column)
                self.add(written.get(key, refused.value), refused.expected, column=column, row=row)
                if not known or (key in spare and left[key] == spare[key]):
                    return None
                del left[key]
                left.update({key: spare[key]} if key in spare else {})


def _short(read: object) -> str:
    try:
        text = str(read)
    except ValueError:  # Python refuses to write out integers of thousands of digits
        text = "a number of thousands of digits"
    return text if len(text) <= LONGEST_QUOTE else text[: LONGEST_QUOTE - 1] + "…"


def near(name: str, names: Iterable[str]) -> tuple[str, ...]:
    """Return up to three of `names` that look like `name`, best first.

    >>> near("latitude", ["longitude_deg", "latitude_deg", "zone"])
    ('latitude_deg',)
    """
    return tuple(get_close_matches(name, list(names), n=3, cutoff=0.6))
