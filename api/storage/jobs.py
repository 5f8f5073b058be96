"""Kept jobs. A job only moves forward, and each step checks where it stands in the same transaction."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, insert, select, update

from ..errors import AlreadyEnded, KeyReused, NoSuch, TooManyJobs
from .calendars import publish_plan
from .clubs import found_club
from .database import Database, new_id, page_of
from .outcomes import count_lines
from .plans import insert_plan
from .records import Page
from .results import NEWEST, JobRecord, JobState, JobTally, NewJob, NewPlan, Work
from .tables import calendars, jobs, scenarios
from .told import Publication

_WAITING, _AT_WORK = JobState.WAITING.value, JobState.AT_WORK.value
_UNFINISHED = [state.value for state in JobState if not state.ended]
_COLUMNS: list[ColumnElement[Any]] = [column for column in jobs.c if column.name not in {"key", "answer"}]
_COLUMNS.append(jobs.c.answer.is_not(None).label("answered"))


class StoredJobs:
    """Jobs as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, new: NewJob, most_unfinished: int) -> tuple[JobRecord, bool]:
        """Keep a new job and return it with True; with False, the job this very request made before.

        Raises
        ------
        NoSuch
            If there is no such scenario.
        KeyReused
            If the key came with another request before.
        TooManyJobs
            If `most_unfinished` jobs of the club are waiting or at work.
        """
        with self._database.writing() as connection:
            kept = connection.execute(
                select(scenarios.c.revision, scenarios.c.club).where(scenarios.c.id == new.scenario)
            ).first()
            if kept is None:
                raise NoSuch("scenario", new.scenario)
            earlier = _made_before(connection, kept.club, new)
            if earlier is not None:
                return earlier, False
            if _count_unfinished(connection, kept.club) >= most_unfinished:
                raise TooManyJobs(most_unfinished)
            job = new_id()
            connection.execute(insert(jobs).values(
                id=job, club=kept.club, scenario=new.scenario, revision=kept.revision,
                outcomes=count_lines(connection, new.scenario), work=new.work.value, wish=dict(new.wish),
                key=new.key, state=_WAITING, cancelling=False, stage="waiting for a worker", fraction=0.0,
                created=self._database.now(),
            ))  # fmt: skip
            return _found(connection, job), True

    def get(self, job: str) -> JobRecord:
        """Return the record of a job, or raise `NoSuch`."""
        with self._database.reading() as connection:
            return _found(connection, job)

    def answer(self, job: str) -> str:
        """Return the answer of a job, or raise `NoSuch` where it has none."""
        with self._database.reading() as connection:
            found: str | None = connection.execute(select(jobs.c.answer).where(jobs.c.id == job)).scalar()
        if found is None:
            raise NoSuch("answer of the job", job)
        return found

    def page(self, club: str, cursor: int | None, limit: int) -> Page[JobRecord]:
        """Return a page of a club's jobs, newest first; raise `NoSuch` if there is no such club."""
        with self._database.reading() as connection:
            found_club(connection, club)
            query = select(*_COLUMNS).where(jobs.c.club == club)
            rows, following = page_of(connection, jobs, query, cursor, limit)
        return Page(tuple(_record(row) for row in rows), following)

    def of_scenario(self, scenario: str, works: Collection[Work], limit: int) -> tuple[JobRecord, ...]:
        """Return the newest jobs of a scenario that do one of these works, newest first."""
        mine = (jobs.c.scenario == scenario) & jobs.c.work.in_([work.value for work in works])
        query = select(*_COLUMNS).where(mine).order_by(jobs.c.number.desc()).limit(limit)
        with self._database.reading() as connection:
            return tuple(_record(row) for row in connection.execute(query).mappings().all())

    def unfinished(self) -> tuple[JobRecord, ...]:
        """Return every job that waits or is at work, the oldest first."""
        query = select(*_COLUMNS).where(jobs.c.state.in_(_UNFINISHED)).order_by(jobs.c.number)
        with self._database.reading() as connection:
            return tuple(_record(row) for row in connection.execute(query).mappings().all())

    def tallies(self) -> tuple[JobTally, ...]:
        """Return how many jobs of which work stand where, and how long those that ended were at work."""
        seconds = func.sum(self._database.seconds_between(jobs.c.started, jobs.c.ended))
        query = select(jobs.c.work, jobs.c.state, func.count(), seconds).group_by(jobs.c.work, jobs.c.state)
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(jobs.c.work, jobs.c.state)).all()
        return tuple(JobTally(Work(row[0]), JobState(row[1]), row[2], float(row[3] or 0)) for row in rows)

    def begin(self, job: str) -> JobRecord | None:
        """Take a job to work and return it, one already at work too; None where nothing is left to do.

        Who takes over the work of a process that died finds the job at work. One that was asked to stop
        ends here.
        """
        with self._database.writing() as connection:
            record = _found(connection, job)
            if record.state.ended:
                return None
            if record.cancelling:
                _stop(connection, record, {}, self._database.now())
                return None
            if record.state is JobState.WAITING:
                _set(connection, job, state=_AT_WORK, stage="starting", started=self._database.now())
            return _found(connection, job)

    def report(
        self, job: str, stage: str, fraction: float, objective: float | None, bound: float | None
    ) -> None:
        """Note how far a job at work has come."""
        self._move(job, _AT_WORK, stage=stage, fraction=fraction, objective=objective, bound=bound)

    def ask_cancel(self, job: str) -> JobRecord:
        """End a waiting job as cancelled, ask one at work to stop; raise `AlreadyEnded` if done or failed."""
        with self._database.writing() as connection:
            record = _found(connection, job)
            if record.state is JobState.WAITING:
                _set(
                    connection,
                    job,
                    state=JobState.CANCELLED.value,
                    cancelling=True,
                    ended=self._database.now(),
                )
            elif record.state is JobState.AT_WORK:
                _set(connection, job, cancelling=True)
            elif record.state is not JobState.CANCELLED:
                raise AlreadyEnded(job, record.state)
            return _found(connection, job)

    def finish(self, job: str, plan: NewPlan) -> bool:
        """Keep the plan and end its job as done, both or neither; False if it ended, or was asked to, first.

        Raises
        ------
        VersionTaken
            If another plan of the scenario got this version meanwhile.
        """
        with self._database.writing() as connection:
            record = _found(connection, job)
            if record.state is not JobState.AT_WORK or record.cancelling:
                return False
            now = self._database.now()
            made = insert_plan(connection, record, plan, now)
            if record.work is Work.REPLAN:
                _publish_if_followed(connection, record, made, now)
            _set(connection, job, state=JobState.DONE.value, stage="done", fraction=1.0,
                 objective=plan.objective, bound=plan.bound, plan=made, ended=now)  # fmt: skip
            return True

    def finish_with_answer(self, job: str, answer: str) -> bool:
        """Keep the answer and end its job as done, both or neither; False as for `finish`."""
        with self._database.writing() as connection:
            return self._answered(connection, job, answer)

    def finish_by_publishing(self, job: str, publication: Publication, answer: str) -> bool:
        """Let the scenario's calendar show a plan and end the job as done; False as for `finish`.

        Jobs may end in another order than they were asked for: one overtaken by a later one changes nothing.

        Raises
        ------
        CalendarMoved
            If the calendar does not show the plan the publication was held against; nothing has changed.
        """
        with self._database.writing() as connection:
            done = self._answered(connection, job, answer)
            if done and not _overtaken(connection, _found(connection, job)):
                publish_plan(connection, _found(connection, job).scenario, publication, self._database)
            return done

    def _answered(self, connection: Connection, job: str, answer: str) -> bool:
        record = _found(connection, job)
        if record.state is not JobState.AT_WORK or record.cancelling:
            return False
        _set(connection, job, state=JobState.DONE.value, stage="done", fraction=1.0, answer=answer,
             ended=self._database.now())  # fmt: skip
        return True

    def stop(self, job: str, problem: Mapping[str, Any]) -> None:
        """End an unfinished job without a plan: cancelled if asked to, else failed with `problem`."""
        with self._database.writing() as connection:
            _stop(connection, _found(connection, job), problem, self._database.now())

    def hand_back(self, job: str) -> None:
        """Let a job at work wait again for a worker; one that was asked to stop ends as cancelled."""
        with self._database.writing() as connection:
            record = _found(connection, job)
            if record.cancelling:
                _stop(connection, record, {}, self._database.now())
            elif record.state is JobState.AT_WORK:
                _set(connection, job, state=_WAITING, stage="waiting for a worker")

    def _move(self, job: str, expected: str, **values: Any) -> JobRecord | None:
        with self._database.writing() as connection:
            moved = connection.execute(
                update(jobs).where(jobs.c.id == job, jobs.c.state == expected).values(**values)
            )
            return _found(connection, job) if moved.rowcount else None


