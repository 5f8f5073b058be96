"""Logs of outcomes: drawn by hypothesis, or run off a chain whose odds and persistence are known."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from hypothesis import strategies as st

from scheduler.domain import ClearOdds, Outcome, OutcomeLog, Went

FIRST = date(2024, 1, 1)

evenings = st.integers(0, 800).map(lambda day: FIRST + timedelta(days=day))


@st.composite
def outcomes(draw: st.DrawFn, evening: date | None = None) -> Outcome:
    went = draw(st.sampled_from(Went))
    usable = st.integers(1, 600) if went in (Went.CLEAR, Went.PART_CLEAR) else st.just(0)
    return Outcome(evening or draw(evenings), went, draw(st.none() | usable))


def logs(min_size: int = 0) -> st.SearchStrategy[OutcomeLog]:
    """Return logs that may correct themselves."""
    return st.lists(outcomes(), min_size=min_size, max_size=60).map(lambda lines: OutcomeLog(tuple(lines)))


@st.composite
def given_odds(draw: st.DrawFn) -> ClearOdds:
    monthly = draw(st.lists(st.floats(0.0, 1.0), min_size=12, max_size=12))
    return ClearOdds(tuple(monthly), draw(st.floats(0.0, 0.95)))


def night(day: int, went: Went = Went.CLEAR, usable_min: int | None = None) -> Outcome:
    """Return the outcome of a night so many days after the first."""
    return Outcome(FIRST + timedelta(days=day), went, usable_min)


def log_of(*lines: Outcome) -> OutcomeLog:
    return OutcomeLog(lines)


def chain_log(nights: int, odds: float, persistence: float, seed: int) -> OutcomeLog:
    """Return a log of following nights from a two-state chain with these odds and this persistence."""
    random = np.random.default_rng(seed)
    clear = [random.random() < odds]
    for _ in range(nights - 1):
        clear.append(random.random() < odds + persistence * (clear[-1] - odds))
    return OutcomeLog(
        tuple(night(day, Went.CLEAR if one else Went.CLOUDED_OUT) for day, one in enumerate(clear))
    )
