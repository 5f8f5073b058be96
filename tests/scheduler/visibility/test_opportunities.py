"""Opportunities on a real sky: always up, dark, safe and worth it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from numpy.testing import assert_allclose

from scheduler.domain import EveningRule, Eyepiece, FreeNight, Horizon, Kind, Opportunities, Scenario
from scheduler.sky import looks_of, sky_of
from scheduler.visibility.free import free_nights_of
from scheduler.visibility.merit import MeritSettings
from scheduler.visibility.merits import merit_of
from scheduler.visibility.opportunities import opportunities_of
from scheduler.visibility.outlook import azimuth_of, outlook_of
from scheduler.visibility.prospect import Prospect, prospect_for
from tests.small_season import (
    ALBIREO,
    ANDROMEDA,
    FLATS,
    JUPITER,
    KIT,
    LARKMOOR,
    MERCURY,
    OMEGA,
    ORION,
    POINT,
    scenario,
    star,
)


def season(of: Scenario) -> tuple[Prospect, tuple[FreeNight, ...], Opportunities]:
    sky = sky_of(of.site, of.season.evenings)
    free = free_nights_of(of, sky.nights, [0.4] * len(sky))
    prospect = prospect_for(sky, of)
    return prospect, free, opportunities_of(prospect, free, of.routine, of.guests)


SEASONS = {
    "north": scenario(ORION, ANDROMEDA, JUPITER, MERCURY, ALBIREO, start=date(2027, 2, 1)),
    "south": scenario(OMEGA, ORION, JUPITER, site=FLATS, start=date(2027, 5, 1)),
    "polar night": scenario(ANDROMEDA, JUPITER, site=POINT, start=date(2026, 12, 10)),
    "walled": scenario(
        ORION,
        ANDROMEDA,
        site=replace(
            LARKMOOR, horizon=Horizon((0.0, 150.0, 150.0, 210.0, 210.0), (5.0, 5.0, 40.0, 40.0, 5.0))
        ),
    ),
}


@pytest.mark.parametrize("name", SEASONS)
def test_a_target_is_high_enough_all_through_its_opportunities(name: str) -> None:
    prospect, free, rows = season(SEASONS[name])
    assert len(rows) > 20
    night = np.array([prospect.sky.evenings.index(free[n].evening) for n in rows.night])
    lowest = np.array([prospect.targets[t].lowest_altitude_deg for t in rows.target])
    profile = prospect.sky.site.horizon
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        minute = rows.start_min + share * (rows.end_min - rows.start_min)
        where = prospect.sky, prospect.places, rows.target, night, rows.epoch.timestamp() + 60.0 * minute
        seen = outlook_of(*where)
        assert (seen.altitude_deg >= lowest - 0.01).all()
        if profile is not None:
            azimuth_deg = azimuth_of(*where)
            hidden = (azimuth_deg > 150.2) & (azimuth_deg < 209.8)
            assert (seen.altitude_deg[hidden] >= 39.99).all()


@pytest.mark.parametrize("name", SEASONS)
def test_opportunities_keep_to_the_dark_the_free_and_the_ready_time(name: str) -> None:
    prospect, free, rows = season(SEASONS[name])
    for row in range(len(rows)):
        one, on = rows[row], free[int(rows.night[row])]
        start, end = rows.moment(one.start_min), rows.moment(one.end_min)
        faint = prospect.targets[one.target].kind is Kind.DEEP_SKY
        ready = on.free.start + timedelta(minutes=50 if faint else 20)
        allowed = on.night.dark if faint else on.night.twilit
        assert allowed is not None
        assert max(allowed.start, ready) <= start
        assert end <= min(allowed.end, on.free.end)
        assert end - start >= timedelta(minutes=prospect.targets[one.target].minutes)


@pytest.mark.parametrize("name", SEASONS)
def test_the_promised_merit_is_met_by_a_visit_at_the_best_moment(name: str) -> None:
    prospect, free, rows = season(SEASONS[name])
    night = np.array([prospect.sky.evenings.index(free[n].evening) for n in rows.night])
    best_s = rows.epoch.timestamp() + 60.0 * rows.best_min.astype(float)
    seen = outlook_of(prospect.sky, prospect.places, rows.target, night, best_s)
    merit = merit_of(prospect, rows.target, night, best_s, seen)
    assert (merit >= rows.merit - 0.01).all()
    assert (rows.merit >= MeritSettings().least_merit).all()


def test_no_planet_is_offered_near_the_sun() -> None:
    prospect, free, rows = season(SEASONS["north"])
    safe = prospect.safe[rows.target, [prospect.sky.evenings.index(free[n].evening) for n in rows.night]]
    assert safe.all()
    # Mercury's inferior conjunction fell inside this season: some nights must have been refused
    assert not prospect.safe[3].all()


def test_moonlight_costs_a_faint_object_merit_and_a_double_star_nothing() -> None:
    double = replace(ALBIREO, ra_deg=83.8, dec_deg=-5.4, lowest_altitude_deg=25.0)
    faint = replace(ANDROMEDA, ra_deg=83.8, dec_deg=-5.4, lowest_altitude_deg=25.0)
    _, free, rows = season(scenario(faint, double, start=date(2027, 1, 5), nights=20))
    lit = np.array([free[n].night.moon_lit_fraction for n in rows.night])
    best = {
        (t, bright): rows.merit[(rows.target == t) & (lit > 0.98 if bright else lit < 0.1)].max()
        for t in (0, 1)
        for bright in (True, False)
    }
    assert best[0, True] < 0.75 * best[0, False]
    assert_allclose(best[1, True], best[1, False], rtol=0.02)


def test_dates_asked_for_are_kept() -> None:
    dated = replace(ORION, earliest=date(2027, 1, 10), latest=date(2027, 1, 12))
    _, free, rows = season(scenario(dated, ANDROMEDA))
    evenings = {free[n].evening for n in rows.night[rows.target == 0]}
    assert evenings == {date(2027, 1, d) for d in (10, 11, 12)}


def test_the_midnight_sun_offers_nothing() -> None:
    _, free, rows = season(scenario(ANDROMEDA, JUPITER, site=POINT, start=date(2027, 6, 1)))
    assert free == ()
    assert len(rows) == 0


def test_two_windows_of_one_night_are_both_offered() -> None:
    # Near its lower culmination at midnight in January: up in the evening and again before dawn.
    lyra = star("Lyra", 280.0, 41.0)
    all_night = EveningRule()
    _, _, rows = season(scenario(lyra, start=date(2027, 1, 1), nights=20, rule=all_night))
    apart = [
        night
        for night in np.unique(rows.night)
        if (rows.end_min[rows.night == night].min() < rows.start_min[rows.night == night].max())
    ]
    assert len(apart) >= 10


def test_a_planet_is_not_offered_behind_a_narrow_mast() -> None:
    saturn = replace(JUPITER, name="Saturn", body="saturn", minutes=2, lowest_altitude_deg=0.0)
    for edge in np.linspace(120.0, 250.0, 14).tolist():
        mast = Horizon((edge, edge, edge + 0.5, edge + 0.5), (0.0, 60.0, 60.0, 0.0))
        prospect, free, rows = season(scenario(saturn, site=replace(LARKMOOR, horizon=mast), nights=10))
        night = np.array([prospect.sky.evenings.index(free[n].evening) for n in rows.night])
        minute = np.linspace(rows.start_min, rows.end_min, 400, axis=1)
        azimuth_deg = azimuth_of(
            prospect.sky, prospect.places, rows.target[:, None], night[:, None],
            rows.epoch.timestamp() + 60.0 * minute,
        )  # fmt: skip
        behind = (azimuth_deg > edge + 0.1) & (azimuth_deg < edge + 0.4)
        assert not behind.any()


def test_a_planet_is_worth_its_disc_against_the_seasons_largest() -> None:
    # Mars: opposition on 19 February 2027 at 13.8", 6" by the end of June (from memory)
    mars = replace(JUPITER, name="Mars", body="mars", lowest_altitude_deg=25.0)
    strong = replace(KIT, eyepieces=(Eyepiece("8 mm", 8.0),))  # at 150x the aperture sets the detail
    prospect, free, rows = season(scenario(mars, start=date(2027, 2, 1), nights=120, kit=strong))
    months = np.array([free[n].evening.month for n in rows.night])
    largest = rows.merit[months == 2].max()
    assert 0.9 < largest <= 1.0
    assert 0.45 < rows.merit[months == 5].max() / largest < 0.65
    assert prospect.disc_share.max() == 1.0


def test_a_planet_near_the_sun_all_season_is_measured_against_its_own_best() -> None:
    short = scenario(MERCURY, site=FLATS, start=date(2027, 2, 19), nights=2)
    prospect = prospect_for(sky_of(short.site, short.season.evenings), short)
    assert 0.9 < prospect.disc_share.min() <= prospect.disc_share.max() == 1.0


def test_twilight_costs_a_faint_object_merit() -> None:
    of = scenario(ANDROMEDA, start=date(2027, 8, 1), nights=1)
    prospect = prospect_for(sky_of(of.site, of.season.evenings), of)
    sky = prospect.sky
    moments = np.array([sky.twilit_start_unix_s[0] + 1800.0, sky.midnight_unix_s[0]])
    zero = np.zeros(2, np.int64)
    seen = outlook_of(sky, prospect.places, zero, zero, moments)
    assert seen.sun_altitude_deg[0] > -12.0
    assert seen.sky_brightness[0] < seen.sky_brightness[1] - 1.0
    merit = merit_of(prospect, zero, zero, moments, seen)
    assert merit[0] < 0.7 * merit[1]


def test_a_disc_lost_in_the_suns_glare_sets_no_measure() -> None:
    # Venus: inferior conjunction on 24 October 2026 (from memory)
    venus = replace(JUPITER, name="Venus", body="venus")
    of = scenario(venus, start=date(2026, 9, 15), nights=80)
    sky = sky_of(of.site, of.season.evenings)
    apart_deg = np.abs(looks_of(sky, ["venus"]).elongation_deg[0])
    assert apart_deg.min() < 10.0
    share = prospect_for(sky, of).disc_share[0]
    assert share[apart_deg >= 24.0].max() == share.max() == 1.0  # larger in the glare, but worth no more
