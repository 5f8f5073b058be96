"""How long it takes to find when a thousand targets of every kind show, on every night of a year.

Run with ``python -m tests.benchmarks.bench_opportunities``; one core. The list is real: doubles, variables,
Moon features, showers, minor planets, planets and lunar eclipses of the catalogue, filled up with its
brightest deep-sky objects; the kit holds two telescopes, three eyepieces, a Barlow, a filter and binoculars.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from collections import Counter
from dataclasses import replace
from datetime import date

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

from scheduler.catalogue import curated, look_up, ongc, tables  # noqa: E402
from scheduler.domain import (  # noqa: E402
    Availability,
    Barlow,
    Binoculars,
    ClearOdds,
    EveningRule,
    Eyepiece,
    Filter,
    Kit,
    Scenario,
    Season,
    Site,
    Target,
    Telescope,
)
from scheduler.errors import UnknownName  # noqa: E402
from scheduler.scenario.columns import LOWEST_ALTITUDE_DEG, MINUTES  # noqa: E402
from scheduler.sky import sky_of  # noqa: E402
from scheduler.visibility.free import free_nights_of  # noqa: E402
from scheduler.visibility.opportunities import opportunities_of  # noqa: E402
from scheduler.visibility.prospect import prospect_for  # noqa: E402

COUNT = 1000
SITE = Site("North", 52.0, 9.0, 100.0, "Europe/Berlin", 21.0, 0.25)
KIT = Kit(
    (Telescope("200 mm f/6", 200.0, 1200.0, 50.0), Telescope("80 mm f/7", 80.0, 560.0)),
    (Eyepiece("32 mm", 32.0), Eyepiece("17 mm", 17.0, 65.0), Eyepiece("9 mm", 9.0, 60.0)),
    Barlow(2.0), Binoculars("10x50", 10.0, 50.0, 6.5), (Filter("narrow band"),),
)  # fmt: skip
WANTED_S = 3.0


def targets() -> list[Target]:
    """Return the thousand."""
    names = [piece.entry.identity for piece in (*curated.pieces(), *tables.doubles())]
    names += ["Mercury", "Venus", "Mars", "Jupiter", "Saturn", "Uranus", "Neptune"]
    rows = [row for row in ongc.rows() if row.type in ("G", "OCl", "GCl", "PN", "EmN", "Cl+N", "HII", "Neb")]
    bright = sorted(rows, key=lambda row: row.v_mag or row.b_mag or 99.0)
    found: dict[str, Target] = {}
    for name in [*names, *(row.name for row in bright)]:
        try:
            entry = look_up(name)
        except UnknownName:
            continue
        if len(found) < COUNT and entry.identity not in found:
            found[entry.identity] = Target(
                entry.identity, entry.kind, entry.ra_deg, entry.dec_deg, entry.body,
                magnitude=entry.magnitude, size_arcmin=entry.size_arcmin, nature=entry.nature,
                minutes=MINUTES[entry.kind], lowest_altitude_deg=LOWEST_ALTITUDE_DEG[entry.kind],
            )  # fmt: skip
    return list(found.values())


def main() -> None:
    """Print the figures."""
    wished = tuple(targets())
    of = Scenario(
        "thousand", SITE, KIT, Season(date(2027, 1, 1), 365), Availability((EveningRule(),)),
        ClearOdds((0.4,) * 12), wished,
    )  # fmt: skip
    sky_of(SITE, of.season.evenings[:3])
    taken = []
    for _ in range(3):
        begun = time.perf_counter()
        sky = sky_of(SITE, of.season.evenings)
        prospect = prospect_for(sky, of)
        ready = time.perf_counter()
        free = free_nights_of(of, sky.nights, [0.4] * len(sky))
        rows = opportunities_of(prospect, free, replace(of.routine))
        taken.append((time.perf_counter() - begun, ready - begun, len(rows)))
    best = min(taken)
    kinds = ", ".join(f"{count} {kind.value}" for kind, count in Counter(t.kind for t in wished).items())
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(
        f"{len(wished)} targets ({kinds}), {len(free)} nights, {len(prospect.optics)} ways of looking\n"
        f"sky, places and merit tables {best[1]:.2f} s, with opportunities {best[0]:.2f} s "
        f"({best[2]} of them), {memory_mb:.0f} MB; wanted {WANTED_S} s: "
        f"{'held' if best[0] <= WANTED_S else 'MISSED'}\n"
    )


if __name__ == "__main__":
    main()
