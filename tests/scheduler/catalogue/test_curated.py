"""Our tables of the other kinds agree with the outside, and every row is found by its names."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.catalogue import curated, look_up, near_names
from scheduler.catalogue.sheets import sheet
from scheduler.catalogue.stars import bright_stars
from scheduler.catalogue.tables import Piece
from scheduler.domain import Kind, LightCurve, MoonFeature, Orbit, Phase, Shower, Target
from scheduler.errors import UnknownName
from scheduler.sky import constellation_of
from scheduler.sky.orbits import orbit_looks_at

PIECES = list(curated.pieces())
TAKEN = {
    "Hercules": Kind.DEEP_SKY, "Eta Carinae": Kind.DEEP_SKY, "Iris": Kind.DEEP_SKY,
    "Rasalgethi": Kind.DOUBLE_STAR, "Alpha Herculis": Kind.DOUBLE_STAR, "Sheliak": Kind.DOUBLE_STAR,
    "Beta Lyrae": Kind.DOUBLE_STAR, "Delta Cephei": Kind.DOUBLE_STAR,
}  # fmt: skip
"""Names that meant something else before these tables came, and go on meaning it."""


def of_kind(kind: Kind) -> Iterator[Piece]:
    return (piece for piece in PIECES if piece.entry.kind is kind)


def curve(name: str) -> LightCurve:
    nature = look_up(name).nature
    assert isinstance(nature, LightCurve)
    return nature


def moon_feature(name: str) -> MoonFeature:
    nature = look_up(name).nature
    assert isinstance(nature, MoonFeature)
    return nature


@pytest.mark.parametrize(
    ("kind", "least"),
    [(Kind.MOON_FEATURE, 80), (Kind.VARIABLE_STAR, 25), (Kind.METEOR_SHOWER, 12), (Kind.MINOR_BODY, 8)],
)
def test_there_are_as_many_as_promised(kind: Kind, least: int) -> None:
    assert len({piece.entry.identity for piece in of_kind(kind)}) >= least


@pytest.mark.parametrize("table", ["moon_features", "variables", "showers", "minor_bodies", "bright_stars"])
def test_every_row_says_where_it_is_from(table: str) -> None:
    assert all(row["source"].strip() for row in sheet(f"{table}.csv"))


def test_every_name_leads_to_its_row_or_to_what_had_it_first() -> None:
    wrong = [
        (name, look_up(name).identity)
        for piece in PIECES
        for name in (*piece.names, piece.entry.identity)
        if look_up(name).identity != piece.entry.identity and TAKEN.get(name) is not look_up(name).kind
    ]
    assert wrong == []


def test_no_name_is_shared_within_these_tables() -> None:
    owners: dict[str, set[str]] = {}
    for piece in PIECES:
        for name in (*piece.names, *piece.aliases):
            owners.setdefault(name, set()).add(piece.entry.identity)
    assert {name: who for name, who in owners.items() if len(who) > 1} == {}


def test_other_spellings_never_take_a_name_that_meant_something_else() -> None:
    elsewhere = {
        alias: look_up(alias).identity
        for piece in PIECES
        for alias in piece.aliases
        if look_up(alias).identity != piece.entry.identity
    }
    assert elsewhere == {
        "Delta Cep": "Delta Cep", "Beta Lyr": "Sheliak", "Alpha Her": "Rasalgethi", "Eta Car": "NGC 3372",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("written", "name", "identity", "also"),
    [
        ("plato", "Plato", "Moon Plato", None),
        ("Copernicus (crater)", "Copernicus", "Moon Copernicus", None),
        ("Moon: Clavius", "Clavius", "Moon Clavius", None),
        ("crater Hercules", "Moon Hercules", "Moon Hercules", None),
        ("Straight Wall", "Straight Wall", "Moon Rupes Recta", "Rupes Recta"),
        ("Montes Apenninus", "Montes Apenninus", "Moon Apennines", "Apennines"),
        ("Schröter's Valley", "Schroter's Valley", "Moon Schroter's Valley", "Vallis Schröteri"),
        ("beta persei", "Beta Persei", "Algol (variable)", "Algol"),
        ("β Per", "Algol", "Algol (variable)", "Beta Persei"),
        ("mira", "Mira", "Mira (variable)", "Omicron Ceti"),
        ("δ Cephei (variable)", "Delta Cephei (variable)", "Delta Cephei (variable)", None),
        ("variable Beta Lyrae", "Sheliak (variable)", "Sheliak (variable)", None),
        ("r leonis", "R Leonis", "R Leonis (variable)", None),
        ("perseid", "Perseids", "Perseids", "Tears of Saint Lawrence"),
        ("η-Aquarids", "Eta Aquarids", "Eta Aquariids", "Eta Aquariids"),
        ("(4) Vesta", "4 Vesta", "4 Vesta", "Vesta"),
        ("asteroid Iris", "7 Iris", "7 Iris", None),
        ("total lunar eclipse", "Lunar eclipse", "Lunar eclipse", None),
    ],
)
def test_they_are_found_as_people_write_them(
    written: str, name: str, identity: str, also: str | None
) -> None:
    entry = look_up(written)
    assert (entry.name, entry.identity, entry.also_known_as) == (name, identity, also)


def test_every_entry_makes_a_target() -> None:
    for piece in PIECES:
        entry = piece.entry
        target = Target(
            entry.name, entry.kind, entry.ra_deg, entry.dec_deg, entry.body, entry.constellation,
            entry.magnitude, nature=entry.nature,
        )  # fmt: skip
        assert target.moves == (entry.ra_deg is None)


@pytest.mark.parametrize("text", ["Moon", "the moon", "Luna"])
def test_the_moon_as_such_is_no_target_but_offers_its_features(text: str) -> None:
    with pytest.raises(UnknownName, match="did you mean Lunar eclipse, Copernicus, Rupes Recta") as caught:
        look_up(text)
    assert [look_up(name).body for name in caught.value.near] == ["moon"] * 3


@pytest.mark.parametrize(
    ("slip", "meant"),
    [("Platto", "Plato"), ("Algool", "Algol"), ("Geminds", "Geminids"), ("Vestaa", "Vesta")],
)
def test_a_slip_is_told_what_was_meant(slip: str, meant: str) -> None:
    assert near_names(slip)[0] == meant


LUNAR_100 = {
    "Copernicus": (9.7, -20.1), "Tycho": (-43.4, -11.1), "Altai Scarp": (-24.3, 22.6),
    "Clavius": (-58.8, -14.1), "Aristarchus": (23.7, -47.4),
    "Proclus": (16.1, 46.8), "Gassendi": (-17.6, -40.1), "Sinus Iridum": (45.0, -32.0),
    "Straight Wall": (-21.8, -7.8), "Petavius": (-25.1, 60.4), "Alpine Valley": (49.0, 3.0),
    "Posidonius": (31.8, 29.9), "Fracastorius": (-21.5, 33.2), "Pico": (45.7, -8.9),
    "Archimedes": (29.7, -4.0), "Hipparchus": (-5.5, 4.8), "Schiller": (-51.9, -39.0),
    "Taruntius": (5.6, 46.5), "Bailly": (-66.5, -69.1), "Schickard": (-44.3, -55.3),
    "Wargentin": (-49.6, -60.2), "Mersenius": (-21.5, -49.2), "Maurolycus": (-42.0, 14.0),
    "Alphonsus": (-13.7, -3.2), "Rheita Valley": (-42.5, 51.5), "W. Bond": (65.3, 3.7),
    "Pitatus": (-29.8, -13.5), "Langrenus": (-8.9, 60.9), "Humboldt": (-27.0, 80.9),
    "Hyginus Rille": (7.4, 7.8), "Reiner Gamma": (7.7, -59.2), "Hadley Rille": (25.0, 3.0),
}  # fmt: skip
"""Latitude and longitude in Charles Wood's list of a hundred features, as an open repository carries it.

