"""Years lived through in parts tell the odds a plan would have told at once."""

from __future__ import annotations

import pickle
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import time
from functools import cache

import pytest

from scheduler import check, following
from scheduler.ahead import Ahead, ahead_of, lived_from_json, lived_to_json, with_odds, years_lived
from scheduler.domain import EveningRule, LivedYears, Outcome, OutcomeLog, Plan, Scenario, Went
from scheduler.errors import Cancelled, InvalidValue, PlanRejected
from scheduler.export import plan_from_json, plan_to_json
from scheduler.replanning import replan
from scheduler.simulation import YEARS_A_BATCH
from scheduler.year import plan_year
from tests.small_season import JUPITER, OMEGA, ORION, scenario, star

STARS = [star(f"Star {n}", 55.0 + 9.0 * n, 45.0, minutes=25, priority=2 + n % 3) for n in range(9)]
SHORT = EveningRule(start=time(20), finish=time(21, 45))
SMALL = scenario(*STARS, replace(JUPITER, visits=2, spacing_days=5), OMEGA, rule=SHORT, nights=24)
LIMITED = replace(SMALL, availability=replace(SMALL.availability, nights_per_week=2))
YEARS = 2 * YEARS_A_BATCH + 20


@cache
def made() -> Plan:
    return plan_year(LIMITED, seconds=0.3)


@cache
def after_a_night() -> Scenario:
    """Return the scenario after its first night, on which one target was seen, two nights announced."""
    first, second, third, *_ = sorted({visit.evening for visit in made().visits})
    seen = next(visit.target for visit in made().visits if visit.evening == first)
    log = OutcomeLog((Outcome(first, Went.PART_CLEAR, seen=(seen,)),))
    told = replace(LIMITED.availability, announced=frozenset({second, third}))
    return replace(LIMITED, outcomes=log, availability=told)


@cache
def prepared() -> Ahead:
    return ahead_of(made(), LIMITED)


def parts_of(ahead: Ahead, years: int = YEARS, seed: int = 0) -> list[LivedYears]:
    firsts = range(0, years, YEARS_A_BATCH)
    return [ahead.lived(first=n, years=min(YEARS_A_BATCH, years - n), seed=seed) for n in firsts]


def test_parts_in_any_order_tell_what_the_plan_tells_at_once_byte_for_byte() -> None:
    at_once = plan_year(LIMITED, seconds=0.3, years=YEARS)
    last, *others = [lived_from_json(lived_to_json(part)) for part in parts_of(prepared())][::-1]
    told = with_odds(plan_from_json(plan_to_json(made())), LIMITED, [*others, last])
    assert plan_to_json(told) == plan_to_json(at_once)
    assert told.odds is not None
    assert 0 < told.odds.expected < len(told.targets)


def test_so_they_do_for_a_plan_made_anew_with_a_log_and_announced_nights() -> None:
    now = after_a_night()
    bare = replan(made(), now, seconds=0.3, seed=3)
    at_once = replan(made(), now, seconds=0.3, seed=3, years=YEARS)
    assert len(bare.announced) == 2
    assert bare.changes
    ahead = ahead_of(bare, now)
    parts = parts_of(ahead, seed=3)
    assert {ahead.ready.free[night].evening for night in ahead._policy.announced} == set(bare.announced)
    assert plan_to_json(with_odds(bare, now, parts, seed=3)) == plan_to_json(at_once)


def test_a_part_lived_through_alone_is_the_same_part() -> None:
    first = YEARS_A_BATCH
    alone = years_lived(made(), LIMITED, first=first, years=20)
    assert alone == prepared().lived(first=first, years=20)
    assert alone != replace(prepared().lived(first=0, years=20), first=first)


def test_several_batches_may_be_one_part() -> None:
    both = prepared().lived(years=2 * YEARS_A_BATCH)
    rest = prepared().lived(first=2 * YEARS_A_BATCH, years=20)
    assert prepared().odds([both, rest]) == prepared().odds(parts_of(prepared()))


