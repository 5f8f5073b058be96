"""Plans that break one rule of instruments, guests or the diary each, and what the judge says of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

from scheduler.domain import (
    Barlow,
    Binoculars,
    Eyepiece,
    Filter,
    FreeNight,
    Guests,
    Kind,
    Kit,
    Observer,
    Occasion,
    Plan,
    Span,
    Target,
    Telescope,
    View,
)
from tests.small_plan import (
    FIRST,
    KIT,
    ORION,
    SECOND,
    TARGETS,
    VIEW,
    night,
    plan,
    utc,
    with_nights,
    with_standby,
    with_visit,
)

BINOCULARS = Binoculars("10x50", 10.0, 50.0, 6.5)
SMALL = Telescope("small refractor", 70.0, 700.0)
FULL_KIT = Kit(
    (*KIT.telescopes, SMALL), (*KIT.eyepieces, Eyepiece("10 mm", 10.0, 60.0, "small refractor")),
    Barlow(2.0), BINOCULARS, (Filter("narrow band"),),
)  # fmt: skip
THROUGH_BINOCULARS = View("10x50", None, False, None, 10.0, 6.5, 5.0, "wide enough", ("observer",))
NAKED = View("naked eye", None, False, None, 1.0, 90.0, 6.5, "the whole sky", ("observer",))
WITH_BARLOW = replace(VIEW, barlow=True, magnification=96.0, true_field_deg=50 / 96, exit_pupil_mm=200 / 96)
GUESTS = Guests(frozenset({FIRST}), 10, 2.0)
INVITED = with_nights(replace(night(FIRST), guests=10), night(SECOND), guests=GUESTS)
FEW = replace(GUESTS, people=7, minutes_each=2.0)
TALK = Occasion(utc(FIRST, 20), utc(FIRST, 20, 20))


def _seen(**changes: object) -> Plan:
    return with_visit(1, view=replace(VIEW, **changes))  # type: ignore[arg-type]


def _with_kit(view: View, kit: Kit = FULL_KIT, instrument: str | None = None) -> Plan:
    """Return the plan with M 42 looked at like this on the first night, asked for through an instrument."""
    wished = tuple(replace(t, instrument=instrument) if t is ORION else t for t in TARGETS)
    standbys = tuple(replace(one, view=view) for one in plan().standbys)
    return replace(with_visit(1, view=view), kit=kit, targets=wished, standbys=standbys)


def _until(hour: int) -> FreeNight:
    """Return the first night with seven guests, free until this hour."""
    return replace(night(FIRST), guests=7, free=Span(night(FIRST).free.start, utc(FIRST, hour)))


def _at_event(start_min: int) -> Plan:
    """Return the plan with the event of the first night looked at from this minute past eight on."""
    event = Target("M 42", Kind.EVENT, 83.82, -5.39, nature=TALK, minutes=20)
    start = utc(FIRST, 20) + timedelta(minutes=start_min)
    made = with_visit(1, time=replace(plan().visits[1].time, start=start, end=start + timedelta(minutes=20)))
    return replace(made, targets=(event, *TARGETS[1:]), standbys=())


LEFT_EARLY = with_nights(_until(22), night(SECOND), guests=replace(FEW, finish=time(23)))

BREACHES: list[tuple[str, Plan, str]] = [
    ("views_use_the_kit", _seen(instrument="400 mm"),
     "looked at through 400 mm, which the kit does not hold"),
    ("views_use_the_kit", with_standby(view=replace(VIEW, filter="O III")),
     "a filter O III that the kit does"),
    ("views_use_the_kit", _seen(eyepiece="9 mm"), "uses an eyepiece 9 mm that does not fit 200 mm f/6"),
    ("views_use_the_kit", _with_kit(replace(VIEW, eyepiece="10 mm")), "10 mm that does not fit 200 mm f/6"),
    ("views_use_the_kit", _seen(barlow=True), "uses a Barlow that the kit does not hold"),
    ("views_use_the_kit", _seen(magnification=50.0), "has figures 200 mm f/6 and 25 mm do not give"),
    ("views_use_the_kit", _seen(true_field_deg=1.1), "has figures 200 mm f/6 and 25 mm do not give"),
    ("views_use_the_kit", _seen(exit_pupil_mm=4.0), "has figures 200 mm f/6 and 25 mm do not give"),
    ("views_use_the_kit", _with_kit(replace(THROUGH_BINOCULARS, magnification=12.0)),
     "has figures its binoculars do not give"),
    ("views_use_the_kit", _with_kit(replace(NAKED, magnification=2.0)),
     "looked at with the naked eye, magnified"),
    ("views_are_what_was_asked_for", _with_kit(VIEW, instrument="binoculars"),
     "is looked at through 200 mm f/6, not binoculars"),
    ("views_are_what_was_asked_for", _with_kit(NAKED, instrument="telescope"),
     "is looked at through naked eye, not telescope"),
    ("views_are_what_was_asked_for", _with_kit(VIEW, instrument="small refractor"),
     "M 42, standby on 2027-01-15, is looked at through 200 mm f/6, not small refractor"),
    ("observers_look_through_their_own", _seen(observers=()), "has nobody who looks"),
    ("observers_look_through_their_own", _seen(observers=("Nobody",)), "names Nobody, who is no observer"),
    ("observers_look_through_their_own",
     replace(plan(), observers=(Observer("observer", 40, ("10x50",)),)),
     "has observer look through 200 mm f/6"),
    ("binoculars_help_only_where_there_are_some",
     with_visit(1, pointing=replace(plan().visits[1].pointing, binoculars_first=True)),
     "is to be found in binoculars, of which there are none"),
    ("guests_all_get_a_look", INVITED, "Jupiter on 2027-01-08 at 18:20 UTC lasts 15 min, its guests need 20"),
    ("guests_all_get_a_look", replace(plan(), guests=GUESTS), "2027-01-08 has 0 guests, not 10"),
    ("guests_all_get_a_look", with_nights(replace(night(FIRST), guests=1), night(SECOND)),
     "has 1 guests, not 0"),
    ("free_times_keep_the_evening_rule", LEFT_EARLY,
     "2027-01-08 is free until 22:00 UTC, not until 00:00 local time"),
    ("events_are_never_moved", _at_event(1), "leaves the event's own window"),
    ("events_are_never_moved", _at_event(-1), "leaves the event's own window"),
    ("the_diary_tells_every_night", replace(plan(), diary=plan().diary[1:]),
     "every night of the season once"),
    ("the_diary_tells_every_night",
     replace(plan(), diary=tuple(replace(one, moonless_min=1.0) for one in plan().diary)),
     "2027-01-15 is told otherwise in the diary"),
]  # fmt: skip

SOUND = {
    "through binoculars of the kit": _with_kit(THROUGH_BINOCULARS, instrument="binoculars"),
    "with the naked eye": _with_kit(NAKED, instrument="naked eye"),
    "through the telescope, with the Barlow": _with_kit(WITH_BARLOW, instrument="telescope"),
    "through the telescope named": _with_kit(VIEW, instrument="200 mm f/6"),
    "through the second of two eyepieces of one name, the first of which fits the other telescope": _with_kit(
        VIEW, replace(FULL_KIT, eyepieces=(Eyepiece("25 mm", 30.0, 50.0, "small refractor"), *KIT.eyepieces))
    ),
    "through the second of two eyepieces of one name": _with_kit(
        VIEW, replace(FULL_KIT, eyepieces=(Eyepiece("25 mm", 25.0, 82.0), *KIT.eyepieces))
    ),
    "found in binoculars of the kit": replace(
        with_visit(1, pointing=replace(plan().visits[1].pointing, binoculars_first=True)), kit=FULL_KIT
    ),
    "through a filter of the kit": _with_kit(replace(VIEW, filter="narrow band")),
    "guests who all get a look": with_nights(
        replace(night(FIRST), guests=7), night(SECOND), guests=FEW
    ),
    "guests who leave before the observer": with_nights(
        _until(23), night(SECOND), guests=replace(FEW, finish=time(23))
    ),
    "an event at its time": _at_event(0),
}  # fmt: skip
