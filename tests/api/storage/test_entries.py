"""Entries of calendars change only where members must be told, and then quietly and for good."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from api.errors import CalendarMoved, NoSuch
from api.storage import EntryRecord, EntryState, NewFeed, NewOutcome, Publication, Shows, Storage, Work
from api.storage.entries import MOST_AMENDS, WITHDRAWN_SHOWN

from ..databases import KINDS, fresh_database
from .kept import NEW, a_night, a_plan, a_scenario, begun, jobs_of, planned

TODAY = date(2026, 9, 1)
FIRST, SECOND, THIRD = date(2026, 9, 12), date(2026, 9, 14), date(2026, 9, 26)
NOW = datetime(2026, 9, 1, 12, 0, 0, tzinfo=UTC)


class Calendar:
    """A scenario's calendar, published to again and again; each time a minute later."""

    def __init__(self, storage: Storage, patch: pytest.MonkeyPatch) -> None:
        self.storage, self.now = storage, NOW
        patch.setattr(storage._database, "now", lambda: self.now)
        self.scenario = a_scenario(storage)
        self.club = storage.scenarios.get(self.scenario).club
        self.plans = [planned(storage, self.scenario, version) for version in (1, 2)]

    def publication(self, nights: dict[date, dict[str, Any]], **other: Any) -> Publication:
        by_evening = {evening.isoformat(): night for evening, night in nights.items()}
        shown = self.storage.calendars.shown(self.scenario)
        told = Publication(self.plans[0], shown, by_evening, TODAY, {FIRST.isoformat(): ["M 57 added"]},
                           (), TODAY)  # fmt: skip
        return replace(told, **other)

    def publish(self, nights: dict[date, dict[str, Any]], **other: Any) -> dict[date, EntryRecord]:
        self.now += timedelta(minutes=1)
        self.storage.calendars.publish(self.scenario, self.publication(nights, **other))
        return self.entries

    def weeks(self, weeks: int, today: date = TODAY, *, follows: bool = False) -> dict[date, EntryRecord]:
        self.storage.calendars.settle(self.scenario, follows, weeks, today, None)
        return self.entries

    def log(self, evening: date, outcome: str) -> dict[date, EntryRecord]:
        self.storage.outcomes.add(self.scenario, [NewOutcome(evening, outcome)], None)
        return self.entries

    def feed(self, shows: Shows, **of: Any) -> list[date]:
        record = self.storage.feeds.add(self.club, NewFeed(shows, **of))
        shown = self.storage.entries.shown_by(record)
        assert self.storage.entries.versions_shown_by(record) == tuple(one.version for one in shown)
        return [one.evening for one in shown]

    @property
    def entries(self) -> dict[date, EntryRecord]:
        return {one.evening: one for one in self.storage.entries.of_calendar(self.scenario)}


@pytest.fixture(scope="module", params=KINDS)
def shared(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Storage]:
    """One database of each kind; each test has a club of its own in it."""
    with fresh_database(request.param, tmp_path_factory.mktemp("entries")) as where:
        storage = Storage(where)
        yield storage
        storage.close()


@pytest.fixture
def calendar(shared: Storage, monkeypatch: pytest.MonkeyPatch) -> Calendar:
    return Calendar(shared, monkeypatch)


def test_a_new_night_has_a_random_uid_and_begins_at_sequence_0(calendar: Calendar) -> None:
    entries = calendar.publish({FIRST: a_night(), SECOND: a_night()})
    assert len({one.uid for one in entries.values()}) == 2
    for one in entries.values():
        assert (one.sequence, one.state, one.announced, one.outcome) == (0, EntryState.PLANNED, None, None)
        assert one.created == one.changed == calendar.now


def test_a_night_that_stays_keeps_its_sequence_and_stamp_to_the_byte(calendar: Calendar) -> None:
    before = calendar.publish({FIRST: a_night(), SECOND: a_night()})
    revision = calendar.storage.calendars.of(calendar.scenario).revision
    assert calendar.publish({FIRST: a_night(), SECOND: a_night()}) == before
    assert calendar.storage.calendars.of(calendar.scenario).revision == revision
    after = calendar.publish({FIRST: a_night("Night out: M 57"), SECOND: a_night()})
    assert after[SECOND] == before[SECOND]
    changed = after[FIRST]
    assert (changed.sequence, changed.changed, changed.uid) == (1, calendar.now, before[FIRST].uid)
    assert (changed.told["title"], changed.created) == ("Night out: M 57", before[FIRST].created)


