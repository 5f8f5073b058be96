"""When a target may be looked at, altitude aside: ready, adapted, dark, on its dates."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import numpy as np

from scheduler.domain import EveningRule, FreeNight, Routine, Scenario, Target
from scheduler.domain.opportunity import Floats
from scheduler.sky import sky_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.prospect import Prospect, prospect_for
from scheduler.visibility.spans import asked_for, spans_of
from tests.small_season import ALBIREO, JUPITER, LARKMOOR, ORION, POINT, scenario

ROUTINE = Routine(setup_min=15, dark_adaptation_min=40, move_min=6)


def season(of: Scenario) -> tuple[Prospect, tuple[FreeNight, ...], Floats]:
    sky = sky_of(of.site, of.season.evenings)
    free, prospect = free_nights_of(of, sky.nights, [0.5] * len(sky)), prospect_for(sky, of)
    return prospect, free, spans_of(prospect, free, ROUTINE)


def test_bright_kinds_wait_for_the_telescope_and_faint_ones_for_the_eye_too() -> None:
    late = EveningRule(start=time(20), finish=time(23))
    _, free, spans = season(scenario(ORION, ALBIREO, JUPITER, nights=3, rule=late))
    for night, one in enumerate(free):
        arrival_s, finish_s = one.free.start.timestamp(), one.free.end.timestamp()
        assert spans[0, night].tolist() == [arrival_s + 55.0 * 60.0, finish_s]
        assert spans[1, night].tolist() == spans[2, night].tolist() == [arrival_s + 15.0 * 60.0, finish_s]


def test_nobody_waits_longer_than_the_sky_asks() -> None:
    early = EveningRule(start=time(13), finish=time(11))
    prospect, _, spans = season(scenario(ORION, ALBIREO, nights=3, rule=early))
    sky = prospect.sky
    np.testing.assert_array_equal(spans[0], np.stack([sky.dark_start_unix_s, sky.dark_end_unix_s], axis=-1))
    np.testing.assert_array_equal(
        spans[1], np.stack([sky.twilit_start_unix_s, sky.twilit_end_unix_s], axis=-1)
    )


def test_where_nights_touch_there_is_time_to_move_to_the_next_nights_first_target() -> None:
    north = replace(POINT, latitude_deg=88.0)
    all_day = EveningRule(start=time(12), finish=time(11, 59))
    _, free, spans = season(
        scenario(ORION, ALBIREO, site=north, start=date(2027, 12, 10), nights=4, rule=all_day)
    )
    assert len(free) == 4
    setting_up_s, moving_s = 15.0 * 60.0, 6.0 * 60.0
    assert (spans[1, 1:, 0] - spans[1, :-1, 1] >= moving_s).all()
    for night in range(3):
        ready_s = free[night + 1].free.start.timestamp() + setting_up_s
        assert spans[1, night, 1] == min(free[night].free.end.timestamp(), ready_s - moving_s)


def test_where_setting_up_is_quicker_than_moving_the_evening_ends_sooner() -> None:
    north = replace(POINT, latitude_deg=88.0)
    all_day = EveningRule(start=time(12), finish=time(11, 59))
    of = scenario(ALBIREO, site=north, start=date(2027, 12, 10), nights=3, rule=all_day)
    sky = sky_of(of.site, of.season.evenings)
    free, prospect = free_nights_of(of, sky.nights, [0.5] * 3), prospect_for(sky, of)
    spans = spans_of(prospect, free, Routine(setup_min=0, dark_adaptation_min=0, move_min=30))
    for night in range(2):
        assert spans[0, night, 1] == free[night + 1].free.start.timestamp() - 1800.0
    assert spans[0, 2, 1] == free[2].free.end.timestamp()


def test_dates_hold_both_ends_included_or_none() -> None:
    def dated(name: str, earliest: date | None, latest: date | None) -> Target:
        return replace(ORION, name=name, earliest=earliest, latest=latest)

    second, third = date(2027, 1, 2), date(2027, 1, 3)
    wished = [
        dated("both", second, third), dated("from", third, None), dated("until", None, second),
        dated("never", date(2026, 1, 1), date(2026, 2, 1)), dated("always", None, None),
    ]  # fmt: skip
    prospect, _, spans = season(scenario(*wished, nights=4))
    shown = np.isfinite(spans).all(axis=2).astype(int).tolist()
    assert shown == [[0, 1, 1, 0], [0, 0, 1, 1], [1, 1, 0, 0], [0, 0, 0, 0], [1, 1, 1, 1]]
    undated = spans_of(prospect.undated, (), ROUTINE)
    assert np.isnan(undated).all()  # no evening is free
    day = np.stack([prospect.sky.noon_unix_s, prospect.sky.next_noon_unix_s], axis=-1)
    assert np.isfinite(asked_for(prospect.undated, day, day)).all()


def test_an_empty_wish_list_has_no_spans() -> None:
    prospect = season(scenario(ORION, nights=3))[0].only([])
    assert spans_of(prospect, (), ROUTINE).shape == (0, 3, 2)
    assert prospect.sky.site == LARKMOOR
