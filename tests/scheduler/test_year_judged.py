"""No plan leaves `plan_year` unjudged: a fault planted in the writing of the nights is noticed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from scheduler.domain import Span, Standby
from scheduler.errors import PlanRejected
from scheduler.programme import Writer
from scheduler.year import plan_year
from tests.small_season import ANDROMEDA, JUPITER, ORION, scenario

SMALL = scenario(ORION, ANDROMEDA, JUPITER, nights=6)


def _rejected(monkeypatch: pytest.MonkeyPatch, step: str, spoil: Callable[[Any], Any]) -> tuple[str, ...]:
    """Return the breaches with which a year is rejected once this step of the writer is spoiled."""
    honest = getattr(Writer, step)
    monkeypatch.setattr(Writer, step, lambda *args, **words: spoil(honest(*args, **words)))
    with pytest.raises(PlanRejected) as rejected:
        plan_year(SMALL, seconds=0.2)
    return rejected.value.breaches


def test_the_season_is_planned_when_nothing_is_spoiled() -> None:
    plan = plan_year(SMALL, seconds=0.2)
    assert plan.visits
    assert plan.standbys


def test_visits_written_down_ten_hours_late_are_rejected(monkeypatch: pytest.MonkeyPatch) -> None:
    breaches = _rejected(monkeypatch, "settled", lambda starts: starts + 600)
    assert any("ends after the night's finish" in breach for breach in breaches)
    assert any("lies in no stretch in which the target shows" in breach for breach in breaches)


def test_standbys_on_the_wrong_day_are_rejected(monkeypatch: pytest.MonkeyPatch) -> None:
    def late(standbys: tuple[Standby, ...]) -> tuple[Standby, ...]:
        day = timedelta(days=1)
        return tuple(
            replace(s, window=Span(s.window.start + day, s.window.end + day), best=s.best + day)
            for s in standbys
        )

    breaches = _rejected(monkeypatch, "standbys", late)
    assert any("standby on" in breach and "after the night's finish" in breach for breach in breaches)


def test_standby_windows_that_are_no_opportunity_are_rejected(monkeypatch: pytest.MonkeyPatch) -> None:
    """A window cut short may break no rule of the plan alone; the opportunities tell."""

    def cut(standbys: tuple[Standby, ...]) -> tuple[Standby, ...]:
        return tuple(replace(s, window=Span(s.window.start, s.best)) for s in standbys)

    breaches = _rejected(monkeypatch, "standbys", cut)
    assert any("has a window that is no stretch" in breach for breach in breaches)
