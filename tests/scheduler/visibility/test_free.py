"""Which nights are free, and from when to when."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scheduler.domain import (
    Availability,
    Binoculars,
    ClearOdds,
    EveningRule,
    FreeNight,
    Kit,
    Outcome,
    OutcomeLog,
    Routine,
    Scenario,
    Season,
    Site,
    Span,
    Went,
)
from scheduler.sky.season import SeasonSky, sky_of
from scheduler.visibility.free import free_nights_of
from tests.small_plan import FIRST, ORION, SECOND, SITE, night, utc

NIGHTS = (night(FIRST).night, night(SECOND).night)


def free(*rules: EveningRule, **changes: object) -> tuple[FreeNight, ...]:
    scenario = Scenario(
        "larkmoor", SITE, Kit(binoculars=Binoculars("10x50", 10, 50)), Season(FIRST, 8),
        replace(Availability(rules or (EveningRule(),)), **changes),  # type: ignore[arg-type]
        ClearOdds((0.4,) * 12), (ORION,), Routine(setup_min=20),
    )  # fmt: skip
    return free_nights_of(scenario, NIGHTS, (0.4, 0.3))


def test_without_times_the_evening_runs_from_setting_up_before_dusk_to_dawn() -> None:
    first, second = free()
    assert first.free.start == utc(FIRST, 16, 10)
    assert first.free.end == utc(FIRST, 31, 30)
    assert second.clear_odds == 0.3


@pytest.mark.parametrize(("logged", "left"), [(7, 2), (8, 1), (9, 1), (14, 1), (15, 0), (30, 0)])
def test_evenings_up_to_the_last_one_in_the_log_are_past(logged: int, left: int) -> None:
    log = OutcomeLog(
        (Outcome(date(2027, 1, logged), Went.CLOUDED_OUT), Outcome(date(2026, 12, 1), Went.CLEAR))
    )
    scenario = Scenario(
        "larkmoor", SITE, Kit(binoculars=Binoculars("10x50", 10, 50)), Season(FIRST, 8), Availability(),
        ClearOdds((0.4,) * 12), (ORION,), outcomes=log,
    )  # fmt: skip
    assert len(free_nights_of(scenario, NIGHTS, (0.4, 0.3))) == left


def test_a_finish_after_midnight_belongs_to_the_next_day() -> None:
    (first, _) = free(EveningRule(start=time(19), finish=time(1, 30)))
    assert first.free.start == datetime(2027, 1, 8, 19, tzinfo=UTC)
    assert first.free.end == datetime(2027, 1, 9, 1, 30, tzinfo=UTC)


def test_only_the_named_weekdays_and_the_exceptions_are_free() -> None:
    saturdays = EveningRule(weekdays=(5,))
    assert free(saturdays) == ()
    assert [n.evening for n in free(saturdays, extra=frozenset({SECOND}))] == [SECOND]
    assert [n.evening for n in free(away=frozenset({FIRST}))] == [SECOND]


def test_an_evening_over_before_dusk_is_not_free() -> None:
    assert free(EveningRule(start=time(13), finish=time(16))) == ()


def test_a_night_without_dusk_is_not_free() -> None:
    bright = replace(NIGHTS[0], twilit=None)
    scenario_nights = (bright, NIGHTS[1])
    scenario = Scenario(
        "larkmoor", SITE, Kit(binoculars=Binoculars("10x50", 10, 50)), Season(FIRST, 8), Availability(),
        ClearOdds((0.4,) * 12), (ORION,),
    )  # fmt: skip
    assert [n.evening for n in free_nights_of(scenario, scenario_nights, (0.4, 0.4))] == [SECOND]


@pytest.mark.parametrize(
    ("evening", "start_utc"),
    # Europe/London: GMT until 28 March 2027, then BST
    [(date(2027, 3, 27), "2027-03-27T20:00"), (date(2027, 3, 28), "2027-03-28T19:00")],
)
def test_local_times_follow_the_clock_change(evening: date, start_utc: str) -> None:
    scenario = Scenario(
        "larkmoor", SITE, Kit(binoculars=Binoculars("10x50", 10, 50)), Season(evening, 1),
        Availability((EveningRule(start=time(20), finish=time(23)),)), ClearOdds((0.4,) * 12), (ORION,),
    )  # fmt: skip
    (only,) = free_nights_of(scenario, (night(evening).night,), (0.5,))
    assert only.free.start == datetime.fromisoformat(start_utc).replace(tzinfo=UTC)


BERLIN = Site("Heath", 52.5, 13.4, 40.0, "Europe/Berlin", 20.5, 0.26)
LORD_HOWE = Site("Lagoon", -31.5, 159.1, 10.0, "Australia/Lord_Howe", 21.9, 0.2)
APIA = Site("Reef", -13.8, -171.8, 10.0, "Pacific/Apia", 21.5, 0.22)


def on_utc(longitude_deg: float) -> Site:
    return Site("Far ridge", -30.0, longitude_deg, 900.0, "UTC", 21.8, 0.2)


def free_on(site: Site, evening: date, rule: EveningRule) -> tuple[SeasonSky, Span | None]:
    """Return one night's sky, and from when to when it is free."""
    scenario = Scenario(
        "small", site, Kit(binoculars=Binoculars("10x50", 10, 50)), Season(evening, 1), Availability((rule,)),
        ClearOdds((0.4,) * 12), (ORION,), Routine(setup_min=20),
    )  # fmt: skip
    sky = sky_of(site, (evening,))
    found = free_nights_of(scenario, sky.nights, (0.5,))
    return sky, found[0].free if found else None


