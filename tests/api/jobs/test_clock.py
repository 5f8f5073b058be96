"""The wall clock jumps by a day and by a year while jobs run: nobody is taken for dead, nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import cycle

import pytest

from api.auth import bearer_of, made_key
from api.deeds import deeds_behind
from api.errors import KeyNeeded
from api.hands import InlineHands
from api.jobs import DurableJobs, Power
from api.storage import JobState, NewKey, Role, Storage

from ..databases import Where
from ..stand_ins import StandInPlanner
from .benches import Bench, wait_for
from .test_processes import StartWorker, desk, start_worker  # noqa: F401 - fixtures

NOW = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)
JUMPS = [timedelta(days=1), timedelta(days=-1), timedelta(days=366), timedelta(days=-366), timedelta()]


class JumpingClock:
    """A wall clock that stands elsewhere whenever it is asked, a few times around the calendar."""

    def __init__(self) -> None:
        self._jumps = cycle(JUMPS)
        self.told: list[datetime] = []

    def __call__(self) -> datetime:
        self.told.append(NOW + next(self._jumps))
        return self.told[-1]


@pytest.fixture
def bench(database: Where, planner: StandInPlanner) -> Iterator[Bench]:
    """Jobs on a storage whose clock jumps."""
    storage = Storage(database, JumpingClock())
    made = Bench(
        storage, DurableJobs(storage, InlineHands(deeds_behind(planner.door)), Power(plan_years=0)), planner
    )
    yield made
    planner.let_go.set()
    made.close()


def test_jobs_end_and_keep_their_order_while_the_clock_jumps(bench: Bench) -> None:
    scenario = bench.scenario()
    jobs = [bench.start(scenario) for _ in range(8)]
    assert {bench.ended(job).state for job in jobs} == {JobState.DONE}
    club = bench.get(jobs[0]).club
    page = bench.storage.jobs.page(club, None, 200).items
    assert [job.id for job in page] == jobs[::-1], "pages are ordered by number, not by the clock"
    plans = bench.storage.plans.page(scenario, None, 200).items
    assert [plan.version for plan in plans] == list(range(8, 0, -1))
    assert len({plan.created for plan in plans}) > 1, "the clock did jump"


def test_a_process_whose_clock_jumps_is_not_taken_for_dead(
    bench: Bench, planner: StandInPlanner, start_worker: StartWorker, capfd: pytest.CaptureFixture[str]  # noqa: F811
) -> None:  # fmt: skip
    """Another process, with another clock, looks at it for longer than it takes to bury somebody."""
    planner.held = True
    job = bench.start()
    wait_for(planner.began.is_set)
    other = start_worker()
    me = bench.jobs._pulse.executor
    beats = []
    for _ in range(10):
        counts = {one.executor: one.beat for one in bench.storage.workers.all()}
        assert len(counts) == 2
        beats.append(counts[me])
        wait_for(
            lambda: next(one.beat for one in bench.storage.workers.all() if one.executor == me) > beats[-1]
        )
    assert bench.get(job).state is JobState.AT_WORK
    assert len(planner.asked) == 1, "somebody took it over"
    planner.let_go.set()
    assert bench.ended(job).state is JobState.DONE
    other.process.terminate()
    assert "is dead" not in other.process.communicate(timeout=60)[1]


def test_keys_count_until_their_end_as_the_clock_stands(database: Where) -> None:
    moment = [NOW]
    storage = Storage(database, lambda: moment[0])
    club = storage.clubs.add("Alder Reach").id
    month, token = made_key(storage, NewKey(club, Role.READER, "for a month", NOW + timedelta(days=30)))
    assert bearer_of(storage, token)[1] == month.id
    moment[0] = NOW + timedelta(days=366)
    with pytest.raises(KeyNeeded, match="expired"):
        bearer_of(storage, token)
    later, _ = made_key(storage, NewKey(club, Role.READER, "made in a year", None))
    moment[0] = NOW - timedelta(days=366)
    assert bearer_of(storage, token)[1] == month.id
    newest, _ = made_key(storage, NewKey(club, Role.READER, "made a year ago", None))
    page = storage.keys.page(club, None, 10).items
    assert [one.id for one in page] == [newest.id, later.id, month.id], "pages are ordered by number"
    storage.close()
