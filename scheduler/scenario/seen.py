"""Names in the log: which target of the wish-list each of them means."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import Any

from ..domain import Target
from ..errors import UnknownName
from .known import LookUp
from .notes import Notes, near

NAME_COLUMNS = ("seen", "seen_poorly", "not_seen")


SEPARATOR, IN_A_NAME = ";", ";;"
_NAME = re.compile(r"(?:;;|[^;])+")


def names(text: str) -> tuple[str, ...]:
    """Return the names in a cell, separated by semicolons; a doubled one belongs to a name.

    >>> names("M 31; M 42;")
    ('M 31', 'M 42')
    >>> names("M 31; Double Cluster;; from the balcony")
    ('M 31', 'Double Cluster; from the balcony')
    """
    parts = (" ".join(part.replace(IN_A_NAME, SEPARATOR).split()) for part in _NAME.findall(text))
    return tuple(name for name in parts if name)


def names_cell(told: Iterable[str]) -> str:
    """Return a cell that `names` reads.

    >>> names_cell(["M 31", "Double Cluster; from the balcony"])
    'M 31; Double Cluster;; from the balcony'
    """
    return f"{SEPARATOR} ".join(name.replace(SEPARATOR, IN_A_NAME) for name in told)


class WishNames:
    """The names of a wish-list in all the spellings it takes.

    Parameters
    ----------
    targets : The wish-list.
    look_up : Resolves a designation or raises `UnknownName`; asked only where a name is not met as it stands.
    """

    def __init__(self, targets: Sequence[Target], look_up: LookUp) -> None:
        self._look_up = look_up
        self._own = {target.name: target.name for target in targets}
        # own names last: where two targets share a name, the one whose own it is wins
        self._told = {t.also_known_as: t.name for t in targets if t.also_known_as} | self._own
        self._by_plain = {_plain(name): target for name, target in self._told.items()}

    def meant(self, name: str) -> str | None:
        """Return the name of the target meant, or None where the wish-list has no such target."""
        found = self._told.get(name) or self._by_plain.get(_plain(name))
        return found or self._by_identity.get(self._identity(name) or "")

    def resolve(self, row: int, given: dict[str, Any], notes: Notes) -> None:
        """Put the wish-list's names into the columns of names of one row; note those it does not have."""
        for column in NAME_COLUMNS:
            found = []
            for name in given.get(column, ()):
                meant = self.meant(name)
                if meant is None:
                    expected = "targets of the wish-list; one that was seen stays on it"
                    if "," in name or SEPARATOR in name:
                        expected = 'targets of the wish-list with ";" between them'
                    notes.add(name, expected, column=column, row=row, near=near(name, self._told))
                else:
                    found.append(meant)
            if column in given:
                given[column] = tuple(found)

    @cached_property
    def _by_identity(self) -> dict[str, str]:
        by_identity = {self._identity(name): name for name in self._own}
        return {identity: name for identity, name in by_identity.items() if identity}

    def _identity(self, name: str) -> str | None:
        try:
            return self._look_up(name).identity
        except UnknownName:
            return None


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
