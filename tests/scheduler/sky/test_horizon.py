"""A site's profile: read anywhere, and crossed where a plain look at it says so."""

from __future__ import annotations

import numpy as np
import pytest

from scheduler.domain import Horizon, Site
from scheduler.sky import altitude_azimuth
from scheduler.sky.horizon import horizon_curve_of, hour_angles_of, lowest_clear_deg, lowest_true_deg


def site_with(horizon: Horizon | None, latitude_deg: float = 50.0) -> Site:
    return Site("Garden", latitude_deg, 0.0, 0.0, "UTC", 21.0, 0.2, horizon)


def test_a_profile_is_straight_between_its_points_and_closed_through_north() -> None:
    site = site_with(Horizon((10.0, 90.0, 90.0, 350.0), (20.0, 20.0, 5.0, 0.0)))
    asked = [10.0, 89.9, 90.1, 350.0, 0.0, 5.0, 365.0, -10.0]
    expected = [20.0, 20.0, 5.0 - 5.0 * 0.1 / 260.0, 0.0, 10.0, 15.0, 15.0, 0.0]
    assert lowest_clear_deg(site, asked) == pytest.approx(expected)
    assert lowest_clear_deg(site_with(Horizon((77.0,), (12.0,))), [0.0, 200.0]).tolist() == [12.0, 12.0]
    assert lowest_clear_deg(site_with(None), [0.0, 200.0]).tolist() == [0.0, 0.0]


PROFILES = {
    "walls": Horizon((0.0, 40.0, 40.0, 90.0, 150.0, 150.0, 200.0, 280.0, 330.0),
                     (5.0, 5.0, 32.0, 32.0, 10.0, 25.0, 3.0, 12.0, 20.0)),
    "wall due north": Horizon((0.0, 120.0, 360.0), (40.0, 5.0, 5.0)),
    "even hedge": Horizon((123.0,), (15.0,)),
    "chimneys": Horizon((0.0, 99.0, 99.0, 101.0, 101.0, 179.0, 179.0, 180.5, 180.5, 260.0, 265.0, 270.0),
                        (0.0, 0.0, 40.0, 40.0, 0.0, 0.0, 60.0, 60.0, 0.0, 0.0, 30.0, 0.0)),
}  # fmt: skip


@pytest.mark.parametrize("latitude_deg", [-78.0, -32.0, 0.0, 55.0, 90.0])
@pytest.mark.parametrize("name", PROFILES)
def test_a_target_is_up_exactly_between_its_rises_and_sets(name: str, latitude_deg: float) -> None:
    site = site_with(PROFILES[name], latitude_deg)
    dec_deg = np.degrees(np.arcsin(np.random.default_rng(6).uniform(-0.998, 0.998, 150)))
    curve = horizon_curve_of(site, 8.0, None)
    rises, sets, always = hour_angles_of(curve, dec_deg[:, None])
    hour_angle_deg = np.arange(-180.0, 180.0, 0.53)
    altitude_deg, azimuth_deg = altitude_azimuth(site, 0.0, dec_deg[:, None], hour_angle_deg)
    margin_deg = altitude_deg - lowest_true_deg(site, azimuth_deg, 8.0, None)
    up = np.broadcast_to(always, margin_deg.shape).copy()
    near_edge = np.zeros_like(up)
    for rise_deg, set_deg in zip(rises, sets, strict=True):
        after = (hour_angle_deg - rise_deg) % 360.0
        up |= after < set_deg - rise_deg
        for edge in (rise_deg, set_deg):
            near_edge |= np.abs((hour_angle_deg - edge + 180.0) % 360.0 - 180.0) < 0.01
    judged = ~near_edge & (np.abs(margin_deg) > 0.5 / 3600)
    assert (up == (margin_deg > 0.0))[judged].all()
    assert judged.mean() > 0.9
    assert 0.05 < up.mean() < 0.95 or abs(latitude_deg) == 90.0


def test_the_curve_keeps_to_the_profile_and_the_limit_even_at_their_corners() -> None:
    # The profile climbs through the limit of 8.03 degrees at azimuth 108.03, away from any other point.
    slope = Horizon((0.0, 100.0, 130.0, 130.0), (0.0, 0.0, 30.0, 0.0))
    site = site_with(slope)
    curve = horizon_curve_of(site, 8.03, 0.0)
    azimuth_deg = np.concatenate([np.linspace(107.9, 108.2, 61), np.linspace(0.0, 359.9, 300)])
    altitude, azimuth = np.radians(lowest_true_deg(site, azimuth_deg, 8.03, 0.0)), np.radians(azimuth_deg)
    tilt, north = np.radians(site.latitude_deg), np.cos(altitude) * np.cos(azimuth)
    points = np.stack([
        np.cos(tilt) * np.sin(altitude) - np.sin(tilt) * north, -np.cos(altitude) * np.sin(azimuth),
        np.sin(tilt) * np.sin(altitude) + np.cos(tilt) * north,
    ], axis=-1)  # fmt: skip
    begin, chord = curve.nodes[:, :-1].T, np.diff(curve.nodes, axis=1).T
    length = np.maximum((chord**2).sum(axis=1), 1e-30)
    for point in points:
        share = np.clip(((point - begin) * chord).sum(axis=1) / length, 0.0, 1.0)
        gap = np.sqrt(((begin + share[:, None] * chord - point) ** 2).sum(axis=1)).min()
        assert np.degrees(gap) * 3600 < 0.2
