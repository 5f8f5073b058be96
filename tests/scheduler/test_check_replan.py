"""The judge on plans with a log behind them, and on plans made anew."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.check import breaches_of, breaches_of_changes, breaches_of_windows, judge
from scheduler.domain import Plan
from scheduler.errors import PlanRejected
from tests.small_plan import SECOND, plan

from .planted_log import CHANGED, CHANGED_SOUND, JUPITER_LOST, LAZY, NOT_SHOWN, SERIES, anew, rows


@pytest.mark.parametrize(("changed", "words"), CHANGED)
def test_each_breach_of_a_plan_made_anew_is_named(changed: Plan, words: str) -> None:
    assert any(words in breach for breach in breaches_of_changes(changed, plan()))


@pytest.mark.parametrize("allowed", CHANGED_SOUND)
def test_what_keeps_to_the_plan_before_is_no_breach(allowed: str) -> None:
    assert breaches_of_changes(CHANGED_SOUND[allowed], plan()) == ()
    judge(CHANGED_SOUND[allowed], previous=plan())


def test_a_plan_made_anew_is_rejected_where_it_does_not_tell_its_changes() -> None:
    with pytest.raises(PlanRejected, match="no change tells it"):
        judge(anew(JUPITER_LOST), previous=plan())


def test_a_target_that_shows_is_not_lost_for_not_showing() -> None:
    (breach,) = breaches_of_windows(NOT_SHOWN, rows())
    assert f"M 1 does show on {SECOND}" in breach
    clouded = replace(NOT_SHOWN, nights=(replace(NOT_SHOWN.nights[0], clear_odds=0.0),))
    assert not any("does show" in breach for breach in breaches_of_windows(clouded, rows()))


def test_a_series_goes_on_in_time_where_it_can() -> None:
    late, in_time = (
        rows(("Jupiter", 186, 198), nights=2),
        rows(("Jupiter", 18, 30), ("Jupiter", 186, 198), nights=2),
    )
    assert breaches_of(LAZY) == breaches_of(SERIES) == ()
    (breach,) = breaches_of_windows(LAZY, in_time)
    assert "Jupiter, seen on 2027-01-02, could be visited in time, and waits until 2027-01-22" in breach
    assert breaches_of_windows(LAZY, late) == ()  # nothing could be done: it begins anew
    assert breaches_of_windows(SERIES, rows(("Jupiter", 18, 30))) == ()
