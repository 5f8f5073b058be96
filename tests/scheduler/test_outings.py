"""What a night out takes from the better nights of its week or month."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.assignment.problem import NightLimit
from scheduler.outings import price_of_an_outing, share_spent_outside
from scheduler.prices import WeatherChain, chain_of


def best_of(chain: WeatherChain, gain: list[float], night: int, left: int) -> float:
    """What the nights after a clear one bring at best, by trying both answers on every clear night."""

    @cache
    def value(before: int, clear: bool, left: int) -> float:
        if before + 1 == len(gain) or not left:
            return 0.0
        odds = chain.clear_after(before)[clear]
        stay, go = value(before + 1, True, left), gain[before + 1] + value(before + 1, True, left - 1)
        return (1 - odds) * value(before + 1, False, left) + odds * max(stay, go)

    return value(night, True, left)


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(0.05, 0.95), st.floats(0, 5)), min_size=2, max_size=7),
    st.floats(0, 0.8), st.integers(1, 4), st.data(),
)  # fmt: skip
def test_the_price_is_what_the_later_nights_lose(
    nights: list[tuple[float, float]], persistence: float, left: int, data: st.DataObject
) -> None:
    odds, gain = map(list, zip(*nights, strict=True))
    chain = chain_of(np.array(odds), persistence)
    night = data.draw(st.integers(0, len(nights) - 1))
    group = NightLimit(tuple(range(len(nights))), left)
    price = price_of_an_outing(chain, group, night, np.array([gain]), np.array([left]))
    lost = best_of(chain, gain, night, left) - best_of(chain, gain, night, left - 1)
    assert price[0] == pytest.approx(max(0.0, lost), abs=1e-12)


def test_years_have_each_their_own_price_and_none_left_is_beyond_price() -> None:
    chain, gain = chain_of(np.full(3, 0.5), 0.0), np.array([[0.0, 1.0, 1.0], [0.0, 3.0, 0.0]])
    group = NightLimit((0, 1, 2), 2)
    both = price_of_an_outing(chain, group, 0, gain, np.array([1, 1]))
    assert both == pytest.approx([0.75, 1.5])
    mixed = price_of_an_outing(chain, group, 0, gain, np.array([0, 2]))
    assert mixed == pytest.approx([np.inf, 0.0])
    assert price_of_an_outing(chain, group, 2, gain, np.array([1, 1])) == pytest.approx([0.0, 0.0])


def test_the_share_of_clear_nights_that_a_limit_leaves() -> None:
    # of three even nights all are clear once in eight: one of 1.5 clear nights in the mean is then lost
    share = share_spent_outside(chain_of(np.full(5, 0.5), 0.0), [NightLimit((1, 2, 3), 2)])
    assert share[[0, 4]] == pytest.approx(1.0)
    assert share[1:4] == pytest.approx([1 - 0.125 / 1.5] * 3, abs=0.02)
    tightest = share_spent_outside(
        chain_of(np.ones(4), 0.0), [NightLimit((0, 1), 1), NightLimit((0, 1, 2, 3), 3)]
    )
    assert tightest == pytest.approx([0.5, 0.5, 0.75, 0.75])
