"""The log replayed night after night."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given

from scheduler.domain import ClearOdds, Forecast, OutcomeLog, Went
from scheduler.weather.report import FORECAST, GIVEN, LAST_NIGHT, LEARNED, replay_of, weather_report_of

from .logs import chain_log, given_odds, log_of, logs, night

EVEN = ClearOdds((0.4,) * 12, 0.3)


@given(given_odds(), logs(min_size=1))
def test_no_night_is_judged_by_odds_that_knew_it_or_what_came_after(
    given: ClearOdds, log: OutcomeLog
) -> None:
    whole = replay_of(given, log)
    if len(log.weather) < 2:
        return
    last = log.weather[-1]
    other = Went.CLOUDED_OUT if last.went is not Went.CLOUDED_OUT else Went.CLEAR
    changed = replay_of(given, log.with_line(type(last)(last.evening, other)))
    for name in (GIVEN, LEARNED, LAST_NIGHT):
        assert whole.odds[name].tolist() == changed.odds[name].tolist()


def test_a_season_of_spells_is_scored_in_the_right_order() -> None:
    report = weather_report_of(ClearOdds((0.3,) * 12, 0.3), chain_log(900, 0.6, 0.5, seed=2))
    brier = {score.name: score.brier for score in report.scores}
    assert brier[LAST_NIGHT] < brier[LEARNED] < brier[GIVEN]
    # Odds that are right score p (1 - p), those of the chain (1 - r**2) of it; sampling error about 0.01.
    assert brier[LAST_NIGHT] == pytest.approx(0.24 * 0.75, abs=0.025)
    assert report.scores[0].skill == 0.0
    assert sum(one.nights for one in report.reliability) == 900


def test_counts_are_of_months_and_of_those_who_could_not_go() -> None:
    log = log_of(
        night(0), night(3, Went.PART_CLEAR), night(40, Went.CLOUDED_OUT), night(41, Went.COULD_NOT_GO)
    )
    report = weather_report_of(EVEN, log)
    assert report.nights[:3] == (2, 1, 0)
    assert report.clear[:3] == (1.5, 0.0, 0.0)
    assert report.could_not_go == 1


def test_forecasts_of_logged_nights_are_scored_beside_the_others() -> None:
    log = chain_log(60, 0.5, 0.3, seed=4)
    seer = [
        Forecast(one.evening, 0.95 if one.went is Went.CLEAR else 0.05, one.evening - timedelta(days=1))
        for one in log.lines[::2]
    ]
    report = weather_report_of(EVEN, log, seer)
    assert [score.name for score in report.scores] == [GIVEN, LEARNED, LAST_NIGHT, FORECAST]
    assert report.scores[-1].brier < report.scores[-2].brier
    assert report.scores[-1].log < report.scores[-2].log
    unforeseen = np.arange(60) % 2 == 1
    replay = replay_of(EVEN, log, seer)
    assert (replay.odds[FORECAST] == replay.odds[LAST_NIGHT])[unforeseen].all()


def test_without_a_log_there_is_nothing_to_score() -> None:
    report = weather_report_of(EVEN, log_of(night(0, Went.COULD_NOT_GO)))
    assert (report.scores, report.reliability, report.could_not_go) == ((), (), 1)
    assert report.learned is EVEN
