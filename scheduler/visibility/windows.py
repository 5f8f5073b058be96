"""When targets stand high enough: windows in closed form, all targets and nights at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..sky.ephemeris import Floats
from ..sky.heavens import TURN_DEG_PER_S
from ..sky.horizon import horizon_curve_of, hour_angles_of, lowest_true_deg
from ..sky.place import Places, altitude_azimuth, true_altitude_deg
from ..sky.season import SeasonSky, sidereal_deg
from ..sky.stretches import Ints, sample_times, stretches_of

_CHUNK = 100
"""Targets at a time: a chunk's arrays for a year then stay in the processor's cache."""

CORNER_S = 10.0
"""A planet is looked at this long before and after each corner of the profile: 0.04 deg either side. [s]"""

_TURN_S = 360.0 / TURN_DEG_PER_S


@dataclass(frozen=True, eq=False)
class Windows:
    """When each target stands high enough on each night, at most twice a night.

    Attributes
    ----------
    start_unix_s, end_unix_s : In order of time, NaN where there is no window. (targets, nights, 2) [s]
    """

    start_unix_s: Floats
    end_unix_s: Floats

    @property
    def minutes(self) -> Floats:
        """Length of each window, 0 where there is none. (targets, nights, 2) [min]"""
        return np.nan_to_num((self.end_unix_s - self.start_unix_s) / 60.0)


def windows_of(
    sky: SeasonSky,
    places: Places,
    lowest_altitude_deg: ArrayLike,
    span_start_unix_s: ArrayLike,
    span_end_unix_s: ArrayLike,
    *,
    pressure_hpa: float | None = None,
) -> Windows:
    """Return when targets stand above their lowest altitude and the site's horizon, within the spans.

    Parameters
    ----------
    sky, places : SeasonSky, Places
        The season, and where its targets stand.
    lowest_altitude_deg : array (targets,)
        Lowest apparent altitude worth looking at. [deg]
    span_start_unix_s, span_end_unix_s : arrays (nights,) or (targets, nights)
        Windows are cut to these; at most a night long, NaN for none. [s]
    pressure_hpa : float, optional
        Air pressure for the refraction; None is the standard atmosphere at the site, 0 is none. [hPa]

    Notes
    -----
    A fixed target crosses an altitude h where cos H = (sin h - sin phi sin dec) / (cos phi cos dec), and H
    runs evenly; a profile is crossed where the target's declination circle meets its curve. Planets are
    sampled every ten minutes and refined to 0.01 s. Should a profile or a whole polar day cut a night into
    more than two windows, the two longest are kept (without a profile: the first two).
    """
    shape = sky.midnight_unix_s.shape
    lowest_deg = np.broadcast_to(np.asarray(lowest_altitude_deg, np.float64), (len(places),))
    start, end = (
        np.broadcast_to(np.asarray(s, np.float64), (len(places), *shape))
        for s in (span_start_unix_s, span_end_unix_s)
    )
    found = np.full((2, 2, len(places), *shape), np.nan)
    fixed = np.setdiff1d(np.arange(len(places)), places.moving)
    for first in range(0, len(fixed), _CHUNK):
        rows = fixed[first : first + _CHUNK]
        spans = start[rows], end[rows]
        find = _over_flat_horizon if sky.site.horizon is None else _over_profile
        found[:, :, rows] = find(sky, places, rows, lowest_deg[rows], spans, pressure_hpa)
    if len(places.moving):
        found[:, :, places.moving] = _of_moving(sky, places, lowest_deg, start, end, pressure_hpa)
    return Windows(np.moveaxis(found[0], 0, -1), np.moveaxis(found[1], 0, -1))


def culmination_unix_s(sky: SeasonSky, places: Places, near_unix_s: ArrayLike | None = None) -> Floats:
    """Return each target's meridian passage nearest to a moment, by default the night's midnight. [s]

    `near_unix_s` has the shape (nights,), (targets, nights) or (targets, nights, n); NaN gives NaN.
    """
    near = np.asarray(sky.midnight_unix_s if near_unix_s is None else near_unix_s, np.float64)
    if near.ndim < 3:
        return _culmination(sky, places, np.broadcast_to(near, places.ra_of_date_deg.shape)[..., None])[
            ..., 0
        ]
    return _culmination(sky, places, near)


def best_unix_s(sky: SeasonSky, places: Places, windows: Windows) -> Floats:
    """Return when a target stands highest in each window: its culmination, or the end nearest to it. [s]"""
    middle = 0.5 * (windows.start_unix_s + windows.end_unix_s)
    passage = _culmination(sky, places, middle)
    return np.clip(passage, windows.start_unix_s, windows.end_unix_s)


def _culmination(sky: SeasonSky, places: Places, near: Floats) -> Floats:
    target = np.arange(len(places))[:, None, None]
    night = np.arange(len(sky))[:, None]
    moment = near
    for _ in range(1 if not len(places.moving) else 3):
        ra_deg, _dec_deg = places.at(target, night, moment)
        hour_angle_deg = (sidereal_deg(sky, night, moment) - ra_deg + 180.0) % 360.0 - 180.0
        moment = moment - hour_angle_deg / TURN_DEG_PER_S
    return moment


def _over_flat_horizon(
    sky: SeasonSky,
    places: Places,
    rows: Ints,
    lowest_deg: Floats,
    spans: tuple[Floats, Floats],
    pressure_hpa: float | None,
) -> Floats:
    """Return starts and ends, (2, 2 windows, rows, nights), by the closed form."""
    latitude = np.radians(sky.site.latitude_deg)
    sin_limit = np.sin(np.radians(true_altitude_deg(sky.site, lowest_deg, pressure_hpa)))[:, None]
    sin_dec = np.sin(np.radians(places.dec_of_date_deg[rows]))
    reach = np.cos(latitude) * np.sqrt(1.0 - sin_dec * sin_dec)
    cosine = (sin_limit - np.sin(latitude) * sin_dec) / np.maximum(reach, 1e-12)
    half_s = np.arccos(np.clip(cosine, -1.0, 1.0)) * (np.degrees(1.0) / TURN_DEG_PER_S)
    middle = _passage(sky, places, rows)
    return _cut(middle + half_s, 2.0 * half_s, cosine <= -1.0, *spans)


def _over_profile(
    sky: SeasonSky,
    places: Places,
    rows: Ints,
    lowest_deg: Floats,
    spans: tuple[Floats, Floats],
    pressure_hpa: float | None,
) -> Floats:
    """Return starts and ends, (2, 2 windows, rows, nights), where the sky meets the profile's curve."""
    found = np.empty((2, 2, len(rows), len(sky)))
    passage = _passage(sky, places, rows)
    for limit_deg in np.unique(lowest_deg):
        same = np.flatnonzero(lowest_deg == limit_deg)
        curve = horizon_curve_of(sky.site, float(limit_deg), pressure_hpa)
        rises, sets, always = hour_angles_of(curve, places.dec_of_date_deg[rows[same]])
        start, end = spans[0][same], spans[1][same]
        cuts = [
            _cut(
                passage[same] + set_deg / TURN_DEG_PER_S,
                (set_deg - rise_deg) / TURN_DEG_PER_S,
                always,
                start,
                end,
            )
            for rise_deg, set_deg in zip(rises, sets, strict=True)
        ]
        found[:, :, same] = _two_longest(cuts)
    return found


