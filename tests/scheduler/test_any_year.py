"""Any season anywhere: the plan is sound, reads back equal, and stands where astropy says it stands."""

from __future__ import annotations

import warnings
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from scheduler.check import breaches_of
from scheduler.domain import EveningRule, Plan, Routine, Scenario
from scheduler.export import plan_from_json, plan_to_json
from scheduler.pictures import sky_strip, targets_picture, year_picture
from scheduler.reading import read_scenario
from scheduler.year import plan_year
from tests.scheduler.pictures.drawn import DESK, PHONE, faults_of, nights_in, of_class, read, text_boxes
from tests.small_season import ALBIREO, POINT, scenario
from tests.strategies import scenarios, shared_scenarios

BUNDLED = Path(__file__).parents[2] / "scenarios"


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(drawn=scenarios())
def test_any_season_gives_a_sound_plan(drawn: Scenario) -> None:
    plan = plan_year(drawn, seconds=0.2)
    assert breaches_of(plan) == ()
    assert plan_from_json(plan_to_json(plan)) == plan
    assert 0.0 <= plan.objective <= plan.bound * (1 + 1e-9) + 1e-9


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(drawn=shared_scenarios())
def test_any_season_shared_and_with_sites_away_gives_a_sound_plan(drawn: Scenario) -> None:
    plan = plan_year(drawn, seconds=0.2, years=2)
    assert breaches_of(plan) == ()
    assert plan_from_json(plan_to_json(plan)) == plan
    assert 0.0 <= plan.objective <= plan.bound * (1 + 1e-9) + 1e-9


def test_polar_nights_that_touch_at_noon_leave_room_to_move() -> None:
    stars = [
        replace(
            ALBIREO, name=f"Star {n}", ra_deg=30.0 * n, dec_deg=70.0, minutes=115, visits=3, spacing_days=1
        )
        for n in range(12)
    ]
    pole = replace(POINT, latitude_deg=85.0)
    for setup_min in (0, 5):
        of = scenario(*stars, site=pole, start=date(2026, 12, 10), nights=3, rule=EveningRule())
        plan = plan_year(replace(of, routine=Routine(setup_min, 0, 10)), seconds=0.3)
        assert len(plan.visits) >= 30


@pytest.fixture(
    scope="module", params=["larkmoor", "quiver-flat", "ridge-zero", "aurora-point", "tolven-quay"]
)
def year(request: pytest.FixtureRequest) -> Plan:
    return plan_year(read_scenario(BUNDLED / request.param), seconds=2.0)


def test_every_bundled_scenario_is_solved(year: Plan) -> None:
    assert breaches_of(year) == ()
    assert len(year.visits) >= 0.8 * len(year.targets)
    assert year.gap <= 0.01
    assert plan_from_json(plan_to_json(year)) == year


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_every_bundled_year_can_be_drawn(year: Plan, width: float) -> None:
    picture = year_picture(year, width=width)
    assert {night.evening.isoformat() for night in year.nights} <= set(nights_in(read(picture)))
    rows = of_class(read(targets_picture(year, width=width)), "target")
    assert len(rows) == len(year.targets)
    pictures = [picture, *(sky_strip(year, day, width=width) for day in {v.evening for v in year.visits})]
    assert [fault for one in pictures for fault in faults_of(one)] == []
    boxes = [box for one in pictures for box in text_boxes(read(one))]
    assert all(size >= 10 and left >= 0 and right <= width for _, size, left, right in boxes)


def test_visits_of_a_bundled_year_stand_where_astropy_says(year: Plan) -> None:
    """astropy AltAz without refraction; fixed targets only, its built-in planets are of low precision."""
    from astropy import units as u
    from astropy.coordinates import AltAz, EarthLocation, SkyCoord
    from astropy.time import Time
    from astropy.utils import iers

    targets = {target.name: target for target in year.targets}
    fixed = [visit for visit in year.visits if targets[visit.target].body is None]
    sites = [year.site_of(visit.evening) for visit in fixed]
    assert bool(year.trips) == any(site != year.site for site in sites)
    with (
        iers.conf.set_temp("auto_download", False),
        iers.conf.set_temp("auto_max_age", None),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter(
            "ignore"
        )  # astropy: times beyond its Earth-rotation table, good to a second here
        place = EarthLocation.from_geodetic(
            [site.longitude_deg for site in sites], [site.latitude_deg for site in sites],
            [site.elevation_m for site in sites],
        )  # fmt: skip
        middle = Time([visit.time.start + (visit.time.end - visit.time.start) / 2 for visit in fixed])
        stars = SkyCoord([v.sight.ra_deg for v in fixed] * u.deg, [v.sight.dec_deg for v in fixed] * u.deg)
        seen = stars.transform_to(AltAz(obstime=middle, location=place))
    lifted = np.array([visit.sight.altitude_deg for visit in fixed]) - seen.alt.deg
    azimuth = np.array([visit.sight.azimuth_deg for visit in fixed]) - seen.az.deg
    # refraction: 0 to 0.2 deg above 5 deg of altitude
    assert ((lifted > -0.01) & (lifted < 0.2)).all()
    turn = ((azimuth + 180) % 360 - 180) * np.cos(seen.alt.rad)
    assert np.abs(turn).max() < 0.01