Seas, whose middle is a matter of taste, are left out."""


@pytest.mark.parametrize("name", LUNAR_100)
def test_moon_features_lie_where_the_lunar_100_has_them(name: str) -> None:
    latitude_deg, longitude_deg = LUNAR_100[name]
    ours = moon_feature(name)
    assert ours.latitude_deg == pytest.approx(latitude_deg, abs=0.7)
    assert ours.longitude_deg == pytest.approx(longitude_deg, abs=1.0)


def test_copernicus_is_that_of_the_worked_example() -> None:
    """Meeus, Astronomical Algorithms, 2nd ed., ch. 53: longitude -20, latitude +9.7 (from memory)."""
    copernicus = moon_feature("Copernicus")
    assert copernicus.longitude_deg == pytest.approx(-20.0, abs=0.2)
    assert copernicus.latitude_deg == pytest.approx(9.7, abs=0.2)


def test_moon_features_face_us_and_have_the_size_of_their_sort() -> None:
    """Largest crater in view: Bailly, 300 km (from memory)."""
    beyond = set()
    for piece in of_kind(Kind.MOON_FEATURE):
        feature = piece.entry.nature
        assert isinstance(feature, MoonFeature)
        if abs(feature.longitude_deg) > 90.0:
            beyond.add(piece.entry.name)
        if piece.entry.what in ("crater", "walled plain"):
            assert 2.0 <= feature.size_km <= 305.0
        if piece.entry.what in ("sea", "ocean"):
            assert feature.size_km >= 200.0
    assert beyond == {"Mare Orientale"}


def test_no_two_moon_features_are_one() -> None:
    places = {(round(f.longitude_deg, 1), round(f.latitude_deg, 1)) for f in map(_feature_of, PIECES) if f}
    assert len(places) == len(sheet("moon_features.csv"))


def _feature_of(piece: Piece) -> MoonFeature | None:
    return piece.entry.nature if isinstance(piece.entry.nature, MoonFeature) else None


@pytest.mark.parametrize("kind", [Kind.VARIABLE_STAR, Kind.METEOR_SHOWER])
def test_places_lie_in_their_constellations(kind: Kind) -> None:
    """A variable's constellation is that of its designation; boundaries by Roman (1987) in skyfield."""
    entries = [piece.entry for piece in of_kind(kind)]
    found = constellation_of([e.ra_deg for e in entries], [e.dec_deg for e in entries])  # type: ignore[arg-type]
    wrong = [
        (entry.name, entry.constellation, str(place))
        for entry, place in zip(entries, found, strict=True)
        if str(entry.constellation).replace("ö", "o") != str(place).replace("ö", "o")
    ]
    assert wrong == []


