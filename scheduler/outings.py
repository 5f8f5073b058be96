"""Whether a clear night is worth going out, where nights out are few.

A week or a month that allows only so many nights out is one more now-or-later question: an outing tonight
takes the place of one on a later night of the group, which may be better, and may be clouded out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .assignment.problem import NightLimit
from .domain.opportunity import Floats, Ints
from .prices import CLEAR, CLOUD, WeatherChain

DRAWN = 500  # weather years from which the share of clear nights that limits leave is counted


def price_of_an_outing(
    chain: WeatherChain, limit: NightLimit, night: int, gain: Floats, left: Ints
) -> Floats:
    """Return what going out on a clear night takes from its group's later nights, infinite with none left.

    Parameters
    ----------
    night : One of the limit's nights.
    gain : What each night brings if it is clear and spent outside. (years, nights)
    left : Nights out the group still allows, tonight's included. int, (years,)

    Returns
    -------
    array, (years,)

    Notes
    -----
    Exact for given gains, by walking the group backwards over the outings left and two states of weather::

        V[n, k, s] = (1 - c(s)) V[n+1, k, cloud] + c(s) max(V[n+1, k, clear], gain[n] + V[n+1, k-1, clear])

    and the price is `V[n+1, k, clear] - V[n+1, k-1, clear]`.

    Examples
    --------
    One outing left, and tomorrow, clear with odds 0.4, would bring 2:

    >>> from .prices import chain_of
    >>> chain = chain_of(np.array([0.4, 0.4]), 0.0)
    >>> two = NightLimit((0, 1), 1)
    >>> price_of_an_outing(chain, two, 0, np.array([[0.0, 2.0]]), np.array([1]))
    array([0.8])
    """
    years, most = len(gain), max(1, int(left.max(initial=1)))
    value = np.zeros((most + 1, years, 2))
    for later in range(max(limit.nights), night, -1):
        best = value[:, :, CLEAR].copy()
        best[1:] = np.maximum(best[1:], gain[:, later] + value[:-1, :, CLEAR])
        before = value
        value = np.empty_like(before)
        for state, clear in zip((CLOUD, CLEAR), chain.clear_after(later - 1), strict=True):
            value[:, :, state] = (1 - clear) * before[:, :, CLOUD] + clear * best
    here, kept = np.arange(years), np.maximum(left, 1)
    price: Floats = np.maximum(value[kept, here, CLEAR] - value[kept - 1, here, CLEAR], 0.0)
    return np.where(left > 0, price, np.inf)


def share_spent_outside(
    chain: WeatherChain, limits: Sequence[NightLimit], night_day: Ints | None = None
) -> Floats:
    """Return which part of its clear nights each night's tightest group allows to be spent outside. [0..1]

    Counted over drawn years in which every clear night is gone out on while its group allows it. Of the
    nights of one date, spent at several sites, the last has what the others leave. (nights,)

    Examples
    --------
    >>> from .prices import chain_of
    >>> sure = chain_of(np.ones(4), 0.0)
    >>> share_spent_outside(sure, [NightLimit((0, 1, 2), 2)]).round(2)
    array([0.67, 0.67, 0.67, 1.  ])
    """
    clear = chain.drawn(np.random.default_rng(0).random((DRAWN, len(chain.odds))))
    share, together = np.ones(len(chain.odds)), dates_of(limits, night_day)
    for limit in (one for one in limits if one.nights not in together):
        some = list(limit.nights)
        day = some if night_day is None else night_day[some]
        count = clear[:, some][:, np.unique(day, return_index=True)[1]].sum(axis=1)
        clear_nights = int(count.sum())
        outside = (
            np.minimum(count, limit.most).sum() / clear_nights if clear_nights else float(limit.most > 0)
        )
        share[some] = np.minimum(share[some], outside)
    for *others, last in together:
        share[others] = np.minimum(share[others], 1.0 / (len(others) + 1))
        share[last] = min(share[last], 1.0 - share[others].sum())
    return share


def dates_of(limits: Sequence[NightLimit], night_day: Ints | None) -> list[tuple[int, ...]]:
    """Return the groups of nights of one date, of which one is spent outside at most."""
    if night_day is None:
        return []
    several = (limit.nights for limit in limits if limit.most > 0 and len(limit.nights) > 1)
    return [nights for nights in several if len(set(night_day[list(nights)].tolist())) == 1]
