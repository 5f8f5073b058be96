"""The coming days: what the last night known says of them, and what a forecast does.

References
----------
Odds that fade back to the month's as the correlation does, r**j after j days, are those of a two-state
Markov chain: K. R. Gabriel & J. Neumann, "A Markov chain model for daily rainfall occurrence at Tel Aviv",
Q. J. R. Meteorol. Soc. 88 (1962) 90, doi:10.1002/qj.49708837511 (from memory). How much a forecast weighs
is our judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from ..domain import ClearOdds, Forecast, OutcomeLog
from ..domain.opportunity import Floats, Ints
from .learned import clear_share_of
from .months import clear_odds_of

FORECAST_WEIGHT = 0.85
"""What a forecast for tonight weighs beside the odds of the season. [0..1]"""

FORECAST_HALVES_DAYS = 5.0
"""A forecast so many days ahead weighs half as much. [d]"""

FORECAST_ENDS_DAYS = 7
"""Beyond this lead a forecast tells no more than the season. [d]"""

SURE = 0.01
"""Nearer to sure than this no forecast is believed, nor the season against one. [0..0.5]"""

SUREST = 1e-9
"""Nearer to sure than this a night says nothing of the next, however it went. [0..0.5]"""


def evening_odds_of(
    odds: ClearOdds, evenings: Sequence[date], log: OutcomeLog, forecast: Sequence[Forecast] = ()
) -> Floats:
    """Return the probability of a usable night on each evening, as far as is known today. [0..1]

    Parameters
    ----------
    odds : Monthly figures and persistence, learned already.
    evenings : Dates of the evenings, any order.
    log : Its last night that tells of the weather pulls those after it; earlier nights stay the season's.
    forecast : Of an evening forecast twice, the latest counts; made on the same day, the later in order.

    Returns
    -------
    array, (nights,)

    Examples
    --------
    >>> odds = ClearOdds((0.4,) * 12, 0.3)
    >>> evenings = [date(2027, 3, day) for day in (4, 5, 6)]
    >>> rain = Forecast(date(2027, 3, 5), 0.1, date(2027, 3, 3))
    >>> evening_odds_of(odds, evenings, OutcomeLog(), [rain]).round(2)
    array([0.4 , 0.17, 0.4 ])
    """
    found = clear_odds_of(odds, evenings)
    if log.weather:
        last = log.weather[-1]
        then = float(clear_odds_of(odds, [last.evening])[0])
        lead_days = np.array([(evening - last.evening).days for evening in evenings])
        ahead = lead_days > 0
        found[ahead] = lead_odds(found[ahead], odds.persistence, lead_days[ahead], clear_share_of(last), then)
    latest = latest_of(forecast)
    for place, evening in enumerate(evenings):
        if evening in latest:
            found[place] = blended(found[place], latest[evening].clear_odds, latest[evening].lead_days)
    return found


def latest_of(forecast: Sequence[Forecast]) -> dict[date, Forecast]:
    """Return the forecast that counts, by evening: the latest made, and of one day's the later in order."""
    return {one.evening: one for one in sorted(forecast, key=lambda one: one.made_on)}


def lead_odds(
    odds: Floats, persistence: float, lead_days: Floats | Ints, last: float, odds_then: float
) -> Floats:
    """Return p + r**j (last - p') scaled: the odds j days after a night whose sky is known. [0..1]

    Parameters
    ----------
    odds : p, of the nights asked for, nothing else known. [0..1]
    persistence : r, lag-one correlation. [0..0.95]
    lead_days : j, from the night known to those asked for, broadcast with `odds`. [d, 1..]
    last : How clear the night known was. [0..1]
    odds_then : p', what its odds had been. [0..1]

    Notes
    -----
    The scale sqrt(p (1 - p) / (p' (1 - p'))) keeps r**j the correlation where the odds have moved on; it is
    held back where the odds leave no room for it, so that they stay odds, and p stays their mean. A night
    that was sure to go as it went says nothing.

    Examples
    --------
    >>> lead_odds(np.full(3, 0.4), 0.3, np.array([1.0, 2.0, 5.0]), 1.0, 0.4).round(3)
    array([0.58 , 0.454, 0.401])
    """
    odds = np.asarray(odds, dtype=np.float64)
    if not SUREST <= odds_then <= 1.0 - SUREST:
        return odds
    scale = np.sqrt(odds * (1.0 - odds) / (odds_then * (1.0 - odds_then)))
    room = np.minimum(odds / odds_then, (1.0 - odds) / (1.0 - odds_then))
    pull = np.minimum(persistence ** np.asarray(lead_days, dtype=np.float64) * scale, room)
    return np.asarray(np.clip(odds + pull * (last - odds_then), 0.0, 1.0))


def forecast_weight(lead_days: int) -> float:
    """Return what a forecast so many days ahead weighs beside the season: 0.85 x 2**(-day / 5). [0..0.85]

    Examples
    --------
    >>> [round(forecast_weight(days), 2) for days in (0, 5, 7, 8)]
    [0.85, 0.42, 0.32, 0.0]
    """
    if lead_days > FORECAST_ENDS_DAYS:
        return 0.0
    return float(FORECAST_WEIGHT * 2.0 ** (-lead_days / FORECAST_HALVES_DAYS))


def blended(odds: float, forecast: float, lead_days: int) -> float:
    """Return the odds of one night with a forecast for it, blended as log-odds. [0..1]

    Parameters
    ----------
    odds, forecast : What the season and the forecast say. [0..1]
    lead_days : How many days ahead the forecast looked. [d]

    Examples
    --------
    >>> round(blended(0.4, 0.9, 1), 2), blended(0.4, 0.9, 8)
    (0.82, 0.4)
    """
    weight = forecast_weight(lead_days)
    if weight == 0.0:
        return float(odds)
    return float(_odds_at((1.0 - weight) * _log_odds(odds) + weight * _log_odds(forecast)))


def _log_odds(odds: float) -> float:
    odds = min(1.0 - SURE, max(SURE, odds))
    return float(np.log(odds / (1.0 - odds)))


def _odds_at(log_odds: float) -> float:
    return float(1.0 / (1.0 + np.exp(-log_odds)))
