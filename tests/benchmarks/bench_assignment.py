"""How well and how fast seasons are assigned: run with ``python -m tests.benchmarks.bench_assignment``.

Each season runs in a process of its own, so that memory is its own. Names may be given, as in
``... bench_assignment c400``; the targets stand in SEASONS: gap at most, with so many seconds of work.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import time

from scheduler.assignment import assign, breaches_of
from scheduler.domain import Progress

from . import instances

SEASONS = {
    "r110w": [(3.0, 1e-3)],
    "c400": [(10.0, 5e-3), (30.0, 1.5e-3)],
    "d1000": [(8.0, 5e-3), (60.0, 2e-3)],
}


def run(name: str) -> None:
    """Assign one season with each of its budgets and print what came of it."""
    problem = getattr(instances, name)().problem()
    for seconds, target in SEASONS[name]:
        begun = time.perf_counter()
        reached: list[float] = []

        def listen(progress: Progress, begun: float = begun, reached: list[float] = reached) -> None:
            near = progress.bound and progress.objective and 1 - progress.objective / progress.bound <= 5e-3
            if near and not reached:
                reached.append(time.perf_counter() - begun)

        found = assign(problem, seconds=seconds, report=listen)
        took = time.perf_counter() - begun
        memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        assert breaches_of(problem, found) == ()
        first = f"0.5 % after {reached[0]:.1f} s" if reached else "0.5 % not reached"
        verdict = "held" if found.gap <= target and memory_mb <= 1024 else "MISSED"
        print(f"{name}: work {seconds:g} s, clock {took:.1f} s, gap {found.gap:.3%} ({first}), "
              f"{len(found.rows)} visits, {memory_mb:.0f} MB; wanted {target:.2%}, 1 GB: {verdict}",
              flush=True)  # fmt: skip
        for stage in found.stages:
            print(
                f"    {stage.name:8s} gap {1 - stage.objective / stage.bound:8.3%} work {stage.work:6.2f} s"
            )


def main() -> None:
    """Run the seasons named, or all."""
    for name in sys.argv[1:] or SEASONS:
        process = multiprocessing.get_context("spawn").Process(target=run, args=(name,))
        process.start()
        process.join()
        if process.exitcode:
            sys.exit(process.exitcode)


if __name__ == "__main__":
    main()
