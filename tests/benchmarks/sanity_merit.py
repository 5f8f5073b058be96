"""What the merit model makes of the Messier list, beside what the design's prototype made of it; its speed.

Run with ``python -m tests.benchmarks.sanity_merit``; one core. The prototype's figures are those of the
design page on merit. It does not say where its targets stood, which eyepieces it had nor how old its observer
was: here they stand 60 deg high, 40 deg from a full Moon that stands 40 deg high, for an eye of 40 years.
"""

from __future__ import annotations

import os
import sys
import time
from dataclasses import replace

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

import numpy as np  # noqa: E402

from scheduler.catalogue import look_up  # noqa: E402
from scheduler.domain import (  # noqa: E402
    Barlow,
    Binoculars,
    Extended,
    Eyepiece,
    Filter,
    Kind,
    Kit,
    Lines,
    Observer,
    Site,
    Target,
    Telescope,
)
from scheduler.errors import UnknownName  # noqa: E402
from scheduler.visibility.brightness import (  # noqa: E402
    airmass,
    dark_sky_nl,
    moonlight_nl,
    to_sky_brightness,
)
from scheduler.visibility.merit import MeritSettings  # noqa: E402
from scheduler.visibility.merit_table import merit_table_of  # noqa: E402
from scheduler.visibility.optics import Optic, optics_of  # noqa: E402
from scheduler.visibility.through import merits_through  # noqa: E402

ALTITUDE_DEG, MOON_ALTITUDE_DEG, APART_DEG = 60.0, 40.0, 40.0
SITE = Site("Sanity", 50.0, 0.0, 100.0, "UTC", 21.8, 0.25)
EYEPIECES = (Eyepiece("32 mm", 32, 50), Eyepiece("17 mm", 17, 65), Eyepiece("9 mm", 9, 60))
LARGE = Kit((Telescope("200 mm", 200, 1200, 50),), EYEPIECES, Barlow())
SMALL = Kit((Telescope("60 mm", 60, 700),), EYEPIECES, Barlow())
FULL = replace(LARGE, binoculars=Binoculars("10x50", 10, 50, 6.5),
               filters=(Filter("narrow"), Filter("O III", Lines.OXYGEN, 0.9, 0.1)))  # fmt: skip
AT_THRESHOLD = MeritSettings(seen_dex=0.0, seen_width_dex=0.01)
"""With these the merit is above a quarter just where the best part stands above the threshold."""

PROTOTYPE = {
    ("galaxies", 18.5): (0.21, 0.09), ("galaxies", 21.8): (0.89, 0.14),
    ("globular clusters", 18.5): (0.89, 0.76), ("globular clusters", 21.8): (1.00, 0.84),
    ("open clusters", 18.5): (1.00, 0.99), ("open clusters", 21.8): (1.00, 0.99),
}  # fmt: skip
PROTOTYPE_SHOWN = {("60 mm", 18.5): 61, ("60 mm", 21.8): 98, ("200 mm", 18.5): 90, ("200 mm", 21.8): 109}


def target_of(name: str) -> Target:
    """Return a fixed target as a wish-list would have it."""
    entry = look_up(name)
    nature = entry.nature or (Extended(entry.what) if entry.kind is Kind.DEEP_SKY else None)
    return Target(
        name, entry.kind, entry.ra_deg, entry.dec_deg, magnitude=entry.magnitude,
        size_arcmin=entry.size_arcmin, nature=nature,
    )  # fmt: skip


def messier() -> list[Target]:
    """Return the Messier list without the double star M 40 of it: 109 objects."""
    return [target_of(f"M {number}") for number in range(1, 111) if number != 40]


def telescopes(kit: Kit) -> tuple[Optic, ...]:
    return tuple(one for one in optics_of(kit, [Observer()]) if one.family == "telescope")


