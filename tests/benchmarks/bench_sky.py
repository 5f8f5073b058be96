"""How fast the sky is, against general-purpose libraries doing the same work in the same run.

Run with ``python -m tests.benchmarks.bench_sky``; one core. The two comparisons are per target and year, each
timed on a few targets after its own warm-up: skyfield's rise and set search, and an altitude every five
minutes by astropy, which leaves the crossings still to be found.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

import astropy.units as u  # noqa: E402
import numpy as np  # noqa: E402
from astropy.coordinates import AltAz, EarthLocation, SkyCoord  # noqa: E402
from astropy.time import Time  # noqa: E402
from astropy.utils import iers  # noqa: E402
from skyfield.almanac import find_risings, find_settings  # noqa: E402
from skyfield.api import Star, wgs84  # noqa: E402

from scheduler.domain import Horizon, Site, Target  # noqa: E402
from scheduler.sky import moon_at, places_of, sky_of  # noqa: E402
from scheduler.sky.ephemeris import ephemeris, times_of, timescale  # noqa: E402
from scheduler.sky.season import SeasonSky  # noqa: E402
from scheduler.visibility.windows import windows_of  # noqa: E402
from tests.scheduler.sky.rigorous import random_targets, year_from  # noqa: E402

SITE = Site("North", 55.0, -3.2, 100.0, "Europe/London", 21.0, 0.2)
WALLS = Horizon((0.0, 40.0, 40.0, 90.0, 150.0, 150.0, 280.0), (5.0, 5.0, 32.0, 32.0, 10.0, 25.0, 12.0))
WALLED = replace(SITE, name="Walled", horizon=WALLS)
YEAR = year_from(date(2025, 9, 1))
CHUNK = 500


def fastest_s(work: Callable[[], object], times: int) -> float:
    """Return the shortest of several runs, which other programs disturb least. [s]"""
    taken = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begin)
    return min(taken)


def windows_for(sky: SeasonSky, targets: list[Target]) -> float:
    """Find the windows of many targets, 500 at a time, and keep them all; return their minutes."""
    kept = []
    for first in range(0, len(targets), CHUNK):
        places = places_of(sky, targets[first : first + CHUNK])
        limits = np.full(len(places), 20.0)
        kept.append(windows_of(sky, places, limits, sky.dark_start_unix_s, sky.dark_end_unix_s))
    return float(sum(w.minutes.sum() for w in kept))


COLD = """
import time, numpy as np, skyfield.api, skyfield.almanac
from tests.benchmarks.bench_sky import SITE, YEAR, random_targets, sky_of, windows_for
targets, _, _ = random_targets(110, seed=3)
begin = time.perf_counter()
windows_for(sky_of(SITE, YEAR), targets)
print(time.perf_counter() - begin)
"""


def cold_s() -> float:
    """Time a year of 110 targets in a fresh process, imports done. [s]"""
    runs = [
        subprocess.run([sys.executable, "-c", COLD], capture_output=True, text=True, check=True)
        for _ in "123"
    ]
    return min(float(run.stdout) for run in runs)


def search_s(targets: int) -> float:
    """Time skyfield's search for a year's risings and settings, per target. [s]"""
    _, ra_deg, dec_deg = random_targets(400, seed=2)
    rising = np.flatnonzero(np.abs(dec_deg) < 12.0)[:targets]
    observer = ephemeris()["earth"] + wgs84.latlon(SITE.latitude_deg, SITE.longitude_deg, SITE.elevation_m)
    begin, end = timescale().utc(2025, 9, 1, 12), timescale().utc(2026, 9, 1, 12)

    def work() -> None:
        for row in rising:
            star = Star(ra_hours=float(ra_deg[row]) / 15.0, dec_degrees=float(dec_deg[row]))
            for find in (find_risings, find_settings):
                find(observer, star, begin, end, horizon_degrees=20.0)

    return fastest_s(work, 2) / targets


def grid_s() -> float:
    """Time astropy's altitudes every five minutes of the year's nights, for one target. [s]"""
    moments = np.arange(times_start := 1756728000.0, times_start + 365 * 86400.0, 300.0)
    place = EarthLocation.from_geodetic(
        SITE.longitude_deg * u.deg, SITE.latitude_deg * u.deg, SITE.elevation_m * u.m
    )
    star = SkyCoord(120.0 * u.deg, 10.0 * u.deg)
    with iers.conf.set_temp("auto_download", False), iers.conf.set_temp("auto_max_age", None):
        star.transform_to(AltAz(obstime=Time(moments[:10], format="unix"), location=place))
        return fastest_s(
            lambda: star.transform_to(AltAz(obstime=Time(moments, format="unix"), location=place)).alt.deg, 1
        )


def main() -> None:
    """Print the table."""
    times_of(np.zeros(1))
    sky_of(SITE, YEAR[:3])
    sky, walled = sky_of(SITE, YEAR), sky_of(WALLED, YEAR)
    targets, _, _ = random_targets(14000, seed=1)
    windows_for(sky, targets[:100]), windows_for(walled, targets[:100])
    frame = fastest_s(lambda: sky_of(SITE, YEAR), 5)
    thousand = fastest_s(lambda: windows_for(sky, targets[:1000]), 5)
    profile = fastest_s(lambda: windows_for(walled, targets[:1000]), 3)
    many = fastest_s(lambda: windows_for(sky, targets), 2)
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    share = np.linspace(0.0, 1.0, 60)
    moments = sky.noon_unix_s[:, None] * (1 - share) + sky.next_noon_unix_s[:, None] * share
    moon = fastest_s(lambda: moon_at(sky, moments), 5)
    search, grid, cold = search_s(8), grid_s(), cold_s()
    rows = [
        ("frame of 365 nights", f"{frame:.3f} s", ""),
        ("1000 targets with frame", f"{frame + thousand:.3f} s", "<= 0.5 s"),
        ("1000 targets with frame, walled horizon", f"{frame + profile:.3f} s", ""),
        ("14000 targets", f"{many:.2f} s", "<= 1.5 s"),
        ("110 targets with frame, fresh process", f"{cold:.3f} s", "<= 0.5 s"),
        ("Moon at 365 x 60 moments", f"{moon:.3f} s", ""),
        ("most memory so far", f"{memory_mb:.0f} MB", "<= 300 MB"),
        ("one target-year after the frame", f"{thousand:.5f} ms", ""),
        (
            "skyfield rise and set search",
            f"{search * 1e3:.1f} ms, {search / thousand * 1000:.0f} times",
            ">= 200",
        ),
        (
            "astropy five-minute grid, the same",
            f"{grid:.2f} s, {grid / thousand * 1000:.0f} times",
            ">= 10000",
        ),
    ]
    for name, found, target in rows:
        sys.stdout.write(f"{name:42}{found:28}{target}\n")


if __name__ == "__main__":
    main()