def _made_before(connection: Connection, club: str, new: NewJob) -> JobRecord | None:
    if new.key is None:
        return None
    mine = (jobs.c.club == club) & (jobs.c.key == new.key)
    row = connection.execute(select(*_COLUMNS).where(mine)).mappings().first()
    if row is None:
        return None
    record, wish = _record(row), json.loads(json.dumps(dict(new.wish)))  # as it would come back
    asked, asks = (_asked(record.work, record.wish), _asked(new.work, wish))
    if (record.scenario, asked) != (new.scenario, asks):
        raise KeyReused(new.key)
    return record


def _asked(work: Work, wish: Mapping[str, Any]) -> tuple[Work | None, Mapping[str, Any]]:
    """Return what a request asked for: after the newest plan, whichever that was then, if any."""
    if wish.get("after") != NEWEST:
        return work, wish
    return None, {name: value for name, value in wish.items() if name != "plan"}


def _overtaken(connection: Connection, job: JobRecord) -> bool:
    """Tell whether the same work on the same scenario, asked for later, is done already."""
    alike = (jobs.c.scenario == job.scenario) & (jobs.c.work == job.work.value) & (jobs.c.number > job.number)
    done = select(jobs.c.id).where(alike, jobs.c.state == JobState.DONE.value).limit(1)
    return connection.execute(done).first() is not None