def test_a_night_withdrawn_and_planned_again_is_the_same_event(calendar: Calendar) -> None:
    before = calendar.publish({FIRST: a_night(), SECOND: a_night()})[FIRST]
    gone = calendar.publish({SECOND: a_night()})[FIRST]
    assert (gone.state, gone.sequence, gone.told) == (EntryState.WITHDRAWN, 1, before.told)
    assert calendar.publish({SECOND: a_night()})[FIRST] == gone
    again = calendar.publish({FIRST: a_night(), SECOND: a_night()})[FIRST]
    assert (again.state, again.sequence, again.uid) == (EntryState.PLANNED, 2, before.uid)


@pytest.mark.parametrize(("odds", "told"), [(0.31, False), (0.49, False), (0.29, True), (0.52, True)])
def test_only_clear_odds_that_moved_far_are_news(calendar: Calendar, odds: float, told: bool) -> None:
    calendar.publish({FIRST: a_night(clear_odds=0.4)})
    after = calendar.publish({FIRST: a_night(clear_odds=odds)})[FIRST]
    assert (after.sequence, after.told["clear_odds"]) == ((1, odds) if told else (0, 0.4))


def test_odds_that_creep_are_told_once_they_have_come_far(calendar: Calendar) -> None:
    told = [calendar.publish({FIRST: a_night(clear_odds=odds / 100)})[FIRST] for odds in range(40, 65, 4)]
    assert [one.told["clear_odds"] for one in told] == [0.4, 0.4, 0.4, 0.52, 0.52, 0.52, 0.64]


def test_stamps_move_on_though_the_clock_was_set_back(calendar: Calendar) -> None:
    stamps = [calendar.publish({FIRST: a_night()})[FIRST].changed]
    for back in (timedelta(hours=5), timedelta(), timedelta(minutes=1)):
        calendar.now -= back
        title = f"Night out: {len(stamps)}"
        stamps.append(calendar.publish({FIRST: a_night(title)})[FIRST].changed)
    assert stamps == sorted(set(stamps))
    assert stamps[1] == stamps[0] + timedelta(seconds=1)


def test_past_nights_stay_as_they_were_told(calendar: Calendar) -> None:
    before = calendar.publish({FIRST: a_night(), SECOND: a_night(), THIRD: a_night()})
    later = calendar.publish({FIRST: a_night("Else")}, today=SECOND)
    assert later[FIRST] == before[FIRST]
    assert [later[day].state for day in (SECOND, THIRD)] == [EntryState.WITHDRAWN] * 2
    anew = calendar.publish({FIRST: a_night("Else"), SECOND: a_night("Else")}, open_from=THIRD)
    assert anew == later


def test_a_night_the_log_knows_stays_though_an_older_plan_has_it_otherwise(calendar: Calendar) -> None:
    calendar.publish({FIRST: a_night(), SECOND: a_night()})
    logged = calendar.log(FIRST, "clear")[FIRST]
    assert calendar.publish({FIRST: a_night("Else"), SECOND: a_night()}, today=FIRST)[FIRST] == logged
    assert calendar.publish({SECOND: a_night()}, today=FIRST)[FIRST] == logged


def test_an_outcome_is_told_once_and_may_be_corrected(calendar: Calendar) -> None:
    calendar.publish({FIRST: a_night(), SECOND: a_night()})
    told = [calendar.log(FIRST, words)[FIRST] for words in ("clear", "clear", "clouded out", "clouded out")]
    assert [(one.outcome, one.sequence) for one in told] == [
        ("clear", 1), ("clear", 1), ("clouded out", 2), ("clouded out", 2)
    ]  # fmt: skip
    calendar.log(THIRD, "clear")
    assert calendar.entries.keys() == {FIRST, SECOND}
    assert calendar.entries[SECOND].sequence == 0
    calendar.publish({})
    assert calendar.log(SECOND, "clear")[SECOND].outcome is None, "a withdrawn night went nohow"