def test_variables_that_are_bright_stars_agree_with_them() -> None:
    stars = bright_stars()
    places = dict(
        zip(stars.designations, zip(stars.ra_deg, stars.dec_deg, stars.magnitude, strict=True), strict=True)
    )
    compared = 0
    for piece in of_kind(Kind.VARIABLE_STAR):
        for name in piece.names:
            if name in places:
                ra_deg, dec_deg, magnitude = places[name]
                entry, light = piece.entry, piece.entry.nature
                assert isinstance(light, LightCurve)
                assert (entry.ra_deg, entry.dec_deg) == pytest.approx((ra_deg, dec_deg), abs=1e-3)
                assert light.brightest_mag - 0.3 <= magnitude <= light.faintest_mag + 0.1
                compared += 1
    assert compared >= 6


def test_algol_dims_when_a_yearbook_says() -> None:
    """Kosmos Himmelsjahr 2018: a minimum on 1 January 2018 at 16:16 UT, as quoted in a public repository."""
    algol = curve("Algol")
    assert algol.epoch_hjd is not None
    assert algol.period_d is not None
    yearbook_jd = 2458119.5 + (16 + 16 / 60) / 24
    cycles = (yearbook_jd - algol.epoch_hjd) / algol.period_d
    assert abs(cycles - round(cycles)) * algol.period_d * 24 < 0.5


def test_algol_keeps_its_period_of_a_century() -> None:
    """2.8673043 d of the General Catalogue of Variable Stars; the period changes in the fifth place."""
    assert curve("Algol").period_d == pytest.approx(2.8673043, abs=4e-5)


def test_beta_lyrae_follows_its_lengthening_period() -> None:
    """Minima at 2408247.966 + 12.913780 E + 0.00000387196 E^2 (Sky & Telescope, June 2011)."""
    star = curve("Beta Lyrae (variable)")
    assert star.epoch_hjd is not None
    assert star.period_d is not None
    for cycle in range(4080, 4240, 10):  # 2026 to 2031
        minimum = 2408247.966 + 12.913780 * cycle + 0.00000387196 * cycle**2
        off = (minimum - star.epoch_hjd) / star.period_d
        assert abs(off - round(off)) * star.period_d < 0.06


def test_delta_librae_has_the_elements_of_the_general_catalogue() -> None:
    """JD 2442960.6994 + 2.3273543 E, as Sky & Telescope (June 2011) quotes it."""
    star = curve("Delta Librae")
    assert (star.epoch_hjd, star.period_d, star.phase) == (2442960.6994, 2.3273543, Phase.MINIMUM)