def _count_unfinished(connection: Connection, club: str) -> int:
    busy = (jobs.c.club == club) & jobs.c.state.in_(_UNFINISHED)
    return connection.execute(select(func.count()).select_from(jobs).where(busy)).scalar_one()


def _publish_if_followed(connection: Connection, job: JobRecord, plan: str, now: datetime) -> None:
    """Ask for a re-plan to be published where its scenario's calendar follows them."""
    follows = select(calendars.c.id).where(calendars.c.scenario == job.scenario, calendars.c.follows)
    if connection.execute(follows).first() is not None:
        connection.execute(insert(jobs).values(
            id=new_id(), club=job.club, scenario=job.scenario, revision=job.revision, outcomes=job.outcomes,
            work=Work.PUBLISH.value, wish={"plan": plan}, state=_WAITING, cancelling=False,
            stage="waiting for a worker", fraction=0.0, created=now,
        ))  # fmt: skip


def _stop(connection: Connection, job: JobRecord, problem: Mapping[str, Any], now: datetime) -> None:
    if job.state.ended:
        return
    if job.cancelling:
        _set(connection, job.id, state=JobState.CANCELLED.value, ended=now)
    else:
        _set(connection, job.id, state=JobState.FAILED.value, problem=dict(problem), ended=now)


def _set(connection: Connection, job: str, **values: Any) -> None:
    connection.execute(update(jobs).where(jobs.c.id == job).values(**values))


def _found(connection: Connection, job: str) -> JobRecord:
    row = connection.execute(select(*_COLUMNS).where(jobs.c.id == job)).mappings().first()
    if row is None:
        raise NoSuch("job", job)
    return _record(row)


def _record(row: Mapping[Any, Any]) -> JobRecord:
    return JobRecord(**{**row, "state": JobState(row["state"]), "work": Work(row["work"])})
