"""Stretches in which something holds, against functions whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest

from scheduler.sky.ephemeris import Floats
from scheduler.sky.stretches import Ints, Margin, longest_of, sample_times, stretches_of
from scheduler.sky.track import Track


def found(margin: Margin, keep: int = 2, hours: float = 24.0) -> Floats:
    moments = sample_times(np.array([0.0]), np.array([hours * 3600.0]))
    return np.asarray(stretches_of(moments, margin(np.zeros((1, 1), np.int64), moments), margin, keep)[0])


def test_ends_are_found_to_a_hundredth_of_a_second() -> None:
    def margin(row: Ints, unix_s: Floats) -> Floats:
        return np.asarray(np.sin(2 * np.pi * unix_s / 86164.0) - 0.3)

    expected = np.arcsin(0.3) * 86164.0 / (2 * np.pi)
    assert found(margin)[0] == pytest.approx([expected, 43082.0 - expected], abs=0.01)
    assert np.isnan(found(margin)[1]).all()


def test_a_stretch_shorter_than_the_sampling_is_met() -> None:
    def margin(row: Ints, unix_s: Floats) -> Floats:
        return np.asarray(1.0 - ((unix_s - 40490.0) / 60.0) ** 2)

    assert found(margin)[0] == pytest.approx([40430.0, 40550.0], abs=0.01)


def test_a_jump_is_found_too() -> None:
    def margin(row: Ints, unix_s: Floats) -> Floats:
        return np.where(unix_s > 12345.678, 50.0, -0.01)

    assert found(margin)[0, 0] == pytest.approx(12345.678, abs=0.01)


def test_the_longest_are_kept_in_order_of_time() -> None:
    def margin(row: Ints, unix_s: Floats) -> Floats:
        return np.asarray(np.sin(unix_s / 3000.0) - 0.5 + unix_s / 1e6)

    every, two, one = (found(margin, keep=k) for k in (6, 2, 1))
    length = np.diff(every, axis=1)[:, 0]
    assert np.isfinite(length).sum() > 3
    best = np.sort(np.argsort(np.nan_to_num(-length))[:2])
    assert two == pytest.approx(every[best])
    assert one[0] == pytest.approx(every[np.nanargmax(length)])


def test_nan_counts_as_not_positive() -> None:
    def margin(row: Ints, unix_s: Floats) -> Floats:
        return np.full(np.broadcast_shapes(np.shape(row), np.shape(unix_s)), np.nan)

    assert np.isnan(found(margin)).all()


def test_no_stretches_at_all() -> None:
    nothing = np.zeros(0)
    assert np.isnan(longest_of(nothing.astype(np.int64), nothing, nothing, rows=3, keep=2)).all()


def test_a_track_reads_an_oscillation_within_its_stated_error() -> None:
    times = np.arange(0.0, 100.0)
    period = 12.0
    track = Track(0.0, 1.0, np.sin(2 * np.pi * times / period)[None])
    asked = np.linspace(2.0, 97.0, 5000)
    error = np.abs(track.at(asked)[0] - np.sin(2 * np.pi * asked / period)).max()
    assert error < 0.0234 * (2 * np.pi / period) ** 4
    assert error > 1e-4
