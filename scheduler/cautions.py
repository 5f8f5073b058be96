"""What to beware of on a night out. All of it is common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from .domain import FreeNight, Plan, Span, Standby, Visit
from .kit_list import LONG_MIN

VERY_LONG_MIN = 240.0
"""An outing longer than this is dewy more often than not. [min]"""
SUN_NEAR_DEG = 40.0
"""Targets nearer the Sun get a caution of their own. [deg]"""


def dew_words(plan: Plan, free: FreeNight, outing: Span) -> str:
    """Return what can honestly be said without a humidity: how long it lasts, and the time of year."""
    hours = outing.minutes / 60.0
    south = plan.site.latitude_deg < 0.0
    month = (free.evening.month - 1 + 6 * south) % 12 + 1
    cold = month in (11, 12, 1, 2, 3) and abs(plan.site.latitude_deg) > 40.0
    what = "dew or frost" if cold else "dew"
    if outing.minutes >= VERY_LONG_MIN:
        chance = f"Out for {hours:.1f} h: reckon with {what}"
    elif outing.minutes >= LONG_MIN:
        chance = f"Out for {hours:.1f} h: {what} is likely on a calm clear night"
    else:
        chance = f"Out for {hours:.1f} h: {what} may come, late in a calm clear night most of all"
    return (
        f"{chance} (no humidity is known to the plan). Dew cap on; cover what is not in use; keep eyepieces "
        "in a pocket; warm wet glass gently with moving air, never wipe it."
    )


def cautions_of(free: FreeNight, looks: Sequence[Visit | Standby], road: str) -> Iterator[str]:
    """Yield what to beware of on a night; `road` is the caution about the way home."""
    for look in (one for one in looks if one.sight.sun_separation_deg < SUN_NEAR_DEG):
        yield (
            f"{look.target} stands {look.sight.sun_separation_deg:.0f}° from the Sun: no sweeping before "
            "the Sun is wholly down, and stop well before it rises."
        )
    yield "Never point a telescope, finder or binoculars at the Sun or near it; blindness is instant."
    yield (
        "Laser pointers: never near aircraft, vehicles, people or animals; where law restricts them, leave "
        "them at home."
    )
    if free.guests:
        yield "With guests: cap the telescope whenever nobody minds it, and mark legs and cables."
    yield "Cold, dark, uneven ground: dress warmly, know the way back, ask whose land it is."
    yield road
