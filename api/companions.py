"""Members asked about their evenings: as a scenario has them, and with what their calendars tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scheduler.domain import Observer, Scenario
from scheduler.errors import InvalidValue

from .deps import Services
from .free_nights import Companion, away_of, evenings_asked, needed
from .storage import NewShared, SharedRecord, Uses

NEED = "need"
"""Beside the nouns in `Uses`: how many of the members must be free by their own calendars."""


def companions_of(
    services: Services, scenario: Scenario, members: Sequence[SharedRecord]
) -> tuple[Companion, ...]:
    """Return members as companions; `scenario` has them among its observers."""
    known = services.storage.engagements.known_of([one.id for one in members])
    observers = {one.name: one for one in scenario.observers}
    return tuple(
        Companion(one.id, observers.get(one.name, Observer(one.name)), known[one.id]) for one in members
    )


def with_calendars(
    services: Services, scenario: Scenario, members: Sequence[SharedRecord], need: str
) -> list[NewShared]:
    """Return members with the evenings of the season on which they do not come along among their settings.

    Those they set by hand stay, before the others.
    """
    companions = companions_of(services, scenario, members)
    away = away_of(evenings_asked(scenario, companions, need), companions)
    return [NewShared(one.name, _with_away(one.settings, away[one.id])) for one in members]


def check_need(need: str, members: int) -> None:
    """Raise `InvalidValue` where so many cannot be free."""
    if not members or needed(need, members) > members:
        raise InvalidValue("need", need, "any, all, or a number not above that of the members")


def need_of(uses: Uses) -> str | None:
    """Return how many must be free by their own calendars, None where these do not count."""
    return next(iter(uses.get(NEED, ())), None)


def _with_away(settings: Mapping[str, object], away: Sequence[str]) -> dict[str, object]:
    by_hand = settings.get("away")
    listed = [*(by_hand if isinstance(by_hand, list) else []), *away]
    return {**settings, **({"away": listed} if listed else {})}
