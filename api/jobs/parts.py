"""The parts of every work: what each asks hands for, and what it leaves in storage.

A plan or a re-plan is solved without odds (`first`), its weather years are lived through in shares that all
processes take part in (`share`), and joined to odds (`last`). More odds for a kept plan begin at the second
part. Every other work is done in the first. A part may be begun again at any time: it is seeded, and only the
end of a job, one conditional transaction, changes what is kept.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from threading import Event, Lock
from typing import Any, TypeVar

from scheduler.domain import Progress
from scheduler.errors import Cancelled

from ..errors import CalendarMoved, Interrupted, NoSuch, VersionTaken
from ..log_csv import outcomes_csv
from ..ports import PLAN_JSON, Hands, Task
from ..problems import log_unforeseen, problem_of
from ..publishing import publication_of
from ..seasons import today_at
from ..storage import JobRecord, NewPlan, Storage, StoredJobs, Work
from .engine import Shares
from .packing import packed, unpacked
from .patience import HandedBack, patiently
from .watch import Fractions, Reporter, Watch

YEARS_A_SHARE = 50
"""Fewer cost more in all (prices are fitted once a share), more keep other processes waiting."""
SOLVED, LIVED = 0.5, 0.98
"""Fraction of a job that is behind it when its plan is solved, and when its years are lived through."""
_LOOK_EVERY_S = 0.2
_PLANS = (Work.PLAN, Work.REPLAN)

Result = TypeVar("Result")
_log = logging.getLogger("duskwright.jobs")


@dataclass(frozen=True, slots=True)
class Workshop:
    """What the parts work with.

    Attributes
    ----------
    storage, hands : Where things are kept; who does the heavy work.
    closing : Set when this process is about to stop: what is at work is handed back.
    years : Weather years of a plan whose wish names none.
    """

    storage: Storage
    hands: Hands
    closing: Event
    years: int


class PartsOfJobs:
    """The parts of jobs, as `engine.Parts` asks for them.

    Parameters
    ----------
    workshop : What they work with.
    """

    def __init__(self, workshop: Workshop) -> None:
        self._shop = workshop
        self._fractions = Fractions()
        self._here: list[tuple[str, str | None]] = []
        self._lock = Lock()

    @property
    def at_work(self) -> tuple[str, ...]:
        """Jobs whose first or last part is at work in this process."""
        with self._lock:
            return tuple(job for job, share in self._here if share is None)

    @property
    def idle(self) -> bool:
        """Whether no part of any job is at work in this process."""
        with self._lock:
            return not self._here

    def first(self, job: str) -> str | None:
        """Do the first part; None where the job has ended with it."""
        with self._ending(job):
            record = self._begun(job)
            if record is None:
                return None
            if record.work is Work.PUBLISH:
                self._publish(record)
                return None
            given = self._given(record)
            if record.work in _PLANS:
                years = self._years_of(record)
                made = self._done(record, record.work, given, 0.0, SOLVED if years else 1.0)
                return packed({"plan": made, "years": years})
            if record.work is Work.ODDS:
                return packed({"plan": given["plan"], "years": self._years_of(record)})
            answer = self._done(record, record.work, given)
            self._end(job, lambda jobs: jobs.finish_with_answer(job, answer))
        return None

    def shares(self, first: str) -> Sequence[str]:
        """Return the weather years in shares, as "0 50" for the first fifty."""
        years = unpacked(first)["years"]
        return [f"{begin} {min(YEARS_A_SHARE, years - begin)}" for begin in range(0, years, YEARS_A_SHARE)]

    def share(self, job: str, first: str, share: str) -> str:
        """Live through a share of the years and return them; what ends the job is in its record."""
        begin, years = map(int, share.split())
        with self._ending(job, share):
            record = self._kept(lambda: self._shop.storage.jobs.get(job))
            given = self._given(record) | {"plan": unpacked(first)["plan"], "first": begin, "years": years}
            try:
                return self._do(record, "years", given, self._fractions.report_of(job, share))
            finally:
                self._fractions.done(job, share)
        return ""

    def last(self, job: str, first: str, shares: Shares) -> None:
        """Wait for the years, join them to the plan and keep what was made."""
        with self._ending(job):
            record = self._begun(job)
            if record is None:
                return shares.drop()
            try:
                self._wait(record, shares)
            except Cancelled:
                if not self._shop.closing.is_set():  # when it is, they are handed back with their job
                    shares.drop()
                raise
            except LookupError:
                return None  # the library's tables are gone; the job will be begun anew
            given = self._given(record) | {"plan": unpacked(first)["plan"], "lived": shares.made()}
            if record.work is Work.ODDS:
                answer = self._done(record, "odds", given, LIVED)
                self._end(job, lambda jobs: jobs.finish_with_answer(job, answer))
            else:
                self._finish(record, given)
        return None

    def _finish(self, record: JobRecord, given: Mapping[str, Any]) -> None:
        storage = self._shop.storage
        previous = record.wish["plan"] if record.work is Work.REPLAN else None
        while True:
            version = self._kept(lambda: storage.plans.next_version(record.scenario))
            made = json.loads(self._done(record, "write", {**given, "version": version}, LIVED))
            plan = NewPlan(**made, previous=previous)
            try:
                self._end(record.id, lambda jobs: jobs.finish(record.id, plan))  # noqa: B023 - called at once
            except VersionTaken:
                continue
            return

    def _wait(self, record: JobRecord, shares: Shares) -> None:
        asked = Watch(self._shop.storage, record.id, self._shop.closing)
        report = Reporter(self._shop.storage, record.id, SOLVED, LIVED)
        while True:
            ended = shares.ended()
            if not all(ended.values()) or asked():
                raise Cancelled
            if len(ended) == len(shares):
                return
            done = (len(ended) + self._fractions.under_way(record.id)) / len(shares)
            report(Progress("living through weather years", done, record.objective, record.bound))
            self._shop.closing.wait(_LOOK_EVERY_S)

    def _publish(self, record: JobRecord) -> None:
        """Let the calendar tell the plan's nights, and what changed since the plan it has told of."""
        storage, plan = self._shop.storage, str(record.wish["plan"])
        answer = json.dumps({"plan": plan})
        while True:
            shown = self._kept(lambda: storage.calendars.shown(record.scenario))
            given = self._given(record)
            if shown is not None:
                given["shown"] = self._kept(lambda: storage.plans.file(shown, PLAN_JSON).text)  # noqa: B023
            notices = json.loads(self._done(record, Work.PUBLISH, given))
            files, _ = self._kept(lambda: storage.scenarios.files(record.scenario))
            publication = publication_of(plan, shown, notices, files, storage.now())
            try:
                self._end(record.id, lambda jobs: jobs.finish_by_publishing(record.id, publication, answer))  # noqa: B023
            except CalendarMoved:
                continue
            return

    def _end(self, job: str, finish: Callable[[StoredJobs], bool]) -> None:
        """End a job as done, unless it has ended; one that was handed back meanwhile is taken up again."""
        while not self._kept(lambda: finish(self._shop.storage.jobs)) and self._begun(job) is not None:
            pass

    def _given(self, record: JobRecord) -> dict[str, Any]:
        """Return what a deed is given: the wish, the scenario as it was read, and the plan the wish names."""
        return self._kept(lambda: self._read(record))

    def _read(self, record: JobRecord) -> dict[str, Any]:
        """A question about a plan is one about the scenario as that plan found it."""
        storage = self._shop.storage
        plan: str | None = record.wish.get("plan")
        of = storage.plans.get(plan) if plan and record.work is not Work.REPLAN else record
        files, _ = storage.scenarios.files(record.scenario, of.revision)
        log = outcomes_csv(storage.outcomes.lines(record.scenario, of.outcomes))
        given = {
            **record.wish,
            "name": storage.scenarios.get(record.scenario).name,
            "files": files,
            "log": log,
            "today": today_at(files.scenario_toml, record.created),
        }
        if plan:
            given["plan"] = storage.plans.file(plan, PLAN_JSON).text
            if of is not record:
                given["today"] = None  # the plan knows when its season began
        return given

    def _years_of(self, record: JobRecord) -> int:
        return int(record.wish.get("years", self._shop.years))

    def _begun(self, job: str) -> JobRecord | None:
        return self._kept(lambda: self._shop.storage.jobs.begin(job))

    def _done(
        self, record: JobRecord, deed: str, given: Mapping[str, Any], begin: float = 0.0, end: float = 1.0
    ) -> str:
        return self._do(record, deed, given, Reporter(self._shop.storage, record.id, begin, end))

    def _do(
        self, record: JobRecord, deed: str, given: Mapping[str, Any], report: Callable[[Progress], None]
    ) -> str:
        asked = Watch(self._shop.storage, record.id, self._shop.closing)
        if asked():
            raise Cancelled
        return self._shop.hands.do(Task(str(deed), given), report, asked)

    def _kept(self, ask: Callable[[], Result]) -> Result:
        return patiently(ask, self._shop.closing)

    @contextmanager
    def _ending(self, job: str, share: str | None = None) -> Iterator[None]:
        """End the job, as it should, with whatever goes wrong inside."""
        with self._lock:
            self._here.append((job, share))
        try:
            yield
        except Exception as error:
            if self._shop.closing.is_set():
                raise HandedBack from error
            problem = problem_of(Interrupted() if isinstance(error, Cancelled) else error)
            log_unforeseen(error, problem)
            with suppress(NoSuch):  # it went with its club
                self._kept(lambda: self._shop.storage.jobs.stop(job, problem))
        finally:
            with self._lock:
                self._here.remove((job, share))
