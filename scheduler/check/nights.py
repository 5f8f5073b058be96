"""Rules of nights: which are free, from when to when, and how many are spent."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, date, datetime, time, timedelta

from ..domain import FreeNight, Plan, Site, Went
from .looks import MINUTE, Breaches, Rule, looks_of

_DAY, _NOON = timedelta(days=1), time(12)
_SUN_S_PER_DEG = 240.0
_LATEST = timedelta(hours=49)
"""From local midnight to the second noon by a clock half a day off the Sun that is put back."""

_LONGEST = timedelta(hours=25)
"""From noon to noon, should the clocks go back in between."""


def free_nights_are_allowed(plan: Plan) -> Breaches:
    """Every free night lies in the season, once, in order, and the weekly pattern allows it."""
    evenings = [night.evening for night in plan.nights]
    if evenings != sorted(set(evenings)):
        yield "the free nights are not in order, each once"
    for evening in evenings:
        if not 0 <= (evening - plan.season.start).days < plan.season.nights:
            yield f"{evening} lies outside the season"
        if plan.availability.rule_of(evening) is None:
            yield f"{evening} is not free under the weekly pattern"


def free_times_keep_the_evening_rule(plan: Plan) -> Breaches:
    """A night is free between the clock times of its rule; open ends are set-up by dusk, and dawn.

    Clock times are those at home's door: the drives of a trip lie after the start and before the finish.
    """
    for night in plan.nights:
        evening, free, twilit = night.evening, night.free, night.night.twilit
        rule = plan.availability.rule_of(evening)
        if rule is None:
            continue
        if not date.min.year < evening.year < date.max.year:
            yield f"{evening} is at the very end of the calendar"
        elif twilit is None or free.meet(twilit) is None:
            yield f"{evening} is free in daylight only"
        elif free.end - free.start > _LONGEST:
            yield f"{evening} is free for longer than from noon to noon"
        elif rule.start is None and not _is_early_enough(plan, night, twilit.start):
            yield f"{evening} does not begin with the set-up before civil dusk"
        elif rule.start is not None and not _is_clock(
            plan.site, evening, rule.start, free.start - _drive(night)
        ):
            yield f"{evening} is free from {free.start:%H:%M} UTC, not from {rule.start:%H:%M} local time"
        elif not _guests_leave(plan, night):
            yield from _finish_faults(plan, night, rule.finish, twilit.end)


def nothing_is_planned_under_certain_cloud(plan: Plan) -> Breaches:
    """Visits and standbys are on nights that are clear once in a while."""
    for look in looks_of(plan):
        if not look.night.ever_clear:
            yield f"{look.words} is on a night that is never clear"


def nights_out_stay_within_limits(plan: Plan) -> Breaches:
    """No more nights out in an ISO week or a calendar month, those behind us and the club's included, than
    the observer allows; but nights announced, club nights, and those behind us, may be more by themselves.
    """  # noqa: D205
    planned = {visit.evening for visit in plan.visits}
    club = {night.evening for night in plan.nights if night.club}
    chosen = planned - set(plan.announced) - club
    out = planned | club
    out |= {outcome.evening for outcome in plan.log if outcome.went in (Went.CLEAR, Went.PART_CLEAR)}
    weeks = Counter(evening.isocalendar()[:2] for evening in out)
    months = Counter((evening.year, evening.month) for evening in out)
    for year, week in {evening.isocalendar()[:2] for evening in chosen}:
        if weeks[year, week] > (plan.availability.nights_per_week or 7):
            yield f"{weeks[year, week]} nights out in week {week} of {year}"
    for year, month in {(evening.year, evening.month) for evening in chosen}:
        if months[year, month] > (plan.availability.nights_per_month or 31):
            yield f"{months[year, month]} nights out in {year}-{month:02d}"


NIGHT_RULES: tuple[Rule, ...] = (
    free_nights_are_allowed, free_times_keep_the_evening_rule, nothing_is_planned_under_certain_cloud,
    nights_out_stay_within_limits,
)  # fmt: skip


def _drive(night: FreeNight) -> timedelta:
    """Return how long each way of a trip takes, nothing at home."""
    return (night.trip.travel_min if night.trip else 0) * MINUTE


def _home_again(night: FreeNight) -> datetime:
    """Return when one is back from a trip at the latest, a quarter of an hour's packing included."""
    return night.free.end + (_drive(night) + 15 * MINUTE if night.trip else timedelta(0))


def _is_early_enough(plan: Plan, night: FreeNight, dusk: datetime) -> bool:
    """Tell whether a free time begins just early enough to be set up by dusk, home not left before noon."""
    early, start = dusk - night.free.start, night.free.start - _drive(night)
    if early == plan.routine.setup_min * MINUTE:
        return True
    return _is_noon(plan, start) and timedelta(0) <= early < plan.routine.setup_min * MINUTE


def _is_noon(plan: Plan, moment: datetime) -> bool:
    """Tell whether it is noon at home, by the clock or by the mean Sun."""
    mean_sun_s = (moment.timestamp() + plan.site.longitude_deg * _SUN_S_PER_DEG) % _DAY.total_seconds()
    by_clock = moment.astimezone(plan.site.local).time() == _NOON
    return by_clock or abs(mean_sun_s - _DAY.total_seconds() / 2) < 1


def _finish_faults(plan: Plan, night: FreeNight, finish: time | None, dawn: datetime) -> Breaches:
    """Say where a night ends at another time than its rule's, or civil dawn."""
    if finish is None and night.free.end != dawn and not _is_back_by_noon(plan, night, dawn):
        yield f"{night.evening} does not end with civil dawn"
    elif finish is not None and not _is_clock(plan.site, night.evening, finish, _home_again(night)):
        yield f"{night.evening} is free until {night.free.end:%H:%M} UTC, not until {finish:%H:%M} local time"


def _is_back_by_noon(plan: Plan, night: FreeNight, dawn: datetime) -> bool:
    """Tell whether a trip ends before dawn just so that home is reached by noon."""
    return night.trip is not None and night.free.end < dawn and _is_noon(plan, _home_again(night))


def _guests_leave(plan: Plan, night: FreeNight) -> bool:
    """Tell whether a night ends when its guests leave."""
    finish = plan.guests.finish
    return (
        night.guests > 0
        and finish is not None
        and _is_clock(plan.site, night.evening, finish, night.free.end)
    )


def _is_clock(site: Site, evening: date, clock: time, moment: datetime) -> bool:
    """Tell whether a moment of the evening's night shows this local time, or may because it never came."""
    midnight = datetime.combine(evening, time(0), tzinfo=site.local).astimezone(UTC)
    if not timedelta(0) <= moment - midnight <= _LATEST:
        return False
    shown = moment.astimezone(site.local).time() == clock
    return shown or not all(_came(site, day, clock) for day in (evening, evening + _DAY))


def _came(site: Site, day: date, clock: time) -> bool:
    """Tell whether the local clocks showed this time on that day, and did not leap over it."""
    there = datetime.combine(day, clock, tzinfo=site.local)
    back = there.astimezone(UTC).astimezone(site.local)
    return back.replace(tzinfo=None) == there.replace(tzinfo=None)