def test_what_is_fitted_once_need_not_be_fitted_by_others(monkeypatch: pytest.MonkeyPatch) -> None:
    sent, part = pickle.dumps(ahead_of(made(), LIMITED).fitted()), prepared().lived(years=20)
    monkeypatch.setattr(following, "first_prices", lambda *_: pytest.fail("fitted again"))
    arrived = pickle.loads(sent)
    assert isinstance(arrived, Ahead)
    assert arrived.lived(years=20) == part
    assert arrived.with_odds([part]) == prepared().with_odds([part])


def test_odds_told_before_do_not_matter() -> None:
    few = prepared().with_odds([prepared().lived(years=20)])
    assert ahead_of(few, LIMITED).digest == prepared().digest


def wrong_parts() -> Iterator[tuple[str, str, list[LivedYears]]]:
    one, two, three = parts_of(prepared())
    yield "no parts", "each once", []
    yield "a gap", "each once", [one, three]
    yield "the first missing", "each once", [two, three]
    yield "one twice", "each once", [one, two, two, three]
    yield "an overlap", "each once", [prepared().lived(years=2 * YEARS_A_BATCH), two, three]
    yield "another seed", "seed 0", [one, prepared().lived(first=YEARS_A_BATCH, years=20, seed=1)]
    yield "another plan", "this plan", [one, replace(two, of="0" * 64)]
    yield "another policy", "steady prices", [one, replace(two, policy="a later one")]


@pytest.mark.parametrize("case", range(8))
def test_parts_that_are_not_one_whole_are_refused(case: int) -> None:
    name, expected, parts = list(wrong_parts())[case]
    with pytest.raises(InvalidValue, match=expected):
        pytest.fail(f"{name} was taken: {prepared().odds(parts)}")


def test_other_weather_makes_other_parts() -> None:
    steadier = replace(LIMITED, clear_odds=replace(LIMITED.clear_odds, persistence=0.6))
    with pytest.raises(InvalidValue, match="this plan and scenario"):
        with_odds(made(), steadier, [prepared().lived(years=20)])


def test_a_plan_of_another_scenario_is_refused() -> None:
    other = replace(LIMITED, targets=LIMITED.targets[1:])
    for ask in (
        lambda: ahead_of(made(), other),
        lambda: years_lived(made(), other, years=20),
        lambda: with_odds(made(), other, []),
    ):
        with pytest.raises(InvalidValue, match="a plan of this scenario"):
            ask()


@pytest.mark.parametrize(
    ("asked", "field"),
    [({"first": 7, "years": 5}, "first"), ({"first": -1, "years": 5}, "first"), ({"years": 0}, "years"),
     ({"years": 5, "seed": -1}, "seed")],
)  # fmt: skip
def test_years_out_of_range_are_refused(asked: dict[str, int], field: str) -> None:
    with pytest.raises(InvalidValue, match=f"^{field}"):
        prepared().lived(**asked)  # type: ignore[arg-type]


def test_living_through_a_part_stops_when_asked() -> None:
    stop = threading.Event()
    stop.set()
    with pytest.raises(Cancelled):
        prepared().lived(years=20, cancel=stop)


def test_odds_added_later_are_judged(monkeypatch: pytest.MonkeyPatch) -> None:
    parts = [prepared().lived(years=20)]
    monkeypatch.setattr(check, "RULES", (*check.RULES, lambda plan: iter(["not so"] if plan.odds else [])))
    with pytest.raises(PlanRejected, match="not so"):
        prepared().with_odds(parts)


def test_a_season_without_free_nights_has_no_odds_whatever_is_lived_through() -> None:
    never = scenario(ORION, rule=EveningRule(start=time(13), finish=time(14)), nights=3)
    plan = plan_year(never, years=20)
    ahead = ahead_of(plan, never)
    assert ahead.ready.free == ()
    assert plan.odds is None
    assert ahead.with_odds([ahead.lived(years=20)]) == plan


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"of": 1}', "no JSON"])
def test_what_is_no_part_is_not_read(text: str) -> None:
    with pytest.raises(InvalidValue, match="lived years"):
        lived_from_json(text)


def test_a_part_is_small() -> None:
    text = lived_to_json(prepared().lived(years=YEARS_A_BATCH))
    assert len(text) < 500 + YEARS_A_BATCH * 6 * (len(LIMITED.targets) + 1)