def _passage(sky: SeasonSky, places: Places, rows: Ints) -> Floats:
    """Return a meridian passage of fixed targets. (rows, nights) [s]"""
    late_s = (places.ra_of_date_deg[rows] - sky.sidereal_at_midnight_deg) / TURN_DEG_PER_S
    return np.asarray(late_s + sky.midnight_unix_s)


def _cut(sets: Floats, up_s: Floats, always: NDArray[np.bool_], start: Floats, end: Floats) -> Floats:
    """Return the first two stretches within the spans of a target up for `up_s` before every set.

    One set is given; the others follow by whole turns. Shape (2 starts and ends, 2 windows, rows, nights).
    """
    first_set = sets + _TURN_S * np.floor((start - sets) / _TURN_S + 1.0)
    first_rise = first_set - up_s
    found = np.empty((2, 2, *sets.shape))
    found[0, 0] = np.where(always, start, np.maximum(first_rise, start))
    found[1, 0] = np.where(always, end, np.minimum(first_set, end))
    found[0, 1] = np.where(always, np.nan, first_rise + _TURN_S)
    found[1, 1] = np.minimum(first_set + _TURN_S, end)
    empty = ~(found[0] < found[1])
    found[:, empty] = np.nan
    return found


def _two_longest(cuts: list[Floats]) -> Floats:
    """Return the two longest windows in order of time from several lots of two."""
    if len(cuts) == 1:
        return cuts[0]
    every = np.concatenate(cuts, axis=1)
    length = np.nan_to_num(every[1] - every[0], nan=-1.0)
    kept = np.argsort(-length, axis=0, kind="stable")[:2]
    best = np.take_along_axis(every, kept[None], axis=1)
    in_time = np.argsort(best[0], axis=0, kind="stable")
    return np.take_along_axis(best, in_time[None], axis=1)


