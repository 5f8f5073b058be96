"""Rules of who comes along: observers with evenings of their own, and the nights of the club."""

from __future__ import annotations

from datetime import date

from ..domain import Plan
from .looks import Breaches, Rule, looks_of


def nights_are_free_for_those_who_come(plan: Plan) -> Breaches:
    """On a night come the observers whose own evening it is, all on club nights; at least one of them."""
    for night in plan.nights:
        names = _coming(plan, night.evening)
        if not names:
            yield f"nobody comes along on {night.evening}"
        elif (night.observers or tuple(one.name for one in plan.observers)) != names:
            yield f"{night.evening} has other observers than {' and '.join(names)}"


def club_nights_are_those_of_the_club(plan: Plan) -> Breaches:
    """Club nights are the club's evenings, at the club's site or, where that is too far, at home."""
    for night in plan.nights:
        if night.club != (night.evening in plan.club.evenings):
            yield f"{night.evening} is {'no' if night.club else 'a'} club night"
        if night.club and night.trip and night.trip.site.name != plan.club.site:
            yield f"{night.evening} is a club night at {night.trip.site.name}"


def those_who_look_are_there(plan: Plan) -> Breaches:
    """Nobody looks, and no target is looked at for somebody, on a night on which they do not come along."""
    for look in looks_of(plan):
        there = _coming(plan, look.evening)
        for name in look.view.observers:
            if name in {one.name for one in plan.observers} and name not in there:
                yield f"{look.words} has {name} look, who does not come along"
        if look.target.observer is not None and look.target.observer not in there:
            yield f"{look.words} is for {look.target.observer}, who does not come along"


PEOPLE_RULES: tuple[Rule, ...] = (
    nights_are_free_for_those_who_come, club_nights_are_those_of_the_club, those_who_look_are_there,
)  # fmt: skip


def _coming(plan: Plan, evening: date) -> tuple[str, ...]:
    """Return the names of those who come along, in the order of the observers."""
    shared = evening in plan.club.evenings
    return tuple(
        one.name
        for one in plan.observers
        if shared or (evening.weekday() in one.weekdays and evening not in one.away)
    )
