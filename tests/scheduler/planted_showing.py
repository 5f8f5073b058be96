"""Plans that tell wrongly when their targets show, and what the judge says of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scheduler.domain import Opportunities, Plan, Showing
from tests.small_plan import FIRST, plan, utc

SHOWING = (
    Showing("M 42", "01100", "01100"), Showing("M 1", "00100", "00100"), Showing("Jupiter", "01000", "01000"),
    Showing("NGC 5139", "00000", "00000"),
)  # fmt: skip
"""The small plan's season has five weeks; its nights lie in the second and the third."""


def with_showing(*showing: Showing) -> Plan:
    """Return the small plan with when its targets show."""
    return replace(plan(), showing=showing or SHOWING)


def merits(*rows: tuple[int, int, float], standby_only: tuple[int, ...] = ()) -> Opportunities:
    """Return what shows on the small plan's nights: target, night and merit of each row."""
    target, night, merit = (np.array(column) for column in zip(*rows, strict=True))
    start = night * 7 * 1440 + 1140
    only = np.isin(np.arange(len(rows)), standby_only)
    return Opportunities(utc(FIRST, 0), 4, 2, target, night, start, start + 60, start, merit, only)


OFFERED = merits((0, 0, 0.9), (2, 0, 0.5), (0, 1, 0.8), (1, 1, 0.4))

BREACHES: list[tuple[str, Plan, str]] = [
    ("showing_speaks_of_every_target_once", with_showing(*SHOWING[::-1]), "not told of the wish-list's"),
    ("showing_speaks_of_every_target_once", with_showing(*SHOWING[:3]), "not told of the wish-list's"),
    (
        "showing_speaks_of_every_target_once",
        with_showing(Showing("M 42", "0110", "0110"), *SHOWING[1:]),
        "M 42 is told to show through 4 weeks of a season of 5",
    ),
    (
        "targets_show_on_free_nights",
        with_showing(Showing("M 42", "01200", "01100"), *SHOWING[1:]),
        "M 42 shows on 2 nights of week 3, with 1 free",
    ),
    (
        "targets_show_on_free_nights",
        with_showing(Showing("M 42", "01100", "00000"), *SHOWING[1:]),
        "M 42 shows, but never well",
    ),
    (
        "targets_show_when_visited",
        with_showing(Showing("M 42", "00100", "00100"), *SHOWING[1:]),
        "M 42 is visited on 2027-01-08, in whose week it does not show",
    ),
    (
        "targets_show_when_visited",
        with_showing(Showing("M 42", "0", "0"), *SHOWING[1:]),
        "M 42 is visited on 2027-01-08, in whose week it does not show",
    ),
]  # fmt: skip

OFFERS: list[tuple[Opportunities, str]] = [
    (merits((0, 0, 0.9), (2, 0, 0.5), (1, 1, 0.4)), "M 42 does not show on the nights its weeks tell"),
    (
        merits((0, 0, 0.9), (2, 0, 0.5), (0, 1, 0.8), (1, 1, 0.4), (2, 1, 0.5)),
        "Jupiter does not show on the nights its weeks tell",
    ),
    (
        merits((0, 0, 0.9), (2, 0, 0.5), (0, 1, 0.8), (1, 1, 0.4), standby_only=(2,)),
        "M 42 does not show on the nights its weeks tell",
    ),
    (
        merits((0, 0, 0.9), (2, 0, 0.5), (0, 1, 0.71), (1, 1, 0.4)),
        "M 42 does not show well on the nights its weeks tell",
    ),
]  # fmt: skip
"""What the nights may offer, and how it belies `SHOWING`."""
