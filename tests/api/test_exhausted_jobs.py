"""Jobs that use up what they may have say so; the service answers all the time, the next job is done."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest

from api.deeds import deeds_behind
from api.hands import Limits, ProcessHands
from api.jobs import DurableJobs, Power
from api.ports import Door, Jobs
from api.settings import Settings
from api.storage import Storage

from .conftest import StartService
from .stand_ins import StandInPlanner

IN_TIME_MIN, MOST_MB = 5.0, 500


def tight_jobs(longest_min: float, settings: Settings, storage: Storage, door: Callable[[], Door]) -> Jobs:
    """Work in child processes that may have little; no setting allows so short a time."""
    hands = ProcessHands(deeds_behind(door), 1, Limits(longest_min, MOST_MB))
    return DurableJobs(storage, hands, Power(plan_years=0))


@pytest.mark.parametrize(
    ("does", "longest_min", "kind", "told"),
    [
        ("sleep", 0.08, "out-of-time", "0.08"),
        ("eat", IN_TIME_MIN, "out-of-memory", "500"),
        ("crash", IN_TIME_MIN, "work-crashed", "SIGSEGV"),
    ],
)
def test_a_job_that_uses_up_what_it_may_have_fails_alone(
    start_service: StartService, planner: StandInPlanner, does: str, longest_min: float, kind: str, told: str
) -> None:
    service = start_service(jobs=partial(tight_jobs, longest_min))
    scenario = service.kept()
    planner.held = planner.deaf = does == "sleep"
    planner.rough = does
    job = service.started(scenario)
    while (seen := service.get(job).json())["state"] not in {"done", "failed", "cancelled"}:
        assert service.get("/livez").status_code == service.get(scenario).status_code == 200
    assert seen["state"] == "failed", seen
    assert seen["problem"]["type"] == f"/problems/{kind}"
    assert told in seen["problem"]["detail"]
    assert service.get(f"{scenario}/plans").json()["items"] == []
    planner.held, planner.rough = False, ""
    service.client.app.state.services.jobs._hands._limits = Limits()  # a child may take long to start
    assert service.ended(service.started(scenario))["state"] == "done"
