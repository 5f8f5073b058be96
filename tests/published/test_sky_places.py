"""Places, times and refraction as worked out in print; sources stand in sky.csv."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import erfa
import numpy as np
import pytest

from scheduler.domain import Kind, Site, Target
from scheduler.sky import altitude_azimuth, apparent_altitude_deg, moon_at, places_of, separation_deg, sky_of
from scheduler.sky.ephemeris import SPEED_OF_LIGHT_KM_S, Floats, ephemeris, moment_of, times_of
from scheduler.sky.heavens import TURN_DEG_PER_S, heavens_between
from scheduler.sky.place import fixed_places_deg
from scheduler.sky.planets import looks_at
from scheduler.sky.refraction import bennett_arcmin, saemundsson_arcmin
from scheduler.sky.season import SeasonSky
from scheduler.visibility.windows import culmination_unix_s, windows_of

from .sky_figures import FIGURES, unix_of_tt, unix_of_ut1

GREENWICH = Site("Greenwich", 51.4778, 0.0, 0.0, "UTC", 20.0, 0.25)


def frame_at(unix_s: float) -> SeasonSky:
    """A sky of one night whose frame is that of an exact moment."""
    sky = sky_of(GREENWICH, [moment_of(unix_s).date()])
    moment = np.array([unix_s])
    velocity = np.asarray(ephemeris()["earth"].at(times_of(moment)).velocity.km_per_s)
    heavens = heavens_between(unix_s, unix_s)
    return replace(sky, rotation=heavens.rotation_at(moment), earth_velocity_c=velocity / SPEED_OF_LIGHT_KM_S)


def light_deg(vector_km: Floats) -> tuple[float, float]:
    x, y, z = vector_km[:, 0]
    return float(np.degrees(np.arctan2(y, x)) % 360.0), float(np.degrees(np.arctan2(z, np.hypot(x, y))))


class TestTheReferenceItself:
    """Our accuracy tests lean on pyerfa; it must reproduce the SOFA cases before it may judge."""

    CASE = (
        2.71, 0.174, 1e-5, 5e-6, 0.1, 55.0, 2456384.5, 0.969254051, 0.1550675, -0.527800806, -1.2345856,
        2738.0, 2.47230737e-7, 1.82640464e-6, 731.0, 12.8, 0.59, 0.55,
    )  # fmt: skip

    def test_observed_place(self) -> None:
        azimuth, zenith, *_ = erfa.atco13(*self.CASE)
        assert FIGURES["sofa atco13 azimuth"].holds(azimuth)
        assert FIGURES["sofa atco13 zenith distance"].holds(zenith)

    def test_earth_rotation_and_nutation(self) -> None:
        assert FIGURES["sofa era00"].holds(erfa.era00(2400000.5, 54388.0))
        assert FIGURES["sofa nut06a"].holds(erfa.nut06a(2400000.5, 53736.0)[0])
        assert FIGURES["sofa gst06a"].holds(erfa.gst06a(2400000.5, 53736.0, 2400000.5, 53736.0))

    def test_intermediate_place(self) -> None:
        astrom, _ = erfa.apci13(2456165.5, 0.401182685)
        right_ascension, _ = erfa.atciq(2.71, 0.174, 1e-5, 5e-6, 0.1, 55.0, astrom)
        assert FIGURES["sofa atciq"].holds(right_ascension)

    def test_our_chain_follows_the_observed_place(self) -> None:
        # Proper motion is put on by hand, as our targets carry none; the case's air is 731 hPa, 12.8 C, damp.
        unix_s = (2456384.5 - 2440587.5 + 0.969254051) * 86400.0
        years = (2456384.5 + 0.969254051 - 2451545.0) / 365.25
        site = Site("SOFA", np.degrees(-1.2345856), np.degrees(-0.527800806), 2738.0, "UTC", 21.0, 0.2)
        sky = frame_at(unix_s)
        ra_deg, dec_deg = fixed_places_deg(
            sky, np.degrees(2.71 + 1e-5 * years), np.degrees(0.174 + 5e-6 * years)
        )
        sidereal = sky.heavens.greenwich_sidereal_deg(np.array([unix_s])) + site.longitude_deg
        altitude_deg, azimuth_deg = altitude_azimuth(site, ra_deg[0], dec_deg[0], sidereal)
        seen_deg = apparent_altitude_deg(site, altitude_deg, 731.0)
        assert seen_deg == pytest.approx(90.0 - np.degrees(1.4076614052564993), abs=8 / 3600)
        assert azimuth_deg == pytest.approx(np.degrees(0.09251774485485516), abs=5 / 3600)


def test_separation() -> None:
    assert FIGURES["sofa seps"].holds(float(np.radians(separation_deg(*np.degrees([1.0, 0.1, 0.2, -3.0])))))


def test_apparent_sidereal_time() -> None:
    # The case's UT1 falls inside the leap second of 2005; take the next whole second and count back.
    moment = np.array([1136073600.0])
    late_s = float(times_of(moment).dut1[0])
    found_deg = heavens_between(moment[0], moment[0]).greenwich_sidereal_deg(moment)[0] % 360.0
    assert FIGURES["sofa gst06a"].holds(np.radians(found_deg - late_s * TURN_DEG_PER_S))


def test_mean_sidereal_time() -> None:
    unix_s = unix_of_ut1(2446896.30625)
    apparent_deg = heavens_between(unix_s, unix_s).greenwich_sidereal_deg(np.array([unix_s]))[0] % 360.0
    equinoxes_h = np.degrees(erfa.ee06a(2446896.30625, 0.0)) / 15.0
    assert FIGURES["mean sidereal time 1987-04-10 19:21 UT"].holds(apparent_deg / 15.0 - equinoxes_h)


def test_altitude_of_a_given_place() -> None:
    washington = Site("Washington", 38.92139, -77.06556, 0.0, "America/New_York", 18.0, 0.3)
    local_deg = 8.58245917 * 15.0 - 77.06556
    altitude_deg, azimuth_deg = altitude_azimuth(washington, 347.3193375, -6.719892, local_deg)
    assert FIGURES["altitude of Venus 1987-04-10"].holds(float(altitude_deg))
    assert azimuth_deg == pytest.approx(248.0337, abs=0.001)  # from memory: 68.0337 counted from the south


def test_rising_and_transit_of_venus() -> None:
    boston = Site("Boston", 42.3333, -71.0833, 0.0, "America/New_York", 18.0, 0.3)
    sky = sky_of(boston, [date(1988, 3, 19), date(1988, 3, 20)])
    places = places_of(sky, [Target("Venus", Kind.PLANET, body="venus")])
    windows = windows_of(sky, places, [0.0], sky.noon_unix_s, sky.next_noon_unix_s)
    midnight_s = 574819200.0  # 1988-03-20 00:00 UTC
    rising = (windows.start_unix_s[0, 0, 1] - midnight_s) / 86400.0
    passage = culmination_unix_s(sky, places, sky.noon_unix_s + 3 * 3600.0)
    assert FIGURES["rising of Venus 1988-03-20"].holds(rising)
    assert FIGURES["transit of Venus 1988-03-20"].holds((passage[0, 1] - midnight_s) / 86400.0)


def test_refraction() -> None:
    assert FIGURES["refraction at apparent 0.5 deg"].holds(float(bennett_arcmin(0.5)))
    assert FIGURES["refraction at true 33.246'"].holds(float(saemundsson_arcmin(33.246 / 60)))


def test_apparent_place_of_a_star() -> None:
    unix_s = unix_of_tt(2462088.69)  # 2028-11-13.19
    years = (2462088.69 - 2451545.0) / 365.25
    ra_deg = (2 + 44 / 60 + (11.986 + 0.03425 * years) / 3600) * 15.0
    dec_deg = 49 + 13 / 60 + (42.48 - 0.0895 * years) / 3600
    found_ra_deg, found_dec_deg = fixed_places_deg(frame_at(unix_s), ra_deg, dec_deg)
    assert FIGURES["theta Per apparent ra"].holds(found_ra_deg[0, 0])
    assert FIGURES["theta Per apparent dec"].holds(found_dec_deg[0, 0])


def test_sun() -> None:
    moment = np.array([unix_of_tt(2448908.5)])
    _, dec_deg = light_deg(heavens_between(moment[0], moment[0]).sun_km(moment))
    assert FIGURES["Sun apparent dec 1992-10-13"].holds(dec_deg)


def test_june_solstice() -> None:
    figure = FIGURES["June solstice 1962"]
    moments = np.array([unix_of_tt(figure.value + side * figure.tolerance) for side in (-1, 1)])
    before, after = (light_deg(heavens_between(m, m).sun_km(np.array([m])))[0] for m in moments)
    assert before < 90.0 < after


def test_venus() -> None:
    moment = unix_of_tt(2448976.5)
    sky = sky_of(GREENWICH, [date(1992, 12, 19)])
    ra_deg, _ = places_of(sky, [Target("Venus", Kind.PLANET, body="venus")]).at(0, 0, moment)
    assert FIGURES["Venus apparent ra 1992-12-20"].holds(float(ra_deg))
    assert FIGURES["Venus lit fraction 1992-12-20"].holds(looks_at("venus", np.array([moment]))[4, 0])


def test_disc_and_rings() -> None:
    assert FIGURES["Mars diameter 1992-11-09"].holds(
        looks_at("mars", np.array([unix_of_tt(2448935.5)]))[0, 0]
    )
    saturn = looks_at("saturn", np.array([unix_of_tt(2448972.50068)]))
    assert FIGURES["Saturn ring tilt 1992-12-16"].holds(saturn[5, 0])


def test_moon() -> None:
    moment = np.array([unix_of_tt(2448724.5)])
    moon_km = heavens_between(moment[0], moment[0]).moon_km(moment)
    assert FIGURES["Moon apparent dec 1992-04-12"].holds(light_deg(moon_km)[1])
    assert FIGURES["Moon distance 1992-04-12"].holds(np.sqrt((moon_km**2).sum()))


def test_lit_fraction() -> None:
    sky = sky_of(GREENWICH, [date(2018, 9, 17)])
    figure = FIGURES["Moon lit fraction 2018-09-18 05:00"]
    assert figure.holds(float(moon_at(sky, 1537246800.0).lit_fraction))
