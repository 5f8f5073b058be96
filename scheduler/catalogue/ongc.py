"""Read the OpenNGC table inside the package pyongc, at once and read-only."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

COLUMNS = "name, type, ra, dec, const, majax, minax, bmag, vmag, hubble, messier, ngc, ic, commonnames"


@dataclass(frozen=True, slots=True)
class Row:
    """One row as OpenNGC has it, angles in degrees and blanks as None."""

    name: str
    type: str
    ra_deg: float | None
    dec_deg: float | None
    constellation: str
    major_arcmin: float | None
    minor_arcmin: float | None
    b_mag: float | None
    v_mag: float | None
    hubble: str
    messier: str
    ngc: str
    ic: str
    common_names: tuple[str, ...]

    @property
    def same_as(self) -> str | None:
        """The designation a duplicate row points at; None for a row of its own."""
        if self.type != "Dup":
            return None
        if self.messier:
            return f"M{self.messier}"
        return f"NGC{self.ngc}" if self.ngc else f"IC{self.ic}"


def rows() -> Iterator[Row]:
    """Yield every row of the table: objects, duplicates and what turned out not to exist."""
    with closing(_connection()) as table:
        for row in table.execute(f"SELECT {COLUMNS} FROM objects"):
            cells = [*row[:2], *map(_degrees, row[2:4]), *row[4:13], _split(row[13])]
            yield Row(*cells)


def cross_identifications(of: str = "*") -> list[tuple[str, str]]:
    """Return designations in other catalogues with the name of the row each belongs to.

    Parameters
    ----------
    of : Which designations, as a shell would match file names; all 39 000 where nothing is said.
    """
    with closing(_connection()) as table:
        found = table.execute("SELECT identifier, name FROM objIdentifiers WHERE identifier GLOB ?", (of,))
        return found.fetchall()


def _connection() -> sqlite3.Connection:
    # The package's own functions ask one question per object and import numpy; its table takes 0.1 s whole.
    spec = find_spec("pyongc")
    assert spec is not None
    assert spec.submodule_search_locations
    path = Path(spec.submodule_search_locations[0]) / "ongc.db"
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)


def _degrees(angle_rad: float | None) -> float | None:
    return None if angle_rad is None else math.degrees(angle_rad)


def _split(text: str | None) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(",") if part.strip()) if text else ()
