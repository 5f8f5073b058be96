"""What is up: well-known skies, told from common knowledge, and places held to erfa."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.catalogue.stars import bright_stars
from scheduler.domain import Horizon, Kind, MoonFeature, Scenario, Site, Target
from scheduler.errors import InvalidValue, OutsideEphemeris
from scheduler.sky import apparent_altitude_deg, constellation_of, looks_of, sky_of
from scheduler.up import Overview, Up, moment_from, overview_of
from tests.scheduler.sky.rigorous import erfa_altitude_azimuth_deg, our_ut1_less_utc_s
from tests.small_season import ALBIREO, ANDROMEDA, FLATS, JUPITER, LARKMOOR, ORION, POINT, scenario

WINTER = datetime(2027, 1, 8, 22, tzinfo=UTC)


def names(ups: tuple[Up, ...]) -> list[str]:
    return [one.name for one in ups]


def seen(moment: datetime = WINTER, site: Site = LARKMOOR, *targets: Target) -> Overview:
    return overview_of(scenario(*targets, site=site) if targets else scenario(site=site), moment)


def test_the_winter_sky_of_the_north() -> None:
    # Common knowledge: Orion's stars in the south, Vega low in the north, Canopus never.
    found = seen()
    assert {"Sirius", "Rigel", "Betelgeuse", "Aldebaran", "Capella", "Pollux"} <= set(names(found.stars))
    assert not {"Canopus", "Antares", "Arcturus"} & set(names(found.stars))
    assert names(found.stars)[0] == "Sirius"
    where = dict(found.constellations)
    assert "Auriga" in where["high"]
    assert "Orion" in where["south"]
    assert "Leo" in where["east"]
    assert "Ursa Minor" in where["north"]


def test_the_summer_sky_of_the_south() -> None:
    found = seen(datetime(2027, 6, 8, 20, tzinfo=UTC), FLATS)
    assert {"Antares", "Spica", "Canopus"} & set(names(found.stars)) >= {"Antares", "Spica"}
    assert "Scorpius" in dict(found.constellations)["east"] + dict(found.constellations)["high"]
    assert "Polaris" not in names(found.stars)


def test_stars_stand_where_erfa_puts_them() -> None:
    stars = bright_stars()
    unix_s = np.full(len(stars.names), WINTER.timestamp())
    altitude_deg, azimuth_deg = erfa_altitude_azimuth_deg(
        LARKMOOR, stars.ra_deg, stars.dec_deg, unix_s, our_ut1_less_utc_s(unix_s), 0.0
    )
    expected = dict(
        zip(
            stars.names,
            zip(apparent_altitude_deg(LARKMOOR, altitude_deg), azimuth_deg, strict=True),
            strict=True,
        )
    )
    shown = seen().stars
    assert len(shown) > 60
    for star in shown:
        assert (star.altitude_deg, star.azimuth_deg) == pytest.approx(expected[star.name], abs=0.02), (
            star.name
        )
    high = sum(one[0] >= 10.0 for one in expected.values())
    assert len(shown) == high
    in_icrs = dict(zip(stars.names, constellation_of(stars.ra_deg, stars.dec_deg).tolist(), strict=True))
    year_1900 = seen(datetime(1900, 1, 8, 22, tzinfo=UTC)).stars
    assert {one.name: one.constellation for one in year_1900}.items() <= in_icrs.items()


def test_planets_and_the_moon_are_known_ones() -> None:
    # Jupiter's opposition of February 2027, in Leo, and the new Moon of 7 January 2027: from memory.
    found = seen()
    assert "Jupiter" in names(found.planets)
    (jupiter,) = (one for one in found.planets if one.name == "Jupiter")
    assert jupiter.constellation == "Leo"
    assert jupiter.magnitude == pytest.approx(-2.5, abs=0.2)
    assert found.moon.altitude_deg < 0.0
    assert found.moon_night.phase == "waxing crescent"
    assert "planet for a telescope" in {
        one.what for one in found.planets if one.name in ("Uranus", "Neptune")
    }


def test_a_planet_near_the_sun_is_never_named_however_bright() -> None:
    # Venus comes out of its superior conjunction of 12 August 2027, always bright enough for this dusk.
    evenings = [date(2027, 8, 20) + timedelta(days=day) for day in range(80)]
    sky = sky_of(FLATS, evenings)
    apart_deg = looks_of(sky, ["venus"]).elongation_deg[0]
    named, high = [], []
    for night in np.flatnonzero((apart_deg > 9.0) & (apart_deg < 15.0)):
        dusk = datetime.fromtimestamp(float(sky.sunset_unix_s[night]) + 300.0, UTC)
        named.append("Venus" in names(seen(dusk, FLATS).planets))
        high.append(bool(apart_deg[night] >= 12.0))
    assert named == high
    assert set(high) == {True, False}


def test_in_daylight_only_the_moon_is_shown() -> None:
    # Venus, 47 degrees from the Sun on 3 January 2027 (from memory), is up that morning and bright
    assert "Venus" in names(seen(datetime(2027, 1, 5, 7, 30, tzinfo=UTC)).planets)
    found = seen(datetime(2027, 1, 5, 10, tzinfo=UTC))
    assert found.daylight
    assert (found.planets, found.stars, found.wishes, found.showpieces, found.doubles) == ((),) * 5
    assert seen(datetime(2027, 3, 15, 14, tzinfo=UTC)).moon.altitude_deg > 0.0


def test_twilight_leaves_the_brightest() -> None:
    late, early = datetime(2027, 3, 15, 18, 40, tzinfo=UTC), datetime(2027, 3, 15, 18, 16, tzinfo=UTC)
    assert names(seen(early).stars) == []
    assert "Sirius" in names(seen(late).stars)
    assert len(seen(late).stars) < 6
    assert seen(late).showpieces == ()


def test_wishes_come_by_priority_then_height_and_showpieces_do_not_repeat_them() -> None:
    wanted = (
        replace(ORION, priority=5),
        replace(ANDROMEDA, priority=2),
        replace(ALBIREO, priority=5),
        JUPITER,
    )
    found = seen(WINTER, LARKMOOR, *wanted)
    assert names(found.wishes) == ["M 42", "M 31"]
    alone = seen(WINTER, LARKMOOR, ORION)
    assert any(name.startswith("M 31") for name in names(alone.showpieces))
    precise = replace(ANDROMEDA, ra_deg=10.6847, dec_deg=41.2687)
    listed = seen(WINTER, LARKMOOR, precise)
    assert not any(name.startswith("M 31,") for name in names(listed.showpieces))


def test_a_targets_own_lowest_altitude_counts() -> None:
    low = replace(ORION, lowest_altitude_deg=60.0)
    assert names(seen(WINTER, LARKMOOR, low).wishes) == []


def test_features_of_the_moon_are_not_among_the_stars() -> None:
    plato = Target("Plato", Kind.MOON_FEATURE, body="moon", nature=MoonFeature(-9.3, 51.6, 101.0))
    assert seen(WINTER, LARKMOOR, plato).wishes == ()


def test_what_stands_behind_the_house_is_not_up() -> None:
    walled = replace(LARKMOOR, horizon=Horizon((90.0, 91.0, 269.0, 270.0), (0.0, 60.0, 60.0, 0.0)))
    found = seen(WINTER, walled)
    assert {"Sirius", "Rigel"} & set(names(found.stars)) == set()
    assert "Capella" in names(found.stars)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2027-03-05T21:00", "2027-03-05T21:00"), ("2027-07-05 21:00", "2027-07-05T20:00"),
        ("2027-07-05", "2027-07-05T21:00"), (" 2027-07-05T21:00+02:00 ", "2027-07-05T19:00"),
        ("20270705", "2027-07-05T21:00"),
    ],
)  # fmt: skip
def test_a_moment_is_read_in_local_time(text: str, utc: str) -> None:
    assert moment_from(text, LARKMOOR) == datetime.fromisoformat(utc).replace(tzinfo=UTC)


@pytest.mark.parametrize("text", ["", "tomorrow", "21:00", "2027-13-01T21:00", "2027-03-05T25:00"])
def test_a_moment_that_is_none_is_told(text: str) -> None:
    with pytest.raises(InvalidValue, match="--at"):
        moment_from(text, LARKMOOR)


@pytest.mark.parametrize("year", [1, 1899, 2054, 9999])
def test_a_moment_outside_the_ephemeris_is_told(year: int) -> None:
    with pytest.raises(OutsideEphemeris):
        seen(datetime(year, 6, 1, 21, tzinfo=UTC))


MOMENTS = st.datetimes(datetime(2026, 1, 1), datetime(2030, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001


@settings(max_examples=15)
@given(MOMENTS, st.sampled_from([LARKMOOR, FLATS, POINT]))
def test_any_moment_has_its_sky(moment: datetime, site: Site) -> None:
    made: Scenario = scenario(ORION, ANDROMEDA, site=site)
    found = overview_of(made, moment)
    for ups in (found.planets, found.stars, found.wishes, found.showpieces, found.doubles):
        assert all(0.0 <= one.altitude_deg <= 90.0 for one in ups)
        assert all(0.0 <= one.azimuth_deg <= 360.0 for one in ups)
    if found.daylight:
        assert not found.stars
    assert date(2025, 12, 31) <= found.moon_night.evening
