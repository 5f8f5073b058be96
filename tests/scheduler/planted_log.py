"""Plans with a log behind them, and plans made anew: sound ones, and planted breaches."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import numpy as np

from scheduler.domain import Change, ChangeReason, Opportunities, Outcome, Plan, Reason, Unplaced, Went
from tests.small_plan import FIRST, JUPITER, SECOND, TARGETS, night, plan, visit, with_nights, with_standby

WHY = ChangeReason
EVE, LATER = date(2027, 1, 7), date(2027, 1, 22)
CLOUD, CLEAR = Outcome(FIRST, Went.CLOUDED_OUT), Outcome(FIRST, Went.CLEAR)
JUPITER_LOST = Change("Jupiter", FIRST, None, WHY.CLOUDED_OUT, "clouded out")
ORION_MOVED = Change("M 42", FIRST, SECOND, WHY.CLOUDED_OUT, "clouded out")


def logged(*outcomes: Outcome, **changes: object) -> Plan:
    """Return the sound plan with this log behind it."""
    return replace(plan(), log=outcomes, **changes)  # type: ignore[arg-type]


def seen(name: str, evening: date = EVE) -> Plan:
    """Return the sound plan with a target seen before it."""
    return logged(Outcome(evening, Went.CLEAR, seen=(name,)))


def anew(*changes: Change, log: tuple[Outcome, ...] = (CLOUD,), **more: Any) -> Plan:
    """Return a sound plan made anew after the first night was clouded out, with these changes told."""
    changed = {
        "log": log, "visits": (visit("M 42", SECOND, 1, 19, 0, 20), visit("M 1", SECOND, 2, 20, 0, 20)),
        "standbys": (), "changes": changes or (JUPITER_LOST, ORION_MOVED),
        "unplaced": (Unplaced("Jupiter", 2, Reason.NIGHTS_FULL, "full"), plan().unplaced[1]),
    }  # fmt: skip
    return replace(with_nights(night(SECOND)), **{**changed, **more})


def announced(*changes: Change, told: tuple[date, ...] = (SECOND,), **more: Any) -> Plan:
    """Return the plan made anew with both nights announced before."""
    availability = replace(plan().availability, announced=frozenset((FIRST, SECOND)))
    return anew(*changes, availability=availability, announced=told, **more)


def _lost(name: str, evening: date, reason: WHY) -> Change:
    return Change(name, evening, None, reason, "words")


def _because(reason: WHY, evening: date = FIRST, **more: Any) -> Plan:
    """Return the plan made anew with Jupiter's visit, planned for an evening, lost for this reason."""
    return anew(_lost("Jupiter", evening, reason), ORION_MOVED, **more)


def _given_up(reason: WHY) -> Plan:
    """Return the plan made anew with both nights announced and M 1 not kept."""
    return announced(
        JUPITER_LOST, ORION_MOVED, _lost("M 1", SECOND, reason), told=(),
        visits=(visit("M 42", SECOND, 1, 19, 0, 20),),
        unplaced=(*anew().unplaced, Unplaced("M 1", 1, Reason.NIGHTS_FULL, "full")),
    )  # fmt: skip


OUT = Outcome(date(2027, 1, 4), Went.PART_CLEAR)
TWICE_SEEN = logged(Outcome(date(2027, 1, 5), Went.CLEAR, seen=("Jupiter",)),
                    Outcome(date(2027, 1, 6), Went.CLEAR, seen=("Jupiter",)))  # fmt: skip

BREACHES: list[tuple[str, Plan, str]] = [
    ("past_is_past", logged(CLOUD), f"{FIRST} is a free night, though the log goes further"),
    ("past_is_past", logged(OUT, OUT), "the log's evenings are not in order, each once"),
    ("past_is_past", logged(OUT, replace(OUT, evening=date(2027, 1, 3))), "not in order, each once"),
    ("every_missing_visit_is_explained", seen("Jupiter"), "Jupiter lacks 0 visits, 1 are explained"),
    ("nights_out_stay_within_limits", logged(replace(OUT, evening=EVE)), "2 nights out in week 1 of 2027"),
    ("nights_out_stay_within_limits", logged(OUT), "3 nights out in 2027-01"),
    ("visits_are_as_wanted_and_spaced", seen("M 42", date(2026, 1, 1)), "M 42 has 1 visits, 0 wanted"),
    ("visits_are_as_wanted_and_spaced", seen("Jupiter"), f"Jupiter on {EVE} and {FIRST}: less than 7 days"),
    ("standbys_keep_the_spacing", seen("M 42", date(2026, 1, 1)), "has been seen as often as wanted"),
    ("standbys_keep_the_spacing",
     replace(with_standby(target="Jupiter", evening=FIRST), log=seen("Jupiter", date(2027, 1, 2)).log),
     "is less than 7 days from 2027-01-02, when seen"),
]  # fmt: skip

SOUND = {
    "a visit a spacing's days after the target was seen": replace(
        logged(Outcome(date(2027, 1, 1), Went.COULD_NOT_GO)), unplaced=plan().unplaced
    ),
    "a clouded night counts against no limit": logged(Outcome(EVE, Went.CLOUDED_OUT)),
    "a plan made anew": anew(),
    "announced nights beyond the limit": announced(
        log=(replace(OUT, evening=date(2027, 1, 11)), replace(OUT, evening=date(2027, 1, 12))), changes=()
    ),
    "one visit seen, the other planned just after the spacing": replace(
        logged(Outcome(date(2027, 1, 1), Went.CLEAR, seen=("Jupiter",)),
               availability=replace(plan().availability, nights_per_month=3)),
        unplaced=plan().unplaced[1:],
    ),
}  # fmt: skip

