"""Figures for people: shares and odds in hundredths, lengths of time in hours."""

from __future__ import annotations

CERTAIN = 0.005
"""Closer than this to none or all is not rounded to it. [0..1]"""


def percent(share: float) -> str:
    """Return a share as in "27 %", never 0 or 100 unless it is.

    Examples
    --------
    >>> percent(0.274), percent(0.001), percent(0.999), percent(0.0), percent(1.0)
    ('27 %', 'under 1 %', 'over 99 %', '0 %', '100 %')
    """
    if 0.0 < share < CERTAIN:
        return "under 1 %"
    return "over 99 %" if 1.0 - CERTAIN <= share < 1.0 else f"{100 * share:.0f} %"


def odds_percent(odds: float, error: float) -> str:
    """Return odds counted over years drawn: what came true in all of them is not certain for that.

    Parameters
    ----------
    odds, error : With their standard error, 0 where there is no doubt. [0..1]

    Examples
    --------
    >>> odds_percent(1.0, 0.007), odds_percent(0.0, 0.007), odds_percent(1.0, 0.0), odds_percent(0.3, 0.03)
    ('over 99 %', 'under 1 %', '100 %', '30 %')
    """
    return percent(min(max(odds, CERTAIN / 2), 1.0 - CERTAIN / 2) if error else odds)


def odds_words(odds: float, error: float) -> str:
    """Return odds with their standard error, as in "27 % ± 3"; what is only "over" or "under" has none.

    Examples
    --------
    >>> odds_words(0.274, 0.031), odds_words(0.98, 0.004), odds_words(0.995, 0.004), odds_words(1.0, 0.0)
    ('27 % ± 3', '98 % ± under 1', 'over 99 %', '100 %')
    """
    told = odds_percent(odds, error)
    if not error or not told[0].isdigit():
        return told
    return f"{told} ± {error_words(error)}"


def error_words(error: float) -> str:
    """Return a standard error in hundredths, never 0 unless it is.

    Examples
    --------
    >>> error_words(0.031), error_words(0.004), error_words(0.0)
    ('3', 'under 1', '0')
    """
    return "under 1" if 0.0 < error < CERTAIN else f"{100 * error:.0f}"


def hours(minutes: float) -> str:
    """Return minutes in hours and minutes.

    Examples
    --------
    >>> hours(250.2), hours(360), hours(20)
    ('4 h 10 min', '6 h', '20 min')
    """
    whole, rest = divmod(round(minutes), 60)
    return " ".join([f"{whole} h"] * (whole > 0) + [f"{rest} min"] * (rest > 0 or not whole))
