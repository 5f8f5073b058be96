"""How a scenario stands: its plan, the log since, and what its members were told."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, tzinfo
from itertools import islice

from scheduler.domain import FreeNight, Outcome, OutcomeLog, Plan, Span, Went

from ..deps import Services
from ..errors import NoSuch
from ..page import TWILIT_NIGHTS
from ..storage import OutcomeRecord, PlanRecord, ScenarioRecord


@dataclass(frozen=True, slots=True)
class Standing:
    """A scenario as its pages show it.

    Attributes
    ----------
    plan : With the log and the announced nights as they stand now, not as they stood when it was made.
    record, newest : Of the plan shown, and of the newest one; None where there is none yet.
    behind : Lines of the log, or changes of the scenario, that the plan shown does not know.
    today : The date at the site, when it is past noon; the date of last evening before.
    """

    scenario: ScenarioRecord
    plan: Plan
    record: PlanRecord
    newest: PlanRecord
    log: tuple[Outcome, ...]
    behind: bool
    today: date

    @property
    def planned(self) -> tuple[date, ...]:
        """Evenings with a programme."""
        return tuple(sorted({visit.evening for visit in self.plan.visits}))

    @property
    def next_night(self) -> date | None:
        """The next evening with a programme and no line in the log."""
        return next(iter(self.coming), None)

    @property
    def coming(self) -> tuple[date, ...]:
        """Evenings with a programme that are not over, and have no line in the log."""
        logged = {one.evening for one in self.log}
        return tuple(one for one in self.planned if one >= self.today and one not in logged)

    def free(self, evening: date) -> FreeNight:
        """Return a free night, or raise `NoSuch`."""
        found = next((one for one in self.plan.nights if one.evening == evening), None)
        if found is None:
            raise NoSuch("night", evening.isoformat())
        return found

    @property
    def twilit(self) -> tuple[Span, ...]:
        """From when to when it is dark enough to need red light, tonight and on the nights to come."""
        return twilit_of(self.plan, self.today)


def twilit_of(plan: Plan, today: date) -> tuple[Span, ...]:
    """Return the Sun's times well below the horizon, on the night of a date and those after it."""
    coming = (one.twilit for one in plan.diary if one.evening >= today)
    return tuple(islice((one for one in coming if one), TWILIT_NIGHTS))


def night_of(moment: datetime) -> date:
    """Return which night a local moment belongs to: until noon it is the evening's before.

    Examples
    --------
    >>> night_of(datetime(2027, 1, 9, 1, 30)), night_of(datetime(2027, 1, 9, 12, 0))
    (datetime.date(2027, 1, 8), datetime.date(2027, 1, 9))
    """
    return (moment - timedelta(hours=12)).date()


def noon_after(evening: date, zone: tzinfo) -> datetime:
    """Return when a night is over: at the local noon after it."""
    return datetime.combine(evening + timedelta(days=1), time(12), zone)


def standing_of(services: Services, scenario: str, plan: str | None = None) -> Standing | None:
    """Return how a scenario stands, by its newest plan or another of its own; None where it has no plan.

    Raises
    ------
    NoSuch
        There is no such scenario, or the plan is none of its.
    """
    storage = services.storage
    record, newest = storage.scenarios.get(scenario), storage.plans.newest(scenario)
    if newest is None:
        return None
    shown = newest if plan is None else storage.plans.get(plan)
    if shown.scenario != scenario:
        raise NoSuch("plan", plan or "")
    lines = storage.outcomes.lines(scenario)
    log = OutcomeLog(tuple(outcome_of(line) for line in lines)).standing
    read = services.shelf.plan(shown.id)
    today = night_of(storage.now().astimezone(read.site.local))
    told = (
        one.evening for one in storage.entries.of_calendar(scenario) if one.announced and one.evening >= today
    )
    announced = tuple(sorted({*read.announced, *read.availability.announced, *told}))
    behind = shown.revision != record.revision or shown.outcomes != len(lines)
    return Standing(
        record, replace(read, log=log, announced=announced), shown, newest, log, behind, today,
    )  # fmt: skip


def plan_of(services: Services, standing: Standing, evening: date) -> Plan | None:
    """Return the plan that stood on an evening; None where the evening was not free in it, or there was none.

    Of an evening to come that is the newest plan. What was planned anew after a night has another programme
    for it, or none any more.
    """
    over = _end_of(standing.plan, evening)
    record = services.storage.plans.of_evening(standing.scenario.id, evening, over)
    if record is None:
        return None
    plan = standing.plan if record.id == standing.record.id else services.shelf.plan(record.id)
    return plan if any(one.evening == evening for one in plan.nights) else None


def _end_of(plan: Plan, evening: date) -> datetime:
    """Return when a night is over: at its dawn; where it has none, at noon."""
    twilit = next((one.twilit for one in plan.diary if one.evening == evening), None)
    if twilit is not None:
        return twilit.end
    return datetime.combine(evening + timedelta(days=1), time(12), plan.site.local)


def outcome_of(line: OutcomeRecord) -> Outcome:
    """Return a line of the log as the scheduler has it."""
    return Outcome(
        line.evening, Went(line.outcome), line.usable_min, line.notes, tuple(line.seen),
        tuple(line.seen_poorly), tuple(line.not_seen), line.sky_brightness,
    )  # fmt: skip
