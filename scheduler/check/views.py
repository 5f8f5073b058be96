"""Rules of instruments, guests and the diary: what is looked through, who looks, and every night told."""

from __future__ import annotations

import math

from ..domain import (
    BINOCULARS,
    NAKED_EYE,
    TELESCOPE,
    Kit,
    Occasion,
    Plan,
    Standby,
    Target,
    Telescope,
    View,
    Visit,
)
from .looks import Breaches, Rule, looks_of, visits_of, words_of

_SLACK = 1e-6
_FIELD_SLACK = 1e-3


def views_use_the_kit(plan: Plan) -> Breaches:
    """Everything is looked at through something the kit holds, with figures that follow from it."""
    for entry in _entries(plan):
        yield from (f"{words_of(entry)} {fault}" for fault in _faults_of(plan.kit, entry.view))


def views_are_what_was_asked_for(plan: Plan) -> Breaches:
    """A target is looked at through the instrument its wish-list row names."""
    targets = {target.name: target for target in plan.targets}
    for entry in _entries(plan):
        target = targets.get(entry.target)
        if target is not None and not _is_asked_for(target, plan.kit, entry.view):
            yield f"{words_of(entry)} is looked at through {entry.view.instrument}, not {target.instrument}"


def observers_look_through_their_own(plan: Plan) -> Breaches:
    """Whoever looks through an instrument is an observer of the scenario and uses that instrument."""
    users = {observer.name: observer.instruments for observer in plan.observers}
    for entry in _entries(plan):
        if not entry.view.observers:
            yield f"{words_of(entry)} has nobody who looks"
        for name in entry.view.observers:
            own = users.get(name)
            if own is None:
                yield f"{words_of(entry)} names {name}, who is no observer"
            elif own and entry.view.instrument not in (*own, NAKED_EYE):
                yield f"{words_of(entry)} has {name} look through {entry.view.instrument}"


def binoculars_help_only_where_there_are_some(plan: Plan) -> Breaches:
    """Nobody is told to find a target in binoculars first where the kit holds none."""
    for entry in _entries(plan):
        if entry.pointing.binoculars_first and plan.kit.binoculars is None:
            yield f"{words_of(entry)} is to be found in binoculars, of which there are none"


def guests_all_get_a_look(plan: Plan) -> Breaches:
    """On guests' nights every visit is long enough for everybody; guests come on their evenings only."""
    for look in visits_of(plan):
        needed_min = look.night.guests * plan.guests.minutes_each
        if look.time.minutes < needed_min - _SLACK:
            yield f"{look.words} lasts {look.time.minutes:g} min, its guests need {needed_min:g}"
    for night in plan.nights:
        people = plan.guests.people if night.evening in plan.guests.evenings else 0
        if night.guests != people:
            yield f"{night.evening} has {night.guests} guests, not {people}"


def events_are_never_moved(plan: Plan) -> Breaches:
    """An event is looked at inside its own window."""
    for look in looks_of(plan):
        own = look.target.nature
        if isinstance(own, Occasion) and not own.start <= look.time.start <= look.time.end <= own.end:
            yield f"{look.words} leaves the event's own window"


def the_diary_tells_every_night(plan: Plan) -> Breaches:
    """The diary holds every night of the season once and in order, and those free at home are among them."""
    first = plan.season.start.toordinal()
    days = [night.evening.toordinal() for night in plan.diary]
    if days != list(range(first, first + plan.season.nights)):
        yield "the diary does not hold every night of the season once and in order"
    told = {night.evening: night for night in plan.diary}
    for free in plan.nights:
        if told.get(free.evening) != free.night and free.trip is None:
            yield f"{free.evening} is told otherwise in the diary"


VIEW_RULES: tuple[Rule, ...] = (
    views_use_the_kit, views_are_what_was_asked_for, observers_look_through_their_own,
    binoculars_help_only_where_there_are_some, guests_all_get_a_look, events_are_never_moved,
    the_diary_tells_every_night,
)  # fmt: skip


def _entries(plan: Plan) -> list[Visit | Standby]:
    return [*plan.visits, *plan.standbys]


def _faults_of(kit: Kit, view: View) -> list[str]:
    """Return what is wrong with a view, in words that follow the name of a visit."""
    if view.filter is not None and view.filter not in {one.name for one in kit.filters}:
        return [f"uses a filter {view.filter} that the kit does not hold"]
    if view.instrument == NAKED_EYE:
        plain = view.magnification == 1.0 and view.eyepiece is None and not view.barlow
        return [] if plain else ["is looked at with the naked eye, magnified"]
    if kit.binoculars is not None and view.instrument == kit.binoculars.name:
        glass = kit.binoculars
        figures = (glass.magnification, glass.true_field_deg, glass.aperture_mm / glass.magnification)
        fitted = view.eyepiece is None and not view.barlow
        return [] if fitted and _agree(view, figures) else ["has figures its binoculars do not give"]
    telescope = next((one for one in kit.telescopes if one.name == view.instrument), None)
    if telescope is None:
        return [f"is looked at through {view.instrument}, which the kit does not hold"]
    return _eyepiece_faults(kit, telescope, view)


def _eyepiece_faults(kit: Kit, telescope: Telescope, view: View) -> list[str]:
    """Return what is wrong with a view through a telescope; two eyepieces may bear one name."""
    named = [one for one in kit.eyepieces if one.name == view.eyepiece]
    fitting = [one for one in named if one.telescope in (None, telescope.name)]
    if not fitting:
        return [f"uses an eyepiece {view.eyepiece} that does not fit {telescope.name}"]
    if view.barlow and kit.barlow is None:
        return ["uses a Barlow that the kit does not hold"]
    factor = kit.barlow.factor if view.barlow and kit.barlow else 1.0
    for eyepiece in fitting:
        power = factor * telescope.focal_length_mm / eyepiece.focal_length_mm
        if _agree(view, (power, eyepiece.apparent_field_deg / power, telescope.aperture_mm / power)):
            return []
    return [f"has figures {telescope.name} and {view.eyepiece} do not give"]


def _agree(view: View, figures: tuple[float, float, float]) -> bool:
    told = (view.magnification, view.true_field_deg, view.exit_pupil_mm)
    pairs = zip(told, figures, strict=True)
    return all(math.isclose(one, other, rel_tol=_FIELD_SLACK) for one, other in pairs)


def _is_asked_for(target: Target, kit: Kit, view: View) -> bool:
    binoculars = kit.binoculars.name if kit.binoculars else None
    by_word = {
        None: True,
        NAKED_EYE: view.instrument == NAKED_EYE,
        BINOCULARS: view.instrument == binoculars,
        TELESCOPE: view.instrument in {telescope.name for telescope in kit.telescopes},
    }
    return by_word.get(target.instrument, view.instrument == target.instrument)
