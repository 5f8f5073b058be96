"""Everything that can go wrong, as one tree; each error carries the data a caller needs to say so.

::

    DuskwrightError
    ├── InvalidValue        a noun was given a value it cannot hold: field, value, expected
    ├── UnknownName         a designation nobody knows: name, near matches
    ├── ScenarioFaults      everything wrong with a scenario's files, all at once
    ├── OutsideEphemeris    a date the ephemeris does not cover: date, first, last
    ├── PlanRejected        the judge found a broken rule: the breaches
    ├── UnreadablePlan      a plan file that is damaged or of another format
    ├── CannotWrite         a folder that cannot hold a plan's files: path, trouble
    └── Cancelled           the caller asked the work to stop
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any


class DuskwrightError(Exception):
    """Root of the tree: catch this to catch all of ours. Each can be pickled, whatever it is made of."""

    def __reduce__(self) -> tuple[Any, ...]:
        return _made_again, (type(self), self.args, vars(self))


def _made_again(kind: type[DuskwrightError], args: tuple[Any, ...], data: Mapping[str, Any]) -> Exception:
    error = kind.__new__(kind, *args)
    error.__dict__.update(data)
    return error


class InvalidValue(DuskwrightError, ValueError):
    """A noun was given a value it cannot hold."""

    def __init__(self, field: str, value: object, expected: str) -> None:
        self.field, self.value, self.expected = field, value, expected
        super().__init__(f"{field}: read {value!r}, expected {expected}")


class UnknownName(DuskwrightError, LookupError):
    """No catalogue knows this designation; `near` holds names that look alike, best first."""

    def __init__(self, name: str, near: tuple[str, ...] = ()) -> None:
        self.name, self.near = name, near
        hint = f"; did you mean {', '.join(near)}?" if near else ""
        super().__init__(f"no target is known as {name!r}{hint}")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in one place of an input file, and what would put it right.

    Attributes
    ----------
    file : File name, without its folder.
    row : Line number in a table, counted as a spreadsheet does (header = 1); None for TOML.
    column : Column of the table, or dotted key of the TOML file; None for the file as a whole.
    read : What stands there now.
    expected : What may stand there.
    near : Names that look alike, best first.
    """

    file: str
    row: int | None
    column: str | None
    read: str
    expected: str
    near: tuple[str, ...] = ()

    def __str__(self) -> str:
        row = f", row {self.row}" if self.row is not None else ""
        column = f", {self.column}" if self.column is not None else ""
        hint = f" (did you mean {', '.join(self.near)}?)" if self.near else ""
        return f"{self.file}{row}{column}: read {self.read!r}, expected {self.expected}{hint}"


class ScenarioFaults(DuskwrightError):
    """A scenario cannot be read; `faults` lists everything wrong with its files at once."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n".join([f"{count} in the scenario:", *map(str, faults)]))


class OutsideEphemeris(DuskwrightError):
    """A date the embedded ephemeris does not cover."""

    def __init__(self, asked: date, first: date, last: date) -> None:
        self.asked, self.first, self.last = asked, first, last
        super().__init__(f"the ephemeris runs from {first} to {last}; {asked} is outside")


class PlanRejected(DuskwrightError):
    """The judge found broken rules in a plan; `breaches` says each in words."""

    def __init__(self, breaches: tuple[str, ...]) -> None:
        self.breaches = breaches
        super().__init__("\n".join(["the plan breaks its own rules:", *breaches]))


class UnreadablePlan(DuskwrightError):
    """A stored plan is damaged, or was written in a format this version does not read."""


class CannotWrite(DuskwrightError):
    """A folder cannot hold a plan's files."""

    def __init__(self, path: Path, trouble: str) -> None:
        self.path, self.trouble = path, trouble
        super().__init__(f"cannot write to {path}: {trouble}")


class Cancelled(DuskwrightError):
    """The caller asked the work to stop; nothing was written."""