def test_nights_within_the_weeks_are_announced_and_those_that_come_near_later(calendar: Calendar) -> None:
    calendar.publish({FIRST: a_night(), SECOND: a_night(), THIRD: a_night()})
    entries = calendar.weeks(2)
    assert [day for day, one in entries.items() if one.announced] == [FIRST, SECOND]
    assert [one.sequence for one in entries.values()] == [1, 1, 0]
    assert calendar.weeks(2) == entries
    calendar.weeks(0)
    assert [day for day, one in calendar.entries.items() if one.announced] == [FIRST, SECOND], "taken back"
    calendar.weeks(2)
    calendar.storage.calendars.announce(calendar.scenario, THIRD - timedelta(weeks=2))
    assert calendar.entries[THIRD].announced is None
    calendar.storage.calendars.announce(calendar.scenario, THIRD - timedelta(weeks=2, days=-1))
    assert calendar.entries[THIRD].announced is not None
    calendar.storage.calendars.announce(a_scenario(calendar.storage), TODAY)  # which has no calendar


def test_a_night_published_within_the_weeks_is_announced_from_the_start(calendar: Calendar) -> None:
    calendar.publish({})
    calendar.weeks(2)
    entry = calendar.publish({FIRST: a_night(), THIRD: a_night()})
    assert (entry[FIRST].announced, entry[FIRST].sequence, entry[FIRST].carried) == (calendar.now, 0, False)
    assert entry[THIRD].announced is None


def test_what_the_scenario_has_announced_is_and_its_planner_may_take_it_back(calendar: Calendar) -> None:
    known = {"announced": [FIRST]}
    entry = calendar.publish({FIRST: a_night()}, **known)[FIRST]
    assert entry.announced
    assert entry.carried
    calendar.weeks(2)
    freed = calendar.publish({FIRST: a_night()})[FIRST]
    assert (freed.announced, freed.sequence) == (None, entry.sequence + 1)
    calendar.storage.calendars.announce(calendar.scenario, TODAY)
    assert calendar.publish({FIRST: a_night()})[FIRST] == freed, "the policy announced it again"
    assert calendar.publish({FIRST: a_night()}, **known)[FIRST].announced


def test_announced_nights_are_carried_to_the_scenario_once(calendar: Calendar) -> None:
    calendar.publish({FIRST: a_night(), SECOND: a_night(), THIRD: a_night()})
    before = calendar.weeks(2)
    waiting = calendar.storage.entries.not_carried

    def evenings(today: date = TODAY) -> list[date]:
        return [one.evening for one in waiting(calendar.scenario, today)]

    assert (evenings(), evenings(SECOND)) == ([FIRST, SECOND], [SECOND])
    calendar.storage.entries.carry(calendar.scenario, [FIRST])
    assert evenings() == [SECOND]
    assert calendar.entries[FIRST] == replace(before[FIRST], carried=True), "no member need hear of it"
    after = calendar.publish({FIRST: a_night(), SECOND: a_night()}, announced=[FIRST, SECOND])
    assert (evenings(), after[SECOND].sequence) == ([], before[SECOND].sequence)


def test_only_announced_nights_say_what_was_amended(calendar: Calendar) -> None:
    calendar.publish({FIRST: a_night()})
    assert calendar.publish({FIRST: a_night("Else")})[FIRST].amends == []
    calendar.weeks(2)
    calendar.publish({FIRST: a_night("Other")})
    calendar.publish({FIRST: a_night("Else")}, amends={}, today=date(2026, 9, 3))
    gone = calendar.publish({})[FIRST]
    assert gone.amends == [
        {"on": "2026-09-01", "words": ["M 57 added"]},
        {"on": "2026-09-03", "words": ["the club's planner changed the plan"]},
        {"on": "2026-09-01", "words": ["M 57 added"]},
    ]
    titles = [f"Night out: {count}" for count in range(MOST_AMENDS + 3)]
    last = [calendar.publish({FIRST: a_night(title)}, amends={str(FIRST): [title]}) for title in titles][-1]
    assert [one["words"] for one in last[FIRST].amends] == [[title] for title in titles[-MOST_AMENDS:]]


def test_a_withdrawn_night_is_shown_for_thirty_days_to_the_second(calendar: Calendar) -> None:
    calendar.publish({FIRST: a_night(), SECOND: a_night()})
    withdrawn = calendar.publish({SECOND: a_night()})[FIRST].changed
    for seconds, shown in ((-1, [FIRST, SECOND]), (0, [SECOND])):
        calendar.now = withdrawn + WITHDRAWN_SHOWN + timedelta(seconds=seconds)
        assert calendar.feed(Shows.CLUB) == shown
    assert list(calendar.entries) == [FIRST, SECOND], "its uid is kept for good"


