"""What a what-if changes, between the wish its job keeps and the scheduler's noun."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time
from typing import Any

from scheduler.domain import Amendment

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_SAME: tuple[str, ...] = (
    "nights_per_week", "nights_per_month", "lowest_altitude_deg", "sky_brightness",
)  # fmt: skip


def amendment_of(wish: Mapping[str, Any]) -> Amendment:
    """Return the amendment a what-if asks for, from what its job keeps; raise `InvalidValue` if it is none.

    Examples
    --------
    >>> amendment_of({"weekdays": ["thu"], "finish": "01:00:00"}).words
    'Thursdays free too, out until 01:00'
    """
    told: dict[str, Any] = {name: wish.get(name) for name in _SAME}
    told |= {name: time.fromisoformat(wish[name]) for name in ("start", "finish") if wish.get(name)}
    return Amendment(
        **told,
        weekdays=tuple(WEEKDAYS.index(day) for day in wish.get("weekdays", ())),
        targets=tuple(wish.get("targets", ())),
        evenings=tuple(date.fromisoformat(day) for day in wish.get("evenings", ())),
    )  # fmt: skip