@pytest.mark.parametrize(
    ("longitude_deg", "clock", "start_utc"),
    # the evening falls where the Sun has it: at +150 about 08 UTC, at 180 about 06 UTC of the day after
    [
        (150.0, time(10), "2027-05-10T10:00"),
        (150.0, time(13), "2027-05-10T13:00"),
        (180.0, time(10), "2027-05-11T10:00"),
        (-180.0, time(10), "2027-05-11T10:00"),
        (-150.0, time(9), "2027-05-11T09:00"),
        (0.0, time(20), "2027-05-10T20:00"),
    ],
)
def test_a_clock_far_from_the_sun_still_names_a_time_of_the_night(
    longitude_deg: float, clock: time, start_utc: str
) -> None:
    _, free = free_on(on_utc(longitude_deg), date(2027, 5, 10), EveningRule(start=clock))
    assert free is not None
    assert free.start == datetime.fromisoformat(start_utc).replace(tzinfo=UTC)


# When clocks change: IANA time zone database.
@pytest.mark.parametrize(
    ("site", "evening", "start", "finish", "utc_span"),
    [
        # 28 March 2027, 02:00 CET becomes 03:00 CEST
        (BERLIN, date(2027, 3, 27), time(2, 30), time(3, 15), ("2027-03-28T01:00", "2027-03-28T01:15")),
        (BERLIN, date(2027, 3, 27), time(1, 30), time(2, 30), ("2027-03-28T00:30", "2027-03-28T01:00")),
        (BERLIN, date(2027, 3, 27), time(2, 10), time(2, 50), None),
        # 31 October 2027, 03:00 CEST becomes 02:00 CET
        (BERLIN, date(2027, 10, 30), time(2, 30), time(3, 15), ("2027-10-31T00:30", "2027-10-31T02:15")),
        (BERLIN, date(2027, 10, 30), time(1, 30), time(2, 30), ("2027-10-30T23:30", "2027-10-31T01:30")),
        # 3 October 2027, 02:00 becomes 02:30; 4 April 2027, 02:00 becomes 01:30
        (LORD_HOWE, date(2027, 10, 2), time(2, 15), time(3), ("2027-10-02T15:30", "2027-10-02T16:00")),
        (LORD_HOWE, date(2027, 4, 3), time(1, 45), time(3), ("2027-04-03T14:45", "2027-04-03T16:30")),
        (LORD_HOWE, date(2027, 4, 3), time(1), time(1, 45), ("2027-04-03T14:00", "2027-04-03T15:15")),
        # 30 December 2011 did not take place: 29 December, UTC-10, was followed by the 31st, UTC+14
        (APIA, date(2011, 12, 29), time(20), time(2), ("2011-12-30T06:00", "2011-12-30T12:00")),
        (APIA, date(2011, 12, 30), time(20), time(2), None),
        (APIA, date(2011, 12, 31), time(20), time(2), ("2011-12-31T06:00", "2011-12-31T12:00")),
    ],
)
def test_where_clocks_change_an_evening_keeps_to_what_they_show(
    site: Site, evening: date, start: time, finish: time, utc_span: tuple[str, str] | None
) -> None:
    _, free = free_on(site, evening, EveningRule(start=start, finish=finish))
    wanted = utc_span and Span(*(datetime.fromisoformat(end).replace(tzinfo=UTC) for end in utc_span))
    assert free == wanted