def test_feeds_show_their_club_their_observer_or_their_scenario_alone(calendar: Calendar) -> None:
    storage = calendar.storage
    calendar.publish({FIRST: a_night(), SECOND: a_night(observers=["Wren", "Jory"])})
    calendar.publish({FIRST: a_night(observers=["Wren"]), SECOND: a_night(observers=["Wren", "Jory"])})
    second = storage.scenarios.add(calendar.club, NEW).id
    other = a_scenario(storage)
    for scenario, evening in ((second, THIRD), (other, FIRST)):
        told = Publication(planned(storage, scenario, 1), None, {str(evening): a_night()}, TODAY, today=TODAY)
        storage.calendars.publish(scenario, told)
    assert calendar.feed(Shows.CLUB) == [FIRST, SECOND, THIRD]
    assert calendar.feed(Shows.OBSERVER, observer="Jory") == [SECOND, THIRD]
    assert calendar.feed(Shows.OBSERVER, observer="Jo") == []
    assert calendar.feed(Shows.SCENARIO, scenario=calendar.scenario) == [FIRST, SECOND]
    with pytest.raises(NoSuch):
        storage.feeds.add(calendar.club, NewFeed(Shows.SCENARIO, scenario=other))


def test_the_secret_of_a_feed_is_random_made_anew_and_gone_with_it(calendar: Calendar) -> None:
    feeds = calendar.storage.feeds
    made = [feeds.add(calendar.club, NewFeed(Shows.CLUB)) for _ in range(20)]
    assert len({one.secret for one in made}) == 20
    assert {len(one.secret) for one in made} == {27}
    first = feeds.rotate(made[0].id)
    assert (first.id, first.revision) == (made[0].id, 2)
    feeds.delete(made[1].id)
    for secret in (made[0].secret, made[1].secret, "", "'", "\0", "a" * 65):
        with pytest.raises(NoSuch) as refused:
            feeds.by_secret(secret)
        assert str(refused.value) == "there is no feed ''"
    assert feeds.by_secret(first.secret) == first


def test_a_calendar_that_moved_meanwhile_is_left_alone(calendar: Calendar) -> None:
    before = calendar.publish({FIRST: a_night()})
    with pytest.raises(CalendarMoved):
        calendar.publish({SECOND: a_night()}, previous=calendar.plans[1])
    with pytest.raises(CalendarMoved):
        calendar.publish({SECOND: a_night()}, previous=None)
    assert calendar.entries == before
    job = begun(calendar.storage, calendar.scenario, Work.PUBLISH)
    moved = calendar.publication({SECOND: a_night()}, previous=calendar.plans[1])
    with pytest.raises(CalendarMoved):
        calendar.storage.jobs.finish_by_publishing(job, moved, "{}")
    assert not calendar.storage.jobs.get(job).state.ended, "the job has to try again"


@pytest.mark.parametrize("follows", [True, False])
@pytest.mark.parametrize("work", [Work.PLAN, Work.REPLAN])
def test_only_the_end_of_a_replan_asks_for_its_publication_where_the_calendar_follows(
    calendar: Calendar, work: Work, follows: bool
) -> None:
    calendar.publish({FIRST: a_night()})
    calendar.weeks(0, follows=follows)
    job = begun(calendar.storage, calendar.scenario, work)
    assert calendar.storage.jobs.finish(job, a_plan(3))
    asked = [one.wish for one in jobs_of(calendar.storage, calendar.club) if one.work is Work.PUBLISH]
    made = calendar.storage.jobs.get(job).plan
    assert asked == ([{"plan": made}] if follows and work is Work.REPLAN else [])


def test_a_replan_that_cannot_end_asks_for_no_publication(calendar: Calendar) -> None:
    calendar.publish({FIRST: a_night()})
    calendar.weeks(0, follows=True)
    job = begun(calendar.storage, calendar.scenario, Work.REPLAN)
    calendar.storage.jobs.ask_cancel(job)
    assert not calendar.storage.jobs.finish(job, a_plan(3))
    assert [one.work for one in jobs_of(calendar.storage, calendar.club) if not one.state.ended] == [
        Work.REPLAN
    ]