CHANGED_SOUND = {
    "a night clouded out": anew(),
    "what was seen on its own night is no change": anew(
        replace(ORION_MOVED, reason=WHY.NOT_SEEN), log=(Outcome(FIRST, Went.CLEAR, seen=("Jupiter",)),),
        unplaced=plan().unplaced,
    ),
    "an announced night that stands": announced(),
    "an announced visit that no longer shows": _given_up(WHY.NOT_SHOWN),
    "a visit shifted in its announced night": announced(
        JUPITER_LOST, ORION_MOVED, Change("M 1", SECOND, SECOND, WHY.SHIFTED, "now later"),
        visits=(visit("M 42", SECOND, 1, 19, 0, 20), visit("M 1", SECOND, 2, 20, 30, 20)),
    ),
}  # fmt: skip

CHANGED: list[tuple[Plan, str]] = [
    (anew(JUPITER_LOST), f"M 42 on {FIRST} is gone, and no change tells it"),
    (anew(JUPITER_LOST), f"M 42 on {SECOND} is new, and no change tells it"),
    (anew(JUPITER_LOST, ORION_MOVED, ORION_MOVED), f"M 42 on {FIRST} is not gone, or told twice"),
    (anew(JUPITER_LOST, ORION_MOVED, Change("M 1", None, SECOND, WHY.NEWLY_PLACED, "new")),
     f"M 1 on {SECOND} is not new, or told twice"),
    (announced(visits=(visit("M 42", SECOND, 1, 19, 0, 20), visit("M 1", SECOND, 2, 20, 30, 20))),
     f"M 1 on {SECOND} has another time, or a change says so, but not both"),
    (anew(JUPITER_LOST, ORION_MOVED, Change("M 1", SECOND, SECOND, WHY.SHIFTED, "now later")),
     f"M 1 on {SECOND} has another time, or a change says so, but not both"),
    (_because(WHY.BETTER_NIGHT), 'the night is past, not "a better night now"'),
    *((_because(reason), f'Jupiter on {FIRST}: "{reason}" does not hold') for reason in (
        WHY.SEEN, WHY.COULD_NOT_GO, WHY.NOT_SEEN, WHY.PAST, WHY.OFF_LIST, WHY.WANTED_LESS, WHY.TOO_SOON,
    )),
    (_because(WHY.CLOUDED_OUT, log=(CLEAR,)), '"its night was clouded out" does not hold'),
    (anew(JUPITER_LOST, ORION_MOVED, _lost("M 1", SECOND, WHY.NOT_FREE)), 'no longer free" does not hold'),
    (_given_up(WHY.MADE_ROOM), f"M 1 was announced for {SECOND} and is gone for no forced reason"),
    (_given_up(WHY.BETTER_NIGHT), f"M 1 was announced for {SECOND} and is gone for no forced reason"),
    (announced(told=()), "the announced evenings that stand are"),
    (announced(told=(SECOND, LATER)), "the announced evenings that stand are"),
]  # fmt: skip


def rows(*more: tuple[str, int, int], nights: int = 1) -> Opportunities:
    """Return the opportunities of plans made anew from the second night on: those of M 42 and M 1, and more.

    `more` : A target's name, and from when to when it shows, in UTC hours of the second night.
    """
    names = [target.name for target in TARGETS]
    both = ("M 42", 18, 30), ("M 1", 18, 30)
    stretches = [(start // 168, names.index(name), start, end) for name, start, end in (*both, *more)]
    night_of, target, start, end = np.array(sorted(stretches), np.int64).T
    epoch = datetime(SECOND.year, SECOND.month, SECOND.day, tzinfo=UTC)
    merit = np.full(len(stretches), 0.8)
    return Opportunities(
        epoch, len(TARGETS), nights, target, night_of, 60 * start, 60 * end, 60 * start + 60, merit
    )


SERIES = anew(
    Change("Jupiter", FIRST, SECOND, WHY.NOT_SEEN, "not seen"), ORION_MOVED,
    log=(Outcome(date(2027, 1, 2), Went.CLEAR, seen=("Jupiter",)), CLOUD),
    targets=tuple(replace(JUPITER, longest_spacing_days=12) if t is JUPITER else t for t in TARGETS),
    visits=(*anew().visits, visit("Jupiter", SECOND, 3, 21, 0, 15)), unplaced=plan().unplaced[1:],
)  # fmt: skip
"""Jupiter seen on the 2nd, due again by the 14th, but planned for the 15th: the only night left."""

LAZY = replace(
    SERIES, nights=(night(SECOND), night(LATER)),
    diary=with_nights(night(SECOND), night(LATER)).diary,
    availability=replace(plan().availability, nights_per_month=None),
    visits=(*anew().visits, visit("Jupiter", LATER, 1, 21, 0, 15)),
    changes=(Change("Jupiter", FIRST, LATER, WHY.NOT_SEEN, "not seen"), ORION_MOVED),
    targets=tuple(replace(JUPITER, longest_spacing_days=14) if t is JUPITER else t for t in TARGETS),
)  # fmt: skip
"""Jupiter due again by the 16th; the 15th would do, but it is planned for the 22nd."""

NOT_SHOWN = anew(
    JUPITER_LOST, ORION_MOVED, _lost("M 1", SECOND, WHY.NOT_SHOWN), visits=anew().visits[:1],
    unplaced=(*anew().unplaced, Unplaced("M 1", 1, Reason.NIGHTS_FULL, "full")),
)  # fmt: skip

WINDOWED: list[tuple[Plan, Opportunities]] = [
    (LAZY, rows(("Jupiter", 18, 30), ("Jupiter", 186, 198), nights=2)),
    (NOT_SHOWN, rows()),
]
