"""What setting up asks for: telescopes that cool in time, and a look at the collimation.

All of it is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from .domain import FreeNight, Kind, Pair, Plan, Span, Standby, Target, Telescope, Visit

TIGHT_ARCSEC = 3.0
"""A double star closer than this shows only in a cool, collimated telescope. [arcsec]"""
COOL_MM_PER_MIN = 5.0
"""How fast a mirror loses the warmth of the house, in aperture a minute; a lens cools alike. [mm/min]"""
COOL_MIN = (15.0, 90.0)
COLLIMATION_MIN = 10.0


def is_tight(target: Target) -> bool:
    """Tell whether a target asks for a cool, collimated telescope: planets, the Moon, close double stars."""
    close = isinstance(target.nature, Pair) and target.nature.separation_arcsec < TIGHT_ARCSEC
    return close or target.on_a_planet or target.kind is Kind.MOON_FEATURE


def cooling_min(telescope: Telescope) -> float:
    """Return how long a telescope should stand outside before it is pushed. [min]

    >>> cooling_min(Telescope("200 mm f/6", 200.0, 1200.0, 50.0))
    40.0
    """
    shortest, longest = COOL_MIN
    return min(max(telescope.aperture_mm / COOL_MM_PER_MIN, shortest), longest)


def exacting(plan: Plan, visits: Sequence[Visit]) -> dict[str, tuple[Visit, datetime]]:
    """Return each telescope's first visit that asks for a cool one, and from when on it is to cool."""
    telescopes = {one.name: one for one in plan.kit.telescopes}
    targets = {one.name: one for one in plan.targets}
    found: dict[str, tuple[Visit, datetime]] = {}
    for visit in visits:
        name = visit.view.instrument
        if name in telescopes and name not in found and is_tight(targets[visit.target]):
            cooling = timedelta(minutes=cooling_min(telescopes[name]))
            found[name] = visit, visit.time.start - cooling
    return found


def setting_up(
    plan: Plan, free: FreeNight, visits: Sequence[Visit], standbys: Sequence[Standby], outing: Span
) -> Iterator[tuple[datetime, str]]:
    """Yield what to set up when, with the words to say; what only standbys look through is set up too."""
    telescopes = {one.name: one for one in plan.kit.telescopes}
    firsts = exacting(plan, visits)
    yield outing.start, "Arrive and set up: level ground, tripod firm, finder on the main view."
    looks: list[Visit | Standby] = [*visits, *standbys]
    taken = dict.fromkeys(look.view.instrument for look in looks)
    for name in (one for one in taken if one in telescopes):
        cooling = f"caps off; it needs about {cooling_min(telescopes[name]):.0f} min to cool"
        first, cool_from = firsts.get(name, (None, outing.start))
        if first is None or cool_from >= outing.start:
            yield outing.start, f"{name}: out first, {cooling}."
        elif free.trip:
            yield outing.start, f"{name}: out first, {cooling}, and {first.target} comes sooner."
        else:
            yield cool_from, f"{name}: outside by now if you can, {cooling} before {first.target}."
        if first and telescopes[name].obstruction_mm > 0.0:
            at = max(outing.start, first.time.start - timedelta(minutes=COLLIMATION_MIN))
            yield at, f"{name}: check the collimation on a star, before {first.target}."
