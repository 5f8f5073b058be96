"""Targets by the names people type."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from scheduler.domain import Target

MOST_NEAR = 5


def named(targets: Sequence[Target], name: str) -> Target | None:
    """Return a target by its name, or by what else it is known as, in capitals or not; None where none is."""
    wanted = name.strip().casefold()
    exact = (one for one in targets if one.name == name)
    alike = (
        one for one in targets
        if wanted and wanted in (one.name.casefold(), (one.also_known_as or "").casefold())
    )  # fmt: skip
    return next(exact, None) or next(alike, None)


def near(targets: Sequence[Target], name: str) -> tuple[str, ...]:
    """Return the names of targets that look like a name, the nearest first."""
    known = {one.name.casefold(): one.name for one in targets}
    known |= {one.also_known_as.casefold(): one.name for one in targets if one.also_known_as}
    found = get_close_matches(name.strip().casefold(), known, MOST_NEAR)
    return tuple(dict.fromkeys(known[one] for one in found))
