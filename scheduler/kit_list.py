"""What to take on a night out. All of it is common practice, no source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from .domain import MOON, FreeNight, Kind, Plan, Span, Standby, Target, View, Visit

LONG_MIN = 120.0
"""An outing longer than this needs a break with something warm. [min]"""
ALWAYS = (
    "red lamp with spare battery, star chart, this programme, pencil and notebook",
    "chair, and clothes for ten degrees colder than it feels: hat, gloves, dry shoes",
    "telephone, charged and dimmed; someone knows where you are",
)
"""What to take on every night."""


def kit_list_of(plan: Plan, free: FreeNight, looks: Sequence[Visit | Standby], outing: Span) -> Iterator[str]:
    """Yield what to take on a night, most important first.

    Without a programme whatever fits a telescope is taken: nobody knows what will be looked at.

    Parameters
    ----------
    looks : What is looked at, and what may be.
    outing : At the site, from arrival to the last thing packed.
    """
    views, ways = [look.view for look in looks], [look.pointing for look in looks]
    used = {view.instrument for view in views}
    with_telescope = not used.isdisjoint(telescope.name for telescope in plan.kit.telescopes)
    in_hand = not any(isinstance(look, Visit) for look in looks)
    wanted = {look.target for look in looks}
    targets = [target for target in plan.targets if target.name in wanted]
    for telescope in plan.kit.telescopes:
        if telescope.name in used:
            yield f"{telescope.name}, mount and finder"
    yield from _at_the_focuser(plan, views, everything=with_telescope and in_hand)
    finding = any(way.binoculars_first for way in ways)
    if plan.kit.binoculars and (finding or plan.kit.binoculars.name in used):
        yield plan.kit.binoculars.name
    yield from ALWAYS[:2]
    if with_telescope:
        yield "dew cap, dry cloth for the case, something warm and dry for eyepieces (a pocket)"
    yield from _kit_by_kind(targets)
    if outing.minutes > LONG_MIN:
        yield "warm drink and something to eat"
    if free.guests:
        yield "a step for small guests, spare red lamps, tape or lamps on tripod legs"
    yield from ALWAYS[2:]


def _at_the_focuser(plan: Plan, views: Sequence[View], *, everything: bool) -> Iterator[str]:
    """Yield the eyepieces, the Barlow lens and the filters that are looked through, or all there are."""
    eyepieces, filters = {view.eyepiece for view in views}, {view.filter for view in views}
    if fitting := [one.name for one in plan.kit.eyepieces if everything or one.name in eyepieces]:
        yield f"eyepieces: {', '.join(fitting)}"
    if (everything and plan.kit.barlow) or any(view.barlow for view in views):
        yield "Barlow lens"
    if fitting := [one.name for one in plan.kit.filters if everything or one.name in filters]:
        yield f"filters: {', '.join(fitting)}"


def _kit_by_kind(targets: Sequence[Target]) -> Iterator[str]:
    kinds = {target.kind for target in targets}
    if any(target.body == MOON for target in targets):
        yield "map of the Moon"
    if Kind.VARIABLE_STAR in kinds:
        yield "chart with comparison stars, and a watch"
    if Kind.METEOR_SHOWER in kinds:
        yield "something to lie on, blankets or sleeping bag"
