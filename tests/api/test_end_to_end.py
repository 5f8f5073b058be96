"""From a wish-list to a plan made anew, over the wire, with the real scheduler, on both databases."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest

from scheduler import breaches_of, plan_from_json

from .client import Client, Refused
from .databases import Where
from .served import served
from .test_real_scheduler import TOML, WISH_LIST


@pytest.fixture
def client(database: Where) -> Iterator[Client]:
    with served(str(database)) as (_, _, client):
        yield client


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_a_member_plans_logs_plans_anew_and_asks(client: Client) -> None:
    club = client.make_club("Hendra Stargazers").id
    _, token = client.make_key(club, "planner", "Jory's script")
    jory = client.with_key(token)
    scenario = jory.keep_scenario(club, "late winter", TOML, WISH_LIST).id

    first = jory.plan(scenario, seconds=0.5, years=20)
    plan = plan_from_json(jory.plan_json(first))
    assert breaches_of(plan) == ()
    assert plan.odds is not None
    assert plan.odds.years == 20
    assert 0 < plan.objective <= plan.bound
    assert {left.target for left in plan.unplaced} == {"M 7"}  # never above 3 degrees there

    lost = min(visit.evening for visit in plan.visits)
    missed = {visit.target for visit in plan.visits if visit.evening == lost}
    jory.add_outcome(scenario, lost.isoformat(), "clouded out")
    second = jory.plan(scenario, seconds=0.5, years=20, after="newest")
    anew = plan_from_json(jory.plan_json(second))
    assert breaches_of(anew) == ()
    assert min(visit.evening for visit in anew.visits) > lost
    changes = rows(jory.table(second, "changes"))
    assert missed <= {row["target"] for row in changes}
    assert any(lost.isoformat() in row.values() for row in changes)
    assert any("cloud" in " ".join(row.values()) for row in changes if row["target"] in missed)
    assert jory.differences(second, first)

    explained(jory, second, anew)
    odds = jory.odds(second, years=60)
    assert odds["years"] == 60
    assert [one["target"] for one in odds["targets"]] == ["M 42", "M 35", "M 44", "M 7"]
    assert odds["targets"][-1]["completion_odds"] == 0
    assert odds["targets"][0]["completion_odds"] > 0.5
    changed = jory.what_if(scenario, lowest_altitude_deg=10.0, targets=["M 7"], years=20, seconds=0.5)
    assert changed["years"] == 20
    assert changed["gain"] == pytest.approx(0, abs=1e-9)  # 10 degrees are still more than it reaches
    prices = jory.prices(scenario)
    assert prices["nights"]
    assert all(night["evening"] > lost.isoformat() for night in prices["nights"])

    with pytest.raises(Refused, match="no-such-thing"):
        jory.calendar(scenario)
    for chosen in (second, first):
        jory.publish(chosen)
        assert jory.calendar(scenario)["plan"] == chosen
    assert [row["target"] for row in rows(jory.table(second, "schedule")) if row["target"] == "M 42"]


def explained(client: Client, plan: str, read: Any) -> None:
    """Ask why, of what is planned, and of what is not."""
    then = client.why(plan, target="M 42")["then"]
    planned = {visit.evening for visit in read.visits if visit.target == "M 42"}
    assert date.fromisoformat(then["evening"]) in planned
    assert then["worth"] > 0
    lacking = client.why(plan, target="M 7")["not"]
    assert lacking["missing"] == 1
    assert json.dumps(lacking["reason"])
    with pytest.raises(Refused):
        client.why(plan, target="M 13")
