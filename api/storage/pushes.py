"""Pushes that come of themselves: what feeds show has changed, and their collections are to hear of it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, insert, or_, select

from .database import new_id
from .results import JobState, Work
from .tables import collections, feeds, jobs, outcomes, scenarios


def jobs_for_pushes(connection: Connection, scenario: str, now: datetime) -> None:
    """Ask for a push of every collection that shows a scenario's nights, unless one waits already.

    One that waits will push whatever is told by then; one at work may have read already what it pushes.
    """
    of = connection.execute(
        select(scenarios.c.club, scenarios.c.revision).where(scenarios.c.id == scenario)
    ).one()  # fmt: skip
    shows = or_(feeds.c.scenario == scenario, feeds.c.scenario.is_(None) & (feeds.c.club == of.club))
    query = select(collections.c.id).join(feeds, feeds.c.id == collections.c.feed).where(shows)
    wanted = connection.execute(query.order_by(collections.c.number)).scalars().all()
    if not wanted:
        return
    waits = (jobs.c.work == Work.PUSH.value) & (jobs.c.state == JobState.WAITING.value)
    wishes = connection.execute(select(jobs.c.wish).where(waits, jobs.c.club == of.club)).scalars().all()
    lines = connection.execute(
        select(func.count()).select_from(outcomes).where(outcomes.c.scenario == scenario)
    ).scalar_one()
    coming = {wish["collection"] for wish in wishes if not wish["withdraw"]}
    for one in wanted:
        if one not in coming:
            connection.execute(insert(jobs).values(
                id=new_id(), club=of.club, scenario=scenario, revision=of.revision,
                outcomes=lines, work=Work.PUSH.value,
                wish=push_wish(one), state=JobState.WAITING.value, cancelling=False,
                stage="waiting for a worker", fraction=0.0, created=now,
            ))  # fmt: skip


def push_wish(collection: str, *, withdraw: bool = False) -> dict[str, Any]:
    """Return the wish of a job that pushes a collection, or that takes away from it what was put there."""
    return {"collection": collection, "withdraw": withdraw}
