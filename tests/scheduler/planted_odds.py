"""Plans whose odds break one rule each, and what the judge says of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np

from scheduler.domain import Milestone, Odds, Plan, TargetOdds
from tests.small_plan import FIRST, SECOND, TARGETS, plan

YEARS = 40


def target_odds(name: str, done: int, *nights: date) -> TargetOdds:
    """Return the odds of a target that had all its visits in so many of forty years."""
    if not nights:
        return TargetOdds(name, done / YEARS, 0.0, ())
    share = (done + 2) / (YEARS + 4)
    return TargetOdds(name, done / YEARS, float(np.sqrt(share * (1 - share) / (YEARS + 4))), nights)


ODDS = Odds(
    "steady prices 1", YEARS, 0,
    (
        target_odds("M 42", 36, FIRST, SECOND), target_odds("M 1", 20, SECOND),
        target_odds("Jupiter", 10, FIRST, SECOND), target_odds("NGC 5139", 0),
    ),
    66 / 40, 0.1, 1.0, 2.0, 2.0, 0.8,
    (Milestone(0.25, FIRST), Milestone(0.5, SECOND), Milestone(1.0, None)),
)  # fmt: skip


def with_odds(odds: Odds = ODDS, **changes: object) -> Plan:
    """Return the small plan with odds."""
    return replace(plan(), odds=replace(odds, **changes))  # type: ignore[arg-type]


def _of_the_first(**changes: object) -> Plan:
    """Return the plan with the odds of its first target changed."""
    first, *others = ODDS.targets
    return with_odds(targets=(replace(first, **changes), *others))  # type: ignore[arg-type]


_STRANGER = (target_odds("M 13", 36, FIRST), *ODDS.targets[1:])
_NEVER_SHOWN = (*ODDS.targets[:3], target_odds("NGC 5139", 4))

BREACHES: list[tuple[str, Plan, str]] = [
    ("odds_speak_of_every_target_once", with_odds(targets=_STRANGER), "not those of the wish-list"),
    ("odds_speak_of_every_target_once", with_odds(targets=ODDS.targets[::-1]), "not those of the wish-list"),
    ("odds_are_counted_in_whole_years", _of_the_first(completion_odds=0.91), "no share of 40 years"),
    ("odds_are_counted_in_whole_years", _of_the_first(standard_error=0.02), "not that of 40 years"),
    (
        "odds_are_counted_in_whole_years",
        with_odds(targets=(*ODDS.targets[:3], replace(ODDS.targets[3], standard_error=0.1))),
        "NGC 5139 shows no more, which is certain",
    ),
    ("odds_are_counted_in_whole_years", with_odds(years=80), "not that of 80 years"),
    ("the_expected_number_is_the_sum_of_the_odds", with_odds(expected=1.7), "add up to 1.65"),
    ("the_expected_number_is_the_sum_of_the_odds", with_odds(nights_out=2.1), "of 2 free ones"),
    ("the_expected_number_is_the_sum_of_the_odds", with_odds(nights_out=float("nan")), "nan nights out"),
    ("last_nights_are_free_nights", _of_the_first(last_nights=(date(2027, 1, 9),)), "of M 42 are not free"),
    ("last_nights_are_free_nights", _of_the_first(last_nights=(SECOND, FIRST)), "of M 42 are not free"),
    (
        "last_nights_are_free_nights",
        with_odds(milestones=(Milestone(0.5, SECOND), Milestone(0.75, FIRST))),
        "milestones are not free evenings in order",
    ),
    (
        "last_nights_are_free_nights",
        with_odds(milestones=(Milestone(0.5, None), Milestone(0.75, FIRST))),
        "milestones do not rise",
    ),
    (
        "what_is_never_offered_is_never_done",
        with_odds(targets=_NEVER_SHOWN, expected=70 / 40),
        "NGC 5139 has odds of 0.1",
    ),
]  # fmt: skip

assert [one.target for one in ODDS.targets] == [target.name for target in TARGETS]