def test_in_the_polar_night_nobody_sets_up_before_noon() -> None:
    sky, free = free_on(replace(BERLIN, latitude_deg=85.0), date(2026, 12, 20), EveningRule())
    assert free is not None
    assert free.start.timestamp() == sky.noon_unix_s[0]


CLOCKS = st.integers(0, 1439).map(lambda minute: time(minute // 60, minute % 60))
PLACES = [BERLIN, LORD_HOWE, APIA, *(on_utc(longitude) for longitude in (-180.0, -97.3, 0.0, 66.7, 150.0))]
CHANGES = [date(2027, 3, 27), date(2027, 10, 30), date(2027, 10, 2), date(2027, 4, 3), date(2011, 12, 29)]
EVENINGS = st.dates(date(1990, 1, 1), date(2050, 1, 1)) | st.builds(
    lambda day, days: day + timedelta(days=days), st.sampled_from(CHANGES), st.integers(-1, 2)
)
NIGHT_CLOCKS = st.builds(time, st.integers(0, 3), st.integers(0, 59)) | CLOCKS


@settings(max_examples=150, derandomize=True)
@given(site=st.sampled_from(PLACES), evening=EVENINGS, start=NIGHT_CLOCKS, finish=NIGHT_CLOCKS)
def test_an_evening_is_what_a_clock_watched_from_noon_to_noon_shows(
    site: Site, evening: date, start: time, finish: time
) -> None:
    assume(start != finish)
    start, finish = sorted((start, finish), key=lambda clock: (clock < time(12), clock))
    sky, free = free_on(site, evening, EveningRule(start=start, finish=finish))
    noon, next_noon = float(sky.noon_unix_s[0]), float(sky.next_noon_unix_s[0])
    minutes = range(-(-int(noon) // 60) * 60, int(next_noon), 60)
    first = next(iter(_shown(site, minutes, start)), None)
    last = next(reversed(_shown(site, minutes, finish)), None)
    watched = Span(first, last) if first and last and first < last else None
    twilit = sky.nights[0].twilit
    assert free == (watched if watched and twilit and watched.meet(twilit) else None)
    if free is not None:
        assert noon <= free.start.timestamp() < free.end.timestamp() <= next_noon


def _shown(site: Site, minutes: range, clock: time) -> list[datetime]:
    """Return at which of these minutes the clock shows a time; if never, when it jumps past it."""
    walls = [datetime.fromtimestamp(unix_s, site.local).replace(tzinfo=None) for unix_s in minutes]
    shown = [m for m, wall in zip(minutes, walls, strict=True) if wall.time() == clock]
    if not shown:
        shown = [
            m for m, before, after in zip(minutes[1:], walls, walls[1:], strict=True)
            if before < datetime.combine(after.date(), clock) < after
        ]  # fmt: skip
    return [datetime.fromtimestamp(m, UTC) for m in shown]
