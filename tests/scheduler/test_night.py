"""The best programme of a night, against every subset of rows and against the assignment of one night."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler import night
from scheduler.assignment import assign
from scheduler.errors import InvalidValue
from scheduler.night import NightProgramme, NightRows, best_programme, best_programmes
from scheduler.order import NightVisits, order_of
from scheduler.walk import Jobs, Walk
from tests.scheduler.assignment.small import problem_of


def visits_of(rows: NightRows, chosen: np.ndarray) -> NightVisits:
    start, end, minutes = rows.start_min[chosen], rows.end_min[chosen], rows.minutes[chosen]
    return NightVisits(start, end, minutes, (start + end) // 2, rows.move_min)


def best_by_trying_all(rows: NightRows) -> float:
    best, some = 0.0, np.flatnonzero(rows.value > 0).tolist()
    for size in range(1, len(some) + 1):
        for subset in combinations(some, size):
            chosen = np.array(subset)
            value = float(rows.value[chosen].sum())
            once = len(np.unique(rows.target[chosen])) == size
            if once and value > best and order_of(visits_of(rows, chosen)) is not None:
                best = value
    return best


def assert_can_be_walked(rows: NightRows, found: NightProgramme) -> None:
    starts, ends = found.start_min, found.start_min + rows.minutes[found.rows]
    assert (starts >= rows.start_min[found.rows]).all()
    assert (ends <= rows.end_min[found.rows]).all()
    assert (starts[1:] >= ends[:-1] + rows.move_min).all()
    assert len(np.unique(rows.target[found.rows])) == len(found.rows)
    assert found.value == pytest.approx(float(rows.value[found.rows].sum()))


@st.composite
def nights(draw: st.DrawFn, most: int = 9) -> NightRows:
    count = draw(st.integers(1, most))
    start = np.array([draw(st.integers(0, 60)) for _ in range(count)])
    length = np.array([draw(st.integers(3, 80)) for _ in range(count)])
    target = np.array([draw(st.integers(0, 6)) for _ in range(count)])
    by_target = np.array([draw(st.integers(4, 35)) for _ in range(7)])
    value = np.array([draw(st.integers(-4, 20)) / 4 for _ in range(count)])
    return NightRows(target, start, start + length, by_target[target], value, draw(st.integers(0, 6)))


@settings(max_examples=300)
@given(nights())
def test_no_subset_of_the_rows_is_worth_more(rows: NightRows) -> None:
    found = best_programme(rows)
    assert found.value == pytest.approx(best_by_trying_all(rows))
    assert found.bound == pytest.approx(found.value)
    assert_can_be_walked(rows, found)


@given(nights(), st.integers(1, 3))
def test_a_hasty_search_says_how_far_it_may_fall_short(rows: NightRows, labels: int) -> None:
    found, best = best_programme(rows, labels), best_by_trying_all(rows)
    assert found.value <= best + 1e-9 <= found.bound + 2e-9
    assert_can_be_walked(rows, found)


def random_night(seed: int, targets: int) -> NightRows:
    rng = np.random.default_rng(seed)
    target = np.repeat(np.arange(targets), 2)
    start = rng.integers(0, 150, 2 * targets)
    end = start + rng.integers(25, 120, 2 * targets)
    minutes = rng.choice([15, 20, 30, 40], targets)[target]
    return NightRows(target, start, end, minutes, rng.uniform(-0.5, 2.0, 2 * targets), 4)


@pytest.mark.parametrize("seed", range(6))
def test_the_assignment_of_the_night_alone_finds_no_better_programme(seed: int) -> None:
    rows = random_night(seed, 25)
    found = best_programme(rows)
    # the assignment drops rows inside another's: keep each where it was by giving the rows as they are
    wanted = np.lexsort((rows.start_min, rows.target))
    minutes = np.zeros(25, np.int64)
    minutes[rows.target] = rows.minutes
    problem = problem_of(
        [(int(rows.target[i]), 0, int(rows.start_min[i]), int(rows.end_min[i]),
          max(0.0, float(rows.value[i]))) for i in wanted],
        minutes=minutes.tolist(), move=4,
    )  # fmt: skip
    other = assign(problem, seconds=10)
    assert other.objective <= found.value + 1e-6
    assert other.bound >= found.value - 1e-6
    assert_can_be_walked(rows, found)


@pytest.mark.parametrize("seed", range(6))
def test_a_hasty_search_of_a_full_night_bounds_the_thorough_one(seed: int) -> None:
    rows = random_night(seed, 60)
    rows = replace(rows, value=np.abs(rows.value))
    hasty, thorough = best_programme(rows, 2), best_programme(rows)
    assert thorough.bound == pytest.approx(thorough.value)
    assert hasty.value <= thorough.value + 1e-9 <= hasty.bound + 2e-9
    assert hasty.bound < 1.1 * thorough.value


@settings(max_examples=100)
@given(nights(), st.data())
def test_many_years_of_one_night_are_each_as_good_as_any_subset(rows: NightRows, data: st.DataObject) -> None:
    years = data.draw(st.integers(2, 5))
    value = np.array([[data.draw(st.integers(-4, 20)) / 4 for _ in rows.target] for _ in range(years)])
    found = best_programmes(rows, value)
    assert len(found) == years
    for year, programme in enumerate(found):
        mine = replace(rows, value=value[year])
        assert programme.value == pytest.approx(best_by_trying_all(mine))
        assert programme.bound == pytest.approx(programme.value)
        assert_can_be_walked(mine, programme)


def test_a_year_has_the_same_programme_alone_and_among_others() -> None:
    rows = random_night(3, 40)
    value = np.random.default_rng(5).uniform(-0.5, 2.0, (12, 80))
    together = best_programmes(rows, value, 40)
    for year in range(12):
        alone = best_programmes(rows, value[[year]], 40)[0]
        assert alone.rows.tolist() == together[year].rows.tolist()
        assert alone.start_min.tolist() == together[year].start_min.tolist()
        assert (alone.value, alone.bound) == (together[year].value, together[year].bound)


def test_many_years_are_looked_at_in_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    rows, value = random_night(3, 20), np.random.default_rng(5).uniform(-0.5, 2.0, (7, 40))
    whole = [found.rows.tolist() for found in best_programmes(rows, value)]
    monkeypatch.setattr(night, "AT_ONCE", 1)
    assert [found.rows.tolist() for found in best_programmes(rows, value)] == whole


@pytest.mark.parametrize("seed", range(4))
def test_what_walks_know_of_targets_visited_only_sharpens_the_bound(seed: int) -> None:
    rows = random_night(seed, 12)
    value = np.abs(rows.value)[None, :]
    jobs = Jobs(np.arange(24), rows.target, rows.start_min, rows.end_min + 4, rows.minutes + 4, 300, 44)
    walk = Walk(jobs)
    loose, some = walk.ahead(walk.steps(value))[0, 0], []
    dearest = np.argsort([-value[0, rows.target == target].max() for target in range(12)])
    for many in range(0, 8, 2):
        ahead = walk.ahead_once(value, dearest[None, :many])
        some.append(ahead[0, 0, 0])
        # with all of them visited, they bring nothing more
        rest = np.where(np.isin(rows.target, dearest[:many]), -np.inf, value)
        assert ahead[0, -1, 0] == pytest.approx(walk.ahead(walk.steps(rest))[0, 0])
    assert some[0] == pytest.approx(loose)
    assert (np.diff(some) <= 1e-12).all()
    assert some[-1] < loose
    assert some[-1] >= best_programme(replace(rows, value=value[0])).value - 1e-9


def test_what_would_better_wait_is_never_forced() -> None:
    rows = NightRows(np.arange(3), np.zeros(3, int), np.full(3, 300), np.full(3, 20),
                     np.array([-1.0, 0.0, 0.5]))  # fmt: skip
    assert best_programme(rows).rows.tolist() == [2]


def test_a_night_without_rows_has_an_empty_programme() -> None:
    none = np.zeros(0, np.int64)
    found = best_programme(NightRows(none, none, none, none, np.zeros(0)))
    assert (len(found.rows), found.value, found.bound) == (0, 0.0, 0.0)


def test_more_targets_than_bits_of_a_word() -> None:
    rows = NightRows(np.arange(200), np.zeros(200, int), np.full(200, 120), np.full(200, 20),
                     np.linspace(0.1, 1.0, 200))  # fmt: skip
    # five visits of 20 minutes and the moves between them fill two hours but for a few minutes
    assert set(best_programme(rows).rows) == set(range(195, 200))


def test_the_same_night_gives_the_same_programme() -> None:
    one, two = (best_programme(random_night(9, 40)) for _ in "12")
    assert one.rows.tolist() == two.rows.tolist()
    assert one.start_min.tolist() == two.start_min.tolist()


def test_columns_of_different_lengths_are_named() -> None:
    with pytest.raises(InvalidValue, match="rows"):
        NightRows(np.arange(2), np.arange(2), np.arange(2), np.ones(3, int), np.ones(2))
