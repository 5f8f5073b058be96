"""Targets by the names people type."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from scheduler.domain import Target

MOST_NEAR, SHORTEST_PART = 5, 3


def named(targets: Sequence[Target], name: str) -> Target | None:
    """Return a target by its name or what else it is known as, whatever the capitals and blanks; else None.

    Examples
    --------
    >>> from scheduler.domain import Kind
    >>> m_57 = Target("M 57", Kind.DEEP_SKY, 283.4, 33.0, also_known_as="Ring Nebula")
    >>> [named([m_57], name) is m_57 for name in ("m57", "ring nebula", "Ring", "")]
    [True, True, False, False]
    """
    exact = (one for one in targets if one.name == name)
    alike = (one for one in targets if _plain(name) and _plain(name) in map(_plain, _names_of(one)))
    return next(exact, None) or next(alike, None)


def near(targets: Sequence[Target], name: str) -> tuple[str, ...]:
    """Return the names of targets that a name is a part of, then of those that look like it, nearest first.

    Examples
    --------
    >>> from scheduler.domain import Kind
    >>> m_57 = Target("M 57", Kind.DEEP_SKY, 283.4, 33.0, also_known_as="Ring Nebula")
    >>> [near([m_57], name) for name in ("Ring", "Rong Nebula", "Saturn")]
    [('M 57',), ('M 57',), ()]
    """
    known = {_plain(called): one.name for one in targets for called in _names_of(one)}
    wanted = _plain(name)
    parts = [called for called in known if len(wanted) >= SHORTEST_PART and wanted in called]
    found = [*parts, *get_close_matches(wanted, known, MOST_NEAR)]
    return tuple(dict.fromkeys(known[one] for one in found))[:MOST_NEAR]


def _names_of(target: Target) -> tuple[str, ...]:
    return tuple(name for name in (target.name, target.also_known_as) if name)


def _plain(name: str) -> str:
    return "".join(name.casefold().split())
