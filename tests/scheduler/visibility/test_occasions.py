"""Moments of their own: when minima, eclipses, showers and events are to be seen."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from scheduler.domain import Binoculars, Kind, Kit, LightCurve, Occasion, Phase, Shower, Span, Target
from scheduler.sky import sky_of
from scheduler.sky.eclipses import LunarEclipse
from scheduler.sky.events import EventKind
from scheduler.sky.galilean import shadow_transits_of
from scheduler.sky.showers import solar_longitude_deg, when_solar_longitude
from scheduler.sky.variables import hjd_of
from scheduler.visibility.occasions import (
    LEAST_OF_PEAK,
    PENUMBRAL_S,
    occasions_of,
    seen_of,
    zenithal_rate,
)
from tests.small_season import ALGOL, ECLIPSE, FLATS, JUPITER, LARKMOOR, ORION, PERSEIDS, scenario, season_of


def evenings(start: date, nights: int) -> list[date]:
    return [start + timedelta(days=day) for day in range(nights)]


def test_only_what_has_moments_of_its_own_is_timed() -> None:
    sky = sky_of(LARKMOOR, evenings(date(2027, 1, 1), 5))
    cadence = replace(ALGOL, name="Slow", nature=LightCurve(6.0, 9.0))
    occasions = occasions_of(sky, [ORION, ALGOL, JUPITER, cadence, PERSEIDS])
    assert occasions.targets.tolist() == [1, 4]
    assert occasions.slot.tolist() == [-1, 0, -1, -1, 1]


def test_the_minimum_nearest_to_midnight_is_taken_and_its_stretch_around_it() -> None:
    sky = sky_of(LARKMOOR, evenings(date(2027, 1, 1), 60))
    occasions = occasions_of(sky, [ALGOL])
    peak = occasions.peak_unix_s[0]
    known = np.isfinite(peak)
    assert 20 < known.sum() < 32  # within 15 h of midnight, every 2.9 days: on 44 % of the nights
    cycles = (hjd_of(47.04, 40.96, peak[known]) - 2445641.5135) / 2.86732
    assert np.abs(cycles - np.rint(cycles)).max() < 1e-6
    assert np.abs(peak[known] - sky.midnight_unix_s[known]).max() <= 15.0 * 3600.0
    start, end = occasions.span_unix_s[0, known].T
    np.testing.assert_allclose(end - peak[known], 3.0 * 3600.0, atol=1e-3)
    np.testing.assert_allclose(peak[known] - start, 3.0 * 3600.0, atol=1e-3)


# F. Espenak & J. Meeus, Five Millennium Canon of Lunar Eclipses (from memory): 2027 has three penumbral
# eclipses, of which only that of 20 February is deep (penumbral magnitude 0.93); 2028 has partial eclipses on
# 12 January and 6 July and a total one on 31 December.
@pytest.mark.parametrize(
    ("start", "nights", "expected"),
    [
        (date(2027, 1, 1), 365, {date(2027, 2, 20): 0.25}),
        (date(2028, 1, 1), 366, {date(2028, 1, 11): None, date(2028, 7, 6): None, date(2028, 12, 31): 1.0}),
    ],
)
def test_eclipses_fall_on_their_nights_and_faint_ones_on_none(
    start: date, nights: int, expected: dict[date, float | None]
) -> None:
    sky = sky_of(LARKMOOR, evenings(start, nights))
    occasions = occasions_of(sky, [ECLIPSE])
    found = {
        sky.evenings[night]: float(occasions.strength[0, night])
        for night in np.flatnonzero(np.isfinite(occasions.peak_unix_s[0])).tolist()
    }
    assert set(found) == set(expected)
    for evening, share in expected.items():
        assert (share is None and 0.5 < found[evening] < 0.8) or found[evening] == share


def test_a_shower_is_active_round_its_peak_and_strongest_there() -> None:
    sky = sky_of(LARKMOOR, evenings(date(2027, 7, 20), 50))
    occasions = occasions_of(sky, [PERSEIDS])
    assert isinstance(PERSEIDS.nature, Shower)
    rate = zenithal_rate(PERSEIDS.nature, sky.midnight_unix_s)
    start, end = occasions.span_unix_s[0].T
    active = np.isfinite(start)
    assert sky.evenings[int(rate.argmax())] in (date(2027, 8, 12), date(2027, 8, 13))
    assert 79.0 < rate.max() <= 100.0  # midnight is half a degree from the peak at most
    assert 6 <= active.sum() <= 8  # 0.2 decades a degree, six degrees in all
    at_ends = zenithal_rate(PERSEIDS.nature, np.array([start[active][0], end[active][0]]))
    np.testing.assert_allclose(at_ends, LEAST_OF_PEAK * 100.0, rtol=0.05)
    peak = occasions.peak_unix_s[0, active]
    np.testing.assert_allclose(solar_longitude_deg(peak), 140.0, atol=1e-4)


def test_a_short_shower_is_offered_on_the_night_its_peak_falls_into() -> None:
    # the Quadrantids rise and fall by a power of ten in 0.4 degrees (Jenniskens 1994, from memory)
    quadrantids = Target(
        "Quadrantids", Kind.METEOR_SHOWER, 230.0, 49.0, nature=Shower(283.15, 80.0, 2.1, 2.5, 2.5)
    )
    for year in range(2026, 2032):
        sky = sky_of(LARKMOOR, evenings(date(year, 1, 1), 8))
        occasions = occasions_of(sky, [quadrantids])
        (peak,) = when_solar_longitude(283.15, sky.noon_unix_s[0], sky.next_noon_unix_s[-1])
        on = (sky.noon_unix_s <= peak) & (peak < sky.next_noon_unix_s)
        assert np.isfinite(occasions.span_unix_s[0, on]).all()
        assert np.isfinite(occasions.span_unix_s[0, :, 0]).sum() <= 2


def test_an_event_is_offered_in_its_own_window_and_nowhere_else() -> None:
    start = datetime(2027, 1, 10, 20, 10, tzinfo=UTC)
    talk = Occasion(start, start + timedelta(minutes=35))
    event = Target("Close pair", Kind.EVENT, 83.8, 20.0, nature=talk, minutes=35, lowest_altitude_deg=5.0)
    _, free, rows = season_of(scenario(event, nights=20))
    assert len(rows) == 1
    assert (free[int(rows.night[0])].evening, rows.merit[0]) == (date(2027, 1, 10), 1.0)
    assert (rows.moment(int(rows.start_min[0])), rows.moment(int(rows.end_min[0]))) == (talk.start, talk.end)


def test_a_visit_to_a_minimum_is_best_at_the_minimum() -> None:
    prospect, _, rows = season_of(scenario(ALGOL, nights=60))
    assert len(rows) > 5
    best_s = rows.epoch.timestamp() + 60.0 * rows.best_min.astype(float)
    peaks = prospect.occasions.peak_unix_s[0]
    nearest = np.abs(best_s[:, None] - peaks[np.isfinite(peaks)]).min(axis=1)
    assert (nearest <= 3.0 * 3600.0).all()
    assert np.median(nearest) < 1800.0


def test_what_is_eclipsed_below_the_horizon_is_not_offered() -> None:
    # the total eclipse of 31 December 2028 is greatest at 16:52 UTC (canon, from memory): day in South Africa
    south = scenario(ECLIPSE, site=FLATS, start=date(2028, 12, 25), nights=10)
    assert len(season_of(south)[2]) == 0
    # that of 6 July 2028 is greatest at 18:20 UTC, when the Moon has risen there but not in the north
    summer = scenario(ECLIPSE, site=FLATS, start=date(2028, 7, 1), nights=10)
    _, free, rows = season_of(summer)
    assert {free[night].evening for night in rows.night.tolist()} == {date(2028, 7, 6)}
    assert len(season_of(replace(summer, site=LARKMOOR))[2]) == 0


def test_shadows_on_jupiter_are_offered_only_to_a_telescope_that_shows_them() -> None:
    shadow = Target("Shadow", Kind.ECLIPSE, body="jupiter", minutes=20, lowest_altitude_deg=20.0)
    of = scenario(shadow, start=date(2027, 2, 1), nights=28)
    rows = season_of(of)[2]
    # Io alone crosses every 42 h, the night is long and Jupiter near its opposition
    assert 8 <= len({int(night) for night in rows.night}) <= 25
    crossings = shadow_transits_of(date(2027, 2, 1), date(2027, 3, 1))
    for row in range(len(rows)):
        start, end = rows.moment(int(rows.start_min[row])), rows.moment(int(rows.end_min[row]))
        assert any(one.span.start <= start < end <= one.span.end for one in crossings)
    assert len(season_of(replace(of, kit=Kit(binoculars=Binoculars("10x50", 10.0, 50.0))))[2]) == 0


def test_an_event_that_begins_in_the_morning_is_offered_in_its_evening() -> None:
    start = datetime(2027, 1, 10, 9, 0, tzinfo=UTC)
    long = Occasion(start, start + timedelta(hours=10, minutes=30))
    event = Target("Long", Kind.EVENT, 83.8, 20.0, nature=long, minutes=30, lowest_altitude_deg=5.0)
    _, free, rows = season_of(scenario(event, nights=20))
    assert {free[n].evening for n in rows.night.tolist()} == {date(2027, 1, 10)}
    assert rows.moment(int(rows.end_min[0])) == long.end


def test_an_event_longer_than_the_evening_fills_it() -> None:
    start = datetime(2027, 1, 10, 14, 0, tzinfo=UTC)
    long = Occasion(start, start + timedelta(hours=18))
    event = Target("Long", Kind.EVENT, 83.8, 60.0, nature=long, minutes=30, lowest_altitude_deg=5.0)
    _, free, rows = season_of(scenario(event, nights=20))
    (night,) = (free[n] for n in rows.night.tolist())
    assert (night.evening, len(rows)) == (date(2027, 1, 10), 1)
    assert rows.moment(int(rows.start_min[0])) == night.free.start + timedelta(minutes=20)
    assert rows.moment(int(rows.end_min[0])) == night.free.end


@pytest.mark.parametrize("start", [date(1900, 1, 1), date(2053, 9, 1)])
def test_stretches_that_reach_beyond_the_ephemeris_stop_at_it(start: date) -> None:
    mira = replace(ALGOL, name="Mira", nature=LightCurve(2.0, 10.0, 2457738.0, 332.0, Phase.MAXIMUM, 4800.0))
    slow = Target("Slow", Kind.METEOR_SHOWER, 48.0, 58.0, nature=Shower(150.0, 100.0, 2.2, 0.01, 0.01))
    occasions = occasions_of(sky_of(LARKMOOR, evenings(start, 25)), [mira, slow])
    assert occasions.span_unix_s.shape == (2, 25, 2)


def test_the_largest_share_of_an_eclipse_counts_and_a_graze_of_the_penumbra_does_not() -> None:
    when = datetime(2027, 1, 1, tzinfo=UTC)
    around = Span(when - timedelta(hours=1), when + timedelta(hours=1))

    def eclipse(umbral: float, penumbral: float, partial: Span | None) -> LunarEclipse:
        kind = EventKind.PARTIAL_ECLIPSE if partial else EventKind.PENUMBRAL_ECLIPSE
        return LunarEclipse(kind, when, umbral, penumbral, around, partial, None)

    at_s = when.timestamp()
    assert seen_of(eclipse(0.4, 1.4, around)) == (at_s - 3600.0, at_s + 3600.0, 0.7)
    assert seen_of(eclipse(1.3, 2.4, around))[2] == 1.0
    assert seen_of(eclipse(-0.2, 0.6, None)) == (at_s - PENUMBRAL_S, at_s + PENUMBRAL_S, 0.25)
    assert seen_of(eclipse(-0.5, 0.59, None))[2] == 0.0


def test_a_shower_may_rise_quickly_and_fall_slowly() -> None:
    lopsided = Shower(140.0, 100.0, 2.2, 0.5, 0.1)
    (peak,) = when_solar_longitude(140.0, 1817000000.0, 1818900000.0)
    degree_s = 86400.0 / 0.96  # the Sun's pace in August
    rates = zenithal_rate(lopsided, peak + degree_s * np.array([-2.0, -1.0, 0.0, 1.0, 2.0]))
    np.testing.assert_allclose(rates, 100.0 * 10.0 ** np.array([-1.0, -0.5, 0.0, -0.1, -0.2]), rtol=0.01)
    sky = sky_of(LARKMOOR, evenings(date(2027, 7, 30), 40))
    start, end = occasions_of(sky, [replace(PERSEIDS, nature=lopsided)]).span_unix_s[0].T
    known = np.isfinite(start)
    np.testing.assert_allclose(
        zenithal_rate(lopsided, start[known]), 25.0, rtol=0.05
    )  # at the Sun's mean pace
    np.testing.assert_allclose(zenithal_rate(lopsided, end[known]), 25.0, rtol=0.05)
    assert (start[known] < peak).all()
    assert (end[known] > peak).all()