def test_sorts_of_variables_keep_time_as_their_sort_does() -> None:
    """Eclipses are minima shorter than their period; Miras take 80 to 1000 days (GCVS, types EA and M)."""
    for piece in of_kind(Kind.VARIABLE_STAR):
        light = piece.entry.nature
        assert isinstance(light, LightCurve)
        if light.period_d is None:
            continue
        assert light.wide_h / 24 < light.period_d
        assert (light.phase is Phase.MINIMUM) == (piece.entry.what == "eclipsing variable")
        if piece.entry.what == "long-period variable":
            assert 80 < light.period_d < 1000
            assert light.faintest_mag - light.brightest_mag > 2.5
            assert light.mean_maximum_mag is not None
            assert 0.5 < light.mean_maximum_mag - light.brightest_mag < 2.5
        else:
            assert light.mean_maximum_mag is None


def test_mean_maxima_are_those_of_observers() -> None:
    """R Leonis 5.8 by the AAVSO's page on the star; the others from memory."""
    mean = {"Chi Cygni": 5.1, "Mira": 3.4, "R Leonis": 5.8, "R Carinae": 4.6}
    assert {name: curve(name).mean_maximum_mag for name in mean} == mean


IMO_PEAKS = {
    "Quadrantids": (1, 4), "Alpha Centaurids": (2, 8), "Gamma Normids": (3, 14), "Lyrids": (4, 22),
    "Eta Aquariids": (5, 5), "Eta Lyrids": (5, 8), "Southern Delta Aquariids": (7, 30),
    "Alpha Capricornids": (7, 30), "Perseids": (8, 12), "Kappa Cygnids": (8, 17), "Aurigids": (8, 31),
    "September Epsilon Perseids": (9, 9), "Draconids": (10, 8), "Southern Taurids": (10, 10),
    "Epsilon Geminids": (10, 18), "Orionids": (10, 22), "Leonis Minorids": (10, 24),
    "Northern Taurids": (11, 12), "Leonids": (11, 17), "Phoenicids": (12, 2), "Puppid-Velids": (12, 7),
    "Monocerotids": (12, 8), "Sigma Hydrids": (12, 11), "Geminids": (12, 14), "Comae Berenicids": (12, 16),
    "Ursids": (12, 22),
}  # fmt: skip
"""Month and day of the peak in the working list of the International Meteor Organization (2025)."""


def sun_longitude_deg(moment: datetime) -> float:
    """Meeus, Astronomical Algorithms, ch. 25, low accuracy, carried to the equinox of 2000; to 0.02 deg."""
    days = (moment - datetime(2000, 1, 1, 12, tzinfo=UTC)).total_seconds() / 86400
    mean, anomaly = 280.46646 + 0.98564736 * days, math.radians(357.52911 + 0.98560028 * days)
    of_date = mean + 1.914602 * math.sin(anomaly) + 0.019993 * math.sin(2 * anomaly) - 0.0057
    return (of_date - 1.396971 * days / 36525) % 360


@pytest.mark.parametrize("name", [piece.entry.name for piece in of_kind(Kind.METEOR_SHOWER)])
def test_showers_peak_on_the_day_of_the_working_list(name: str) -> None:
    month, day = IMO_PEAKS[name]
    shower = look_up(name).nature
    assert isinstance(shower, Shower)
    on_the_day = sun_longitude_deg(datetime(2025, month, day, 0, tzinfo=UTC))
    assert abs(math.remainder(shower.peak_longitude_deg - on_the_day, 360)) < 2.0


def test_radiants_stand_well_away_from_the_sun() -> None:
    """Showers of the night come from the side of the sky that the Sun is not on."""
    for piece in of_kind(Kind.METEOR_SHOWER):
        shower, entry = piece.entry.nature, piece.entry
        assert isinstance(shower, Shower)
        assert entry.ra_deg is not None
        assert entry.dec_deg is not None
        sun, tilt = math.radians(shower.peak_longitude_deg), math.radians(23.4393)
        ra, dec = math.radians(entry.ra_deg), math.radians(entry.dec_deg)
        sunward = math.cos(dec) * (
            math.cos(ra) * math.cos(sun) + math.sin(ra) * math.sin(sun) * math.cos(tilt)
        )
        cosine = sunward + math.sin(dec) * math.sin(sun) * math.sin(tilt)
        assert math.degrees(math.acos(cosine)) > 55.0, entry.name


MPC_2025 = {
    "Ceres": (231.53975, 73.29974, 80.24963, 10.58789, 0.0795763, 2.7656157),
    "Pallas": (211.52977, 310.93340, 172.88859, 34.92833, 0.2306430, 2.7699258),
    "Vesta": (26.80969, 151.53711, 103.70232, 7.14406, 0.0901676, 2.3615413),
}
"""M, argument, node, inclination, e and a of 2025-11-21 TT (Minor Planet Center), as public repositories
quote the lines."""


