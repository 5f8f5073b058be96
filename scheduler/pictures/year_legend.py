"""What the signs in the picture of a year mean: only those that are there are told."""

from __future__ import annotations

from collections.abc import Sequence

import svg

from .frame import YearFrame
from .legend import Drawing, Entry
from .nights import Evening
from .shapes import box, line, moon, pin, sign

SIGNS = {
    "announced": "announced", "clear": "was clear", "part-clear": "part-clear", "clouded out": "clouded out",
    "could not go": "could not go", "club": "club night", "away": "at a site away",
}  # fmt: skip
"""The signs of a night, and what they mean."""


def signs_of(evening: Evening) -> list[str]:
    """Return which signs stand over a night, from its bar upwards: at most two, what matters most first."""
    found = [evening.outcome.went.value] if evening.outcome else []
    found += ["announced"] * evening.announced
    if evening.night:
        found += ["club"] * evening.night.club + ["away"] * (evening.night.trip is not None)
    return found[:2]


def year_entries(frame: YearFrame, evenings: Sequence[Evening], dated: bool) -> list[Entry]:
    """Return the legend's entries; `dated` where today is marked."""
    high, bar = 1.1 * frame.text, max(6.0, frame.bar)
    r = max(2.0, frame.stem / 2)

    def hollow(kind: str, x: float, y: float) -> list[svg.Element]:
        return [box(x, y - high / 2, bar, high, kind)]

    found = [
        Entry(lambda x, y: hollow("dark", x, y), bar, "dark and free"),
        Entry(
            lambda x, y: [box(x, y, bar, high / 2, "moonless"), *hollow("dark", x, y)], bar, "Moon down"
        ),
        Entry(lambda x, y: pin(x + r, y + high / 2, y - high / 2 + r, r), 2 * r, "planned"),
    ]  # fmt: skip
    if any(one.twilit and one.dark_min for one in evenings):
        found.append(Entry(lambda x, y: hollow("dusk", x, y), bar, "twilight all night"))
    found += [
        Entry(_drawn(kind, frame.sign), 2 * frame.sign, meaning)
        for kind, meaning in SIGNS.items()
        if any(kind in signs_of(one) for one in evenings)
    ]
    found += [
        Entry(_moon(phase, frame.moon_r), 2 * frame.moon_r, phase) for phase in ("new Moon", "full Moon")
    ]
    if dated:
        found.append(Entry(lambda x, y: [line(x + 1, y - high / 2, x + 1, y + high / 2, "now")], 2, "today"))
    return found


def _drawn(kind: str, r: float) -> Drawing:
    return lambda x, y: [sign(kind, x + r, y, r)]


def _moon(phase: str, r: float) -> Drawing:
    return lambda x, y: moon(x + r, y, r, float(phase == "full Moon"), right=True)
