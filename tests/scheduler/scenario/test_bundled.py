"""The bundled scenarios, read with the real catalogue."""

from __future__ import annotations

from pathlib import Path

import pytest

from scheduler.catalogue import look_up
from scheduler.domain import Kind, Scenario, Went
from scheduler.scenario import faults_of, read_scenario

FOLDER = Path(__file__).parents[3] / "scenarios"
NAMES = ("aurora-point", "larkmoor", "quiver-flat", "ridge-zero", "tolven-quay")


def bundled(name: str) -> Scenario:
    return read_scenario(FOLDER / name, look_up)


def test_the_folder_holds_these_scenarios_and_no_others() -> None:
    assert sorted(folder.name for folder in FOLDER.iterdir()) == list(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_bundled_scenario_reads_without_fault(name: str) -> None:
    assert faults_of(FOLDER / name, look_up) == ()
    scenario = bundled(name)
    assert scenario.name == name
    assert len(scenario.targets) >= 40
    for target in scenario.targets:
        assert target.moves or target.constellation, target.name
        assert target.moves or target.nature is not None, target.name
        if target.kind in (Kind.DEEP_SKY, Kind.DOUBLE_STAR):
            assert target.size_arcmin is not None, target.name
            assert target.magnitude is not None or target.name == "Coalsack", target.name
    assert len({target.kind for target in scenario.targets}) >= 7


def test_larkmoor_wants_the_messier_list_and_the_planets() -> None:
    targets = bundled("larkmoor").targets
    assert sum(target.kind is Kind.PLANET for target in targets) == 7
    assert {f"M {n}" for n in range(1, 111)} <= {target.name for target in targets}
    assert {target.kind for target in targets} == set(Kind) - {Kind.EVENT}


TOO_FAR_SOUTH = {"M 6", "M 7", "M 54", "M 55", "M 62", "M 69", "M 70", "M 83"}
"""Of the Messier list, what Larkmoor cannot see; wished for all the same, so that a plan says why not."""


@pytest.mark.parametrize("name", NAMES)
def test_every_target_but_larkmoors_farthest_south_can_be_seen(name: str) -> None:
    scenario = bundled(name)
    out_of_reach = {
        target.name
        for target in scenario.targets
        if target.dec_deg is not None
        and 90.0 - abs(scenario.site.latitude_deg - target.dec_deg) <= target.lowest_altitude_deg
    }
    assert out_of_reach == (TOO_FAR_SOUTH if name == "larkmoor" else set())


@pytest.mark.parametrize(("name", "latitude_deg", "longitude_deg", "zone"), [
    ("larkmoor", 55.2, -2.4, "Europe/London"), ("quiver-flat", -32.4, 20.8, "Africa/Johannesburg"),
    ("ridge-zero", 0.0, 37.5, "Africa/Nairobi"), ("aurora-point", 69.6, 19.0, "Europe/Oslo"),
    ("tolven-quay", 50.3, -4.9, "Europe/London"),
])  # fmt: skip
def test_sites_stand_where_they_should(
    name: str, latitude_deg: float, longitude_deg: float, zone: str
) -> None:
    site = bundled(name).site
    assert (site.latitude_deg, site.longitude_deg, site.zone) == (latitude_deg, longitude_deg, zone)


def test_aurora_point_has_begun_a_log_with_a_correction_in_it() -> None:
    log = bundled("aurora-point").outcomes
    assert len(log.lines) == len(log.standing) + 1
    assert {outcome.went for outcome in log.lines} == set(Went)
    assert not any(bundled(name).outcomes for name in NAMES if name != "aurora-point")


def test_tolven_quay_has_two_observers_a_club_and_darker_sites_within_a_drive() -> None:
    scenario = bundled("tolven-quay")
    assert {target.observer for target in scenario.targets} == {None, "Merryn", "Jory"}
    assert {trip.site.name: trip.travel_min for trip in scenario.trips} == {"Hendra Down": 55, "Far Carn": 95}
    assert all(trip.site.sky_brightness > scenario.site.sky_brightness for trip in scenario.trips)
    assert [round(trip.trip_cost, 2) for trip in scenario.trips] == [0.46, 0.79]
    assert scenario.club.site == "Hendra Down"
    assert all(scenario.availability.rule_of(evening) for evening in scenario.club.evenings)