def place_au(orbit: Orbit, jd: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Heliocentric place in the ecliptic of 2000 by Kepler's equation, apart from the project's own."""
    semi = orbit.perihelion_au / (1 - orbit.eccentricity)
    mean = 0.01720209895 / semi**1.5 * (jd - orbit.perihelion_jd)
    eccentric = mean
    for _ in range(50):
        eccentric = mean + orbit.eccentricity * math.sin(eccentric)
    x = semi * (math.cos(eccentric) - orbit.eccentricity)
    y = semi * math.sqrt(1 - orbit.eccentricity**2) * math.sin(eccentric)
    w, o, i = (math.radians(a) for a in (orbit.argument_deg, orbit.node_deg, orbit.inclination_deg))
    u, v = x * math.cos(w) - y * math.sin(w), x * math.sin(w) + y * math.cos(w)
    return np.array([
        u * math.cos(o) - v * math.sin(o) * math.cos(i), u * math.sin(o) + v * math.cos(o) * math.cos(i),
        v * math.sin(i),
    ])  # fmt: skip


@pytest.mark.parametrize("name", MPC_2025)
def test_minor_planets_stand_where_the_minor_planet_center_has_them(name: str) -> None:
    """Nineteen months before our elements osculate, within 5 arcminutes as seen from the Sun."""
    mean, argument, node, inclination, eccentricity, semi = MPC_2025[name]
    epoch_jd = 2461000.5
    theirs = Orbit(
        curated.perihelion_jd(epoch_jd, mean, semi), semi * (1 - eccentricity), eccentricity, inclination,
        node, argument, 5.0,
    )  # fmt: skip
    ours = look_up(name).nature
    assert isinstance(ours, Orbit)
    at, should = place_au(ours, epoch_jd), place_au(theirs, epoch_jd)
    assert np.linalg.norm(at - should) / np.linalg.norm(should) < math.radians(5 / 60)


@pytest.mark.parametrize(
    ("name", "opposition", "magnitude"),
    [("Vesta", (2025, 5, 2), 5.6), ("Ceres", (2025, 10, 2), 7.6), ("Vesta", (2026, 10, 13), 6.5)],
)
def test_minor_planets_come_to_opposition_as_announced(
    name: str, opposition: tuple[int, int, int], magnitude: float
) -> None:
    """Dates and magnitudes of yearbooks, from memory."""
    orbit = look_up(name).nature
    assert isinstance(orbit, Orbit)
    announced = datetime(*opposition, 12, tzinfo=UTC).timestamp()
    unix_s = announced + 86400.0 * np.arange(-20, 21, dtype=np.float64)
    looks = orbit_looks_at([orbit], unix_s)
    highest = int(np.abs(looks.elongation_deg[0]).argmax())
    assert abs(unix_s[highest] - announced) <= 2 * 86400
    assert looks.magnitude[0, highest] == pytest.approx(magnitude, abs=0.2)


def test_the_elements_hold_for_each_body_in_2011_within_two_degrees() -> None:
    """(15) Eunomia, 2011-08-27: M 2.13972, a 2.6440716, e 0.1886022 (Minor Planet Center, as quoted)."""
    theirs = Orbit(
        curated.perihelion_jd(2455800.5, 2.13972, 2.6440716), 2.6440716 * (1 - 0.1886022), 0.1886022,
        11.73525, 293.21965, 97.67316, 5.28,
    )  # fmt: skip
    ours = look_up("Eunomia").nature
    assert isinstance(ours, Orbit)
    at, should = place_au(ours, 2455800.5), place_au(theirs, 2455800.5)
    assert np.linalg.norm(at - should) / np.linalg.norm(should) < math.radians(2)


@given(st.floats(0, 360), st.floats(1.5, 4.0))
def test_perihelion_is_the_nearest_and_gives_the_anomaly_back(
    mean_anomaly_deg: float, semi_au: float
) -> None:
    epoch_jd = 2461587.5
    perihelion = curated.perihelion_jd(epoch_jd, mean_anomaly_deg, semi_au)
    period_d = 365.2568983 * semi_au**1.5
    assert abs(perihelion - epoch_jd) <= period_d / 2 + 1e-3
    back_deg = 360 * (epoch_jd - perihelion) / period_d
    assert math.remainder(back_deg - mean_anomaly_deg, 360) == pytest.approx(0, abs=1e-4)
