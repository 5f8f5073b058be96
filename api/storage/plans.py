"""Kept plans and their files. A plan never changes once it is kept."""

from __future__ import annotations

from datetime import date, datetime
from hashlib import sha256

from sqlalchemy import Connection, case, func, insert, select

from ..errors import NoSuch, VersionTaken
from .database import LARGEST, Database, new_id, page_of
from .records import Page
from .results import JobRecord, NewPlan, PlanFile, PlanRecord
from .tables import outcomes, plan_files, plans, scenarios


class StoredPlans:
    """Plans as they are kept; jobs make them, see `StoredJobs.finish`."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def get(self, plan: str) -> PlanRecord:
        """Return the record of a plan, or raise `NoSuch`."""
        with self._database.reading() as connection:
            row = connection.execute(select(plans).where(plans.c.id == plan)).mappings().first()
        if row is None:
            raise NoSuch("plan", plan)
        return PlanRecord(**row)

    def page(self, scenario: str, cursor: int | None, limit: int) -> Page[PlanRecord]:
        """Return a page of a scenario's plans, newest first; raise `NoSuch` if there is no such scenario."""
        with self._database.reading() as connection:
            if connection.execute(select(scenarios.c.id).where(scenarios.c.id == scenario)).first() is None:
                raise NoSuch("scenario", scenario)
            query = select(plans).where(plans.c.scenario == scenario)
            rows, following = page_of(connection, plans, query, cursor, limit)
        return Page(tuple(PlanRecord(**row) for row in rows), following)

    def file(self, plan: str, name: str) -> PlanFile:
        """Return one file of a plan, or raise `NoSuch`."""
        query = select(plan_files.c.text, plan_files.c.digest)
        with self._database.reading() as connection:
            row = connection.execute(
                query.where(plan_files.c.plan == plan, plan_files.c.name == name)
            ).mappings().first()  # fmt: skip
        if row is None:
            raise NoSuch("plan", plan)
        return PlanFile(**row)

    def digest(self, plan: str, name: str) -> str:
        """Return the digest of one file of a plan, its text unread, or raise `NoSuch`."""
        query = select(plan_files.c.digest).where(plan_files.c.plan == plan, plan_files.c.name == name)
        with self._database.reading() as connection:
            digest: str | None = connection.execute(query).scalar()
        if digest is None:
            raise NoSuch("plan", plan)
        return digest

    def newest(self, scenario: str) -> PlanRecord | None:
        """Return the newest plan of a scenario, None where it has none yet."""
        query = select(plans).where(plans.c.scenario == scenario).order_by(plans.c.version.desc()).limit(1)
        with self._database.reading() as connection:
            row = connection.execute(query).mappings().first()
        return None if row is None else PlanRecord(**row)

    def of_evening(self, scenario: str, evening: date, over: datetime) -> PlanRecord | None:
        """Return the plan that stood on an evening, None where no plan of the scenario had it before it.

        Of the plans that know of no line of the log for the evening or a later one, to which it was still to
        come, it is the newest that was made before the night was `over`; where all were made afterwards,
        the oldest.
        """
        reached = (
            select(func.min(outcomes.c.line))
            .where(outcomes.c.scenario == scenario, outcomes.c.evening >= evening)
            .scalar_subquery()
        )
        nearest = case((plans.c.created < over, plans.c.version), else_=-plans.c.version)
        query = (
            select(plans)
            .where(plans.c.scenario == scenario, plans.c.outcomes < func.coalesce(reached, LARGEST))
            .order_by(nearest.desc())
            .limit(1)
        )
        with self._database.reading() as connection:
            row = connection.execute(query).mappings().first()
        return None if row is None else PlanRecord(**row)

    def next_version(self, scenario: str) -> int:
        """Return the version the next plan of a scenario will have, unless another comes first."""
        with self._database.reading() as connection:
            newest = connection.execute(
                select(func.max(plans.c.version)).where(plans.c.scenario == scenario)
            ).scalar()  # fmt: skip
        return (newest or 0) + 1


def insert_plan(connection: Connection, job: JobRecord, new: NewPlan, now: datetime) -> str:
    """Keep a plan inside its job's transaction and return its id."""
    taken = select(plans.c.id).where(plans.c.scenario == job.scenario, plans.c.version == new.version)
    if connection.execute(taken).first() is not None:
        raise VersionTaken(new.version)
    plan = new_id()
    connection.execute(insert(plans).values(
        id=plan, scenario=job.scenario, revision=job.revision, outcomes=job.outcomes, previous=new.previous,
        version=new.version, objective=new.objective, bound=new.bound, visits=new.visits,
        unplaced=new.unplaced, created=now,
    ))  # fmt: skip
    files = [
        {"plan": plan, "name": name, "text": text, "digest": sha256(text.encode()).hexdigest()}
        for name, text in new.files.items()
    ]
    if files:
        connection.execute(insert(plan_files), files)
    return plan