def _of_moving(
    sky: SeasonSky, places: Places, lowest_deg: Floats, start: Floats, end: Floats, pressure_hpa: float | None
) -> Floats:
    """Return starts and ends, (2, 2 windows, moving, nights), sampled and refined.

    Targets that move alike and ask alike, as the features of the Moon do, are followed once.
    """
    leaders, follows = _alike(places, lowest_deg, start, end)
    slot, night = (a.ravel() for a in np.meshgrid(leaders, np.arange(len(sky)), indexing="ij"))
    target = places.moving[slot]

    def direction(which: Ints, when: Floats) -> tuple[Floats, Floats]:
        ra_deg, dec_deg = places.at(target[which], night[which], when)
        return altitude_azimuth(sky.site, ra_deg, dec_deg, sidereal_deg(sky, night[which], when))

    def margin(row: Ints, unix_s: Floats) -> Floats:
        which, when = np.broadcast_arrays(row, unix_s)
        altitude_deg, azimuth_deg = direction(which, when)
        seen_deg = altitude_deg - places.parallax_deg[slot, night][which] * np.cos(np.radians(altitude_deg))
        lowest = lowest_true_deg(sky.site, azimuth_deg, lowest_deg[target[which]], pressure_hpa)
        return np.asarray(seen_deg - lowest)

    moments = sample_times(start[target, night], end[target, night])
    rows = np.arange(len(target))[:, None]
    if sky.site.horizon is not None:
        azimuth_deg = direction(*np.broadcast_arrays(rows, moments))[1]
        moments = _with_corners(moments, azimuth_deg, sky.site.horizon.azimuth_deg)
    found = stretches_of(moments, margin(rows, moments), margin, keep=2)
    found = found.reshape(len(leaders), len(sky), 2, 2)[follows]
    return np.moveaxis(found, (3, 2), (0, 1))


def _alike(places: Places, lowest_deg: Floats, start: Floats, end: Floats) -> tuple[Ints, Ints]:
    """Return the first slot of each sort of moving target, and which of these every slot follows."""
    first: dict[bytes, int] = {}
    follows = [
        first.setdefault(
            b"".join(one[row].tobytes() for one in (places.ra_of_date_deg, lowest_deg, start, end)), slot
        )
        for slot, row in enumerate(places.moving.tolist())
    ]
    leaders, which = np.unique(np.array(follows, dtype=np.int64), return_inverse=True)
    return leaders, which


def _with_corners(unix_s: Floats, azimuth_deg: Floats, corners_deg: tuple[float, ...]) -> Floats:
    """Add the times just before and after the corners of the profile are passed, (rows, more samples).

    Without them whatever a planet passes between two samples, a mast say, would not be seen.
    """
    added = [unix_s]
    for corner_deg in sorted(set(corners_deg)):
        off_deg = (azimuth_deg - corner_deg + 180.0) % 360.0 - 180.0
        before, after = off_deg[:, :-1], off_deg[:, 1:]
        passed = (np.sign(before) != np.sign(after)) & (np.abs(before - after) < 180.0)
        first = passed.argmax(axis=1)
        rows = np.arange(len(unix_s))
        share = before[rows, first] / np.where(
            passed[rows, first], before[rows, first] - after[rows, first], 1.0
        )
        moment = unix_s[rows, first] + share * (unix_s[rows, first + 1] - unix_s[rows, first])
        moment = np.where(passed.any(axis=1), moment, unix_s[:, 0])[:, None]
        added += [
            np.clip(moment + shift_s, unix_s[:, :1], unix_s[:, -1:]) for shift_s in (-CORNER_S, CORNER_S)
        ]
    return np.sort(np.concatenate(added, axis=1), axis=1)
