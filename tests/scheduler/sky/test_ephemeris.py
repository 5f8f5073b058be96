"""The embedded ephemeris: offline, closed, exact in time."""

from __future__ import annotations

import subprocess
import sys

import erfa
import numpy as np
import pytest

from scheduler.errors import UnknownName
from scheduler.sky.ephemeris import FIRST_DATE, LAST_DATE, ephemeris, moment_of, planet, times_of

OFFLINE = """
import socket, warnings
warnings.simplefilter("error")
def blocked(*args, **kwargs):
    raise AssertionError("the sky reached for the network")
socket.socket.connect = socket.socket.connect_ex = blocked
socket.create_connection = socket.getaddrinfo = blocked
from datetime import date
from scheduler.domain import Kind, Site, Target
from scheduler.sky import constellation_of, looks_of, places_of, sky_of
from scheduler.sky.events import lunar_eclipses_of, moon_phases_of
from scheduler.visibility.windows import windows_of
sky = sky_of(Site("Here", 50.0, 0.0, 0.0, "Europe/London", 21.0, 0.2), [date(2026, 1, 10), date(2026, 1, 11)])
targets = [Target("M 31", Kind.DEEP_SKY, 10.68, 41.27), Target("Jupiter", Kind.PLANET, body="jupiter")]
windows = windows_of(sky, places_of(sky, targets), [20.0, 20.0], sky.dark_start_unix_s, sky.dark_end_unix_s)
looks_of(sky, ["jupiter"]), constellation_of(10.0, 40.0), moon_phases_of(date(2026, 1, 1), date(2026, 2, 1))
print(len(sky.nights), windows.minutes.sum() > 100)
"""


def test_the_sky_works_with_the_network_blocked_and_without_a_warning() -> None:
    # A fresh process, so that nothing is already in memory; unclosed files would warn at its end.
    run = subprocess.run(
        [sys.executable, "-X", "dev", "-W", "error", "-c", OFFLINE],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.stderr == ""
    assert run.stdout == "2 True\n"


def test_importing_the_sky_does_not_load_skyfield() -> None:
    code = "import sys, scheduler.sky, scheduler.visibility.windows; print('skyfield' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout == "False\n"


@pytest.mark.parametrize(
    "unix_s", [0.0, 78796799.0, 78796800.0, 915148799.5, 1483228800.0, 1788220800.25, 2.5e9]
)
def test_terrestrial_time_follows_the_leap_seconds(unix_s: float) -> None:
    if unix_s < 63072000.0:
        leap_s = 10.0  # before 1972 UTC was not kept in whole seconds; skyfield's convention
    else:
        moment = moment_of(unix_s)
        leap_s = float(erfa.dat(min(moment.year, 2024), moment.month, moment.day, 0.5))
    expected = (unix_s + leap_s + 32.184) / 86400.0
    found = times_of(np.array([unix_s]))
    assert (found.whole[0] - 2440587.5) + found.tt_fraction[0] == pytest.approx(expected, abs=1e-10)


def test_the_stated_dates_are_covered_with_days_to_spare() -> None:
    for segment in ephemeris().spk.segments:
        assert segment.start_jd + 10 < FIRST_DATE.toordinal() + 1721424.5
        assert LAST_DATE.toordinal() + 1721424.5 < segment.end_jd - 5


def test_an_unknown_planet_is_answered_with_those_there_are() -> None:
    with pytest.raises(UnknownName) as caught:
        planet("pluto")
    assert caught.value.near[0] == "mercury"
