"""Plans that break one rule of observers' evenings and club nights each, and what the judge says of them."""

from __future__ import annotations

from dataclasses import replace

from scheduler.domain import Club, Observer, Plan
from tests.scheduler.planted_trips import TRIP, away, trip_plan
from tests.small_plan import FIRST, ORION, SECOND, TARGETS, VIEW, night, plan, with_nights, with_visit

WREN, LINNET = Observer("Wren", 46), Observer("Linnet", 12, away=frozenset({SECOND}))
BY_WREN = replace(VIEW, observers=("Wren",))


def _shared(**changes: object) -> Plan:
    """Return the small plan for two, one of whom is away on the second night."""
    alone = replace(night(SECOND), observers=("Wren",))
    visits = tuple(replace(visit, view=BY_WREN) for visit in plan().visits)
    waiting = tuple(replace(standby, view=BY_WREN) for standby in plan().standbys)
    made = with_nights(night(FIRST), alone, observers=(WREN, LINNET), visits=visits, standbys=waiting)
    return replace(made, **changes)  # type: ignore[arg-type]


def _for(name: str) -> Plan:
    """Return it with M 42, which waits on the second night, wanted by one of them."""
    targets = tuple(replace(t, observer=name) if t is ORION else t for t in TARGETS)
    return _shared(targets=targets)


def _club(*evenings: object, site: str | None = None, **changes: object) -> Plan:
    nights = tuple(replace(one, club=one.evening in evenings) for one in plan().nights)
    made = with_nights(*nights, club=Club(frozenset(evenings), site))  # type: ignore[arg-type]
    return replace(made, **changes)  # type: ignore[arg-type]


CLUB_AWAY = trip_plan(night(FIRST), replace(away(), club=True), club=Club(frozenset({SECOND}), "Moss"))
LIMITS = plan().availability

BREACHES: list[tuple[str, Plan, str]] = [
    ("nights_are_free_for_those_who_come", _shared(nights=(night(FIRST), night(SECOND))),
     "2027-01-15 has other observers than Wren"),
    ("nights_are_free_for_those_who_come", _shared(observers=(replace(WREN, weekdays=(5,)), LINNET)),
     "nobody comes along on 2027-01-15"),
    ("club_nights_are_those_of_the_club", _club(FIRST, club=Club()), "2027-01-08 is no club night"),
    ("club_nights_are_those_of_the_club", replace(plan(), club=Club(frozenset({FIRST}))),
     "2027-01-08 is a club night"),
    ("club_nights_are_those_of_the_club", replace(CLUB_AWAY, club=Club(frozenset({SECOND}))),
     "2027-01-15 is a club night at Moss"),
    ("those_who_look_are_there", _shared(standbys=(replace(plan().standbys[0],
     view=replace(VIEW, observers=("Wren", "Linnet"))),)), "has Linnet look, who does not come along"),
    ("those_who_look_are_there", _for("Linnet"), "is for Linnet, who does not come along"),
    ("nights_out_stay_within_limits",
     _club(FIRST, visits=with_visit(0).visits[2:], availability=replace(LIMITS, nights_per_month=1)),
     "2 nights out in 2027-01"),
]  # fmt: skip

SOUND: dict[str, Plan] = {
    "an observer away": _shared(),
    "a target for who comes along": _for("Wren"),
    "club nights beyond the limit": _club(
        FIRST, SECOND, availability=replace(LIMITS, nights_per_month=1, nights_per_week=1)
    ),
    "a club night away though no trips are allowed": replace(
        CLUB_AWAY, availability=replace(LIMITS, trips_per_month=0, trips_per_season=0)
    ),
    "a club night away without a programme": replace(
        CLUB_AWAY, trips=(TRIP,), visits=CLUB_AWAY.visits[:2], unplaced=(
            *CLUB_AWAY.unplaced, replace(CLUB_AWAY.unplaced[0], target="M 1")
        )
    ),
}  # fmt: skip