def sky_at(zenith: float, *, moon: bool) -> float:
    """Return the sky behind the targets. [mag/arcsec2]"""
    light = dark_sky_nl(zenith, SITE.extinction_mag, ALTITUDE_DEG)
    if moon:
        light = light + moonlight_nl(0.0, APART_DEG, MOON_ALTITUDE_DEG, ALTITUDE_DEG, SITE.extinction_mag)
    return float(to_sky_brightness(light))


def best(targets: list[Target], kit: Kit, sky: float, settings: MeritSettings | None = None) -> np.ndarray:
    air = airmass(ALTITUDE_DEG)
    found: np.ndarray = merits_through(targets, telescopes(kit), sky, air, SITE, settings).max(axis=0)
    return found


def say(*words: object) -> None:
    sys.stdout.write(" ".join(str(word) for word in words) + "\n")


def medians() -> None:
    """Print the median merit by kind, sky and Moon."""
    targets = messier()
    kinds = {"galaxies": "galaxy", "globular clusters": "globular cluster", "open clusters": "open cluster"}
    say(f"{'median merit, 200 mm':22}{'zenith':>8}{'dark':>8}{'Moon':>8}   prototype")
    for plural, what in kinds.items():
        own = [one for one in targets if isinstance(one.nature, Extended) and one.nature.what == what]
        for zenith in (18.5, 21.8):
            seen = [np.median(best(own, LARGE, sky_at(zenith, moon=moon))) for moon in (False, True)]
            were = "{:.2f} / {:.2f}".format(*PROTOTYPE[plural, zenith])
            say(f"{plural:16}{len(own):4}  {zenith:8}{seen[0]:8.2f}{seen[1]:8.2f}   {were}")


def shown() -> None:
    """Print how many objects stand above the threshold."""
    targets = messier()
    say(f"\n{'above the threshold':22}{'zenith':>8}{'of 109':>8}   prototype")
    for name, kit in (("60 mm", SMALL), ("200 mm", LARGE)):
        for zenith in (18.5, 21.8):
            count = int((best(targets, kit, sky_at(zenith, moon=False), AT_THRESHOLD) > 0.25).sum())
            say(f"{name:22}{zenith:8}{count:8}   {PROTOTYPE_SHOWN[name, zenith]}")


def thousand() -> list[Target]:
    """Return the first thousand NGC objects that are there."""
    found: list[Target] = []
    for number in range(1, 1200):
        try:
            found.append(target_of(f"NGC {number}"))
        except UnknownName:
            continue
    return found[:1000]


def speed() -> None:
    """Print how long the tables of a thousand targets take, how long a look-up, and how far off it is."""
    targets, optics = thousand(), optics_of(FULL, [Observer()])
    taken = []
    for _ in range(5):
        begin = time.process_time()
        table = merit_table_of(targets, optics, SITE)
        taken.append(time.process_time() - begin)
    rng = np.random.default_rng(3)
    rows = rng.integers(0, len(targets), (60_000, 17))
    sky, air = rng.uniform(17.0, 22.0, rows.shape), rng.uniform(1.0, 3.0, rows.shape)
    begin = time.process_time()
    table.at(rows, sky, air)
    look_us = (time.process_time() - begin) / rows.size * 1e6
    wrong = []
    for _ in range(20):
        sky_one, air_one = rng.uniform(13.0, 22.3, len(targets)), rng.uniform(1.0, 5.7, len(targets))
        exact = merits_through(targets, optics, sky_one, air_one, SITE).max(axis=0)
        wrong.append(np.abs(table.at(np.arange(len(targets)), sky_one, air_one) - exact))
    say(
        f"\ntables of {len(targets)} targets, {len(optics)} optics: {min(taken):.3f} s of a core (wanted 0.5)"
    )
    say(f"a look-up: {look_us:.3f} us (prototype 0.06 us)")
    say(f"off by at most {np.max(wrong):.4f}, {np.quantile(wrong, 0.999):.4f} in 999 of 1000 (wanted 0.004)")


def main() -> None:
    """Print all of it."""
    medians()
    shown()
    speed()


if __name__ == "__main__":
    main()
