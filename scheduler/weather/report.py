"""What the log has taught so far, and how good the odds would have been night after night."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..domain import ClearOdds, Forecast, OutcomeLog
from ..domain.opportunity import Floats
from .ahead import blended, latest_of, lead_odds
from .learned import learned_from, logged_weather_of
from .months import clear_odds_of
from .scores import Reliability, brier_score, log_score, reliability_of, skill_of

GIVEN, LEARNED, LAST_NIGHT, FORECAST = "as given", "learned", "with the last night", "with the forecasts"


@dataclass(frozen=True, eq=False)
class Replay:
    """Odds of each logged night from what had been logged before it, in ways that know more and more.

    Attributes
    ----------
    odds : By what they rest on. (nights,) each [0..1]
    clear_share : How clear each night was. (nights,) [0..1]
    """

    odds: dict[str, Floats]
    clear_share: Floats


@dataclass(frozen=True, slots=True)
class Score:
    """How good one way to have odds was; `skill` is the part of the given odds' Brier score it saves."""

    name: str
    brier: float
    log: float
    skill: float


@dataclass(frozen=True)
class WeatherReport:
    """The given and the learned odds, the nights behind them, and their scores.

    Attributes
    ----------
    nights, clear : Of each month, how many are logged and how many, in parts, were clear. (12,)
    could_not_go : Nights that tell nothing of the weather.
    scores : Of each way to have odds; empty without a log.
    reliability : Of the way that knows most.
    """

    given: ClearOdds
    learned: ClearOdds
    nights: tuple[int, ...]
    clear: tuple[float, ...]
    could_not_go: int
    scores: tuple[Score, ...]
    reliability: tuple[Reliability, ...]


def replay_of(given: ClearOdds, log: OutcomeLog, forecast: Sequence[Forecast] = ()) -> Replay:
    """Return the odds each logged night would have had on its own day, before it was known.

    Parameters
    ----------
    given : Monthly odds and persistence before anything was logged.
    log : Its lines as they stand now; corrections count from the beginning.
    forecast : The latest of each evening counts.
    """
    nights = logged_weather_of(log)
    evenings = [date.fromordinal(day) for day in nights.day.tolist()]
    learned, pulled = np.zeros(len(evenings)), np.zeros(len(evenings))
    for place, evening in enumerate(evenings):
        known = learned_from(given, nights.before(evening.toordinal()))
        learned[place] = pulled[place] = clear_odds_of(known, [evening])[0]
        if place:
            then = float(clear_odds_of(known, [evenings[place - 1]])[0])
            lead_days = np.diff(nights.day[place - 1 : place + 1])
            last = float(nights.share[place - 1])
            pulled[place] = lead_odds(learned[place : place + 1], known.persistence, lead_days, last, then)[0]
    odds = {GIVEN: clear_odds_of(given, evenings), LEARNED: learned, LAST_NIGHT: pulled}
    latest = latest_of(forecast)
    if latest.keys() & set(evenings):
        odds[FORECAST] = np.array([
            blended(odds_then, latest[evening].clear_odds, latest[evening].lead_days)
            if evening in latest else odds_then
            for evening, odds_then in zip(evenings, pulled.tolist(), strict=True)
        ])  # fmt: skip
    return Replay(odds, nights.share)


def weather_report_of(given: ClearOdds, log: OutcomeLog, forecast: Sequence[Forecast] = ()) -> WeatherReport:
    """Return what the log has taught, and the scores of the odds it would have given night after night.

    Examples
    --------
    >>> report = weather_report_of(ClearOdds((0.4,) * 12), OutcomeLog())
    >>> report.learned == report.given, report.scores
    (True, ())
    """
    nights = logged_weather_of(log)
    count = np.bincount(nights.month, minlength=12)
    clear = np.bincount(nights.month, weights=nights.share, minlength=12)
    scores: tuple[Score, ...] = ()
    reliability: tuple[Reliability, ...] = ()
    if len(nights.day):
        replay = replay_of(given, log, forecast)
        came = replay.clear_share
        reference = brier_score(replay.odds[GIVEN], came)
        scores = tuple(
            Score(name, brier, log_score(odds, came), skill_of(brier, reference))
            for name, odds in replay.odds.items()
            for brier in [brier_score(odds, came)]
        )
        reliability = reliability_of(replay.odds[scores[-1].name], came)
    return WeatherReport(
        given, learned_from(given, nights), tuple(count.tolist()), tuple(clear.tolist()),
        len(log.standing) - len(log.weather), scores, reliability,
    )  # fmt: skip
