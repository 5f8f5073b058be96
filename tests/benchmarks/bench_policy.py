"""What each way of spending clear nights brings, against perfect foresight.

Run with ``python -m tests.benchmarks.bench_policy m110w 200``: a season (m110w, r110w, c400p, d1000e), and
how many weather years. Further words: ``completion`` (each target counts alike, merit only breaks ties),
``slow=20`` (years for the policies that plan anew by linear programme; 0 leaves them out), ``clairvoyant=40``
(years that have a clairvoyant, all unless said), ``seconds=2`` (work spent on each of them), ``seed=2`` and
``workers=2``. ``only=prices`` keeps the rows whose names hold the word.

All live through the same years. Per cent are of the ratio of sums; their error is that of a ratio of sums
over years that belong together, 95 %. The second figure is the difference to the reference, the best simple
rule of M110w, in points of the same, with the error of years that belong together. Misled rows take clear
odds or persistence for something else than the weather lived through is drawn with. CPU is of
living a year, without what is done before the season. Seed 1 was used to tune, seed 2 is for the figures.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple, TypeAlias

for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

import numpy as np  # noqa: E402

from scheduler.domain.opportunity import Floats  # noqa: E402
from scheduler.policy import PricedOnce, Repriced, WeatherSeason, first_prices  # noqa: E402
from scheduler.refit import bound_of_prices  # noqa: E402
from scheduler.simulation import Policy, draw_weather, live  # noqa: E402
from scheduler.tuning import tuned_part  # noqa: E402

from . import instances, messier, policies  # noqa: E402

SEASONS = {
    "m110w": messier.m110w, "r110w": instances.r110w, "c400p": instances.c400, "d1000e": instances.d1000,
}  # fmt: skip
SECONDS = {"m110w": 1.0, "r110w": 1.0, "c400p": 4.0, "d1000e": 8.0}
CHUNK = 100
LABELS = 40
CLAIRVOYANT = "clairvoyant"
TUNED = 0.8
TUNING_SEED = 1
REFERENCE = f"merit lost by waiting, later at {TUNED:g}"


class Row(NamedTuple):
    """A way of spending clear nights; `believed` and `spells` mislead it, see `misled`."""

    policy: Callable[[WeatherSeason], Policy]
    slow: bool = False
    believed: float = 0.0
    spells: float | None = None


@cache
def tuned(season: WeatherSeason) -> Callable[[], Policy]:
    """Prices refitted every night, the part of the time they count on learned from years of seed 1."""
    begun = time.process_time()
    part = tuned_part(season, TUNING_SEED)
    mu = first_prices(season, filled=part)
    took_s = time.process_time() - begun
    print(f"    prices count on {part:.0%} of the nights' time, learned in {took_s:.0f} CPU s", flush=True)
    return lambda: Repriced(season, mu, 0.95, LABELS, filled=part)


ROWS: dict[str, Row] = {
    "go out, best of tonight": Row(lambda s: policies.best_of_tonight(s)),
    "fewest nights left first": Row(lambda s: policies.fewest_nights_first(s)),
    "merit lost by waiting": Row(lambda s: policies.lost_by_waiting(s)),
    REFERENCE: Row(lambda s: policies.lost_by_waiting(s, TUNED)),
    "one fixed plan, weather ignored": Row(lambda s: policies.fixed_plan(s)),
    "weather ignored, re-planned (LP)": Row(lambda s: policies.replanned(s, blind=True), slow=True),
    "expected capacity, re-planned (LP)": Row(lambda s: policies.replanned(s, blind=False), slow=True),
    "prices once": Row(lambda s: PricedOnce(s, labels=LABELS)),
    "prices once, later at 0.95": Row(lambda s: PricedOnce(s, None, 0.95, LABELS)),
    "prices refitted each night": Row(lambda s: Repriced(s, labels=LABELS)),
    "prices refitted, later at 0.95": Row(lambda s: Repriced(s, None, 0.95, LABELS)),
    "prices refitted, tuned": Row(lambda s: tuned(s)()),
    "same, odds taken 0.1 too high": Row(lambda s: tuned(s)(), believed=0.1),
    "same, odds taken 0.1 too low": Row(lambda s: tuned(s)(), believed=-0.1),
    "same, persistence taken for 0": Row(lambda s: tuned(s)(), spells=0.0),
    "same, persistence taken for 0.6": Row(lambda s: tuned(s)(), spells=0.6),
}


@dataclass(frozen=True)
class Work:
    """Some years of one row."""

    season: str
    completion: bool
    row: str
    seed: int
    first: int
    years: int
    seconds: float


def misled(season: WeatherSeason, believed: float, spells: float | None) -> WeatherSeason:
    """Return the season as a policy sees it that misjudges the weather."""
    odds = np.clip(season.odds + believed, 0.02, 0.98)
    return replace(season, odds=odds, persistence=season.persistence if spells is None else spells)


@cache
def season_of(
    name: str, completion: bool, believed: float = 0.0, spells: float | None = None
) -> WeatherSeason:
    """Return the season as it is believed to be."""
    season = SEASONS[name]().season()
    if completion:
        o = season.opportunities
        season = replace(season, weights=np.ones(o.targets),
                         opportunities=replace(o, merit=(1 + 0.01 * o.merit) / 1.01))  # fmt: skip
    return misled(season, believed, spells)


Lives: TypeAlias = tuple[Floats, Floats, Floats, float]


def lived(work: Work) -> Lives:
    """Return value, bound (the clairvoyant's only) and targets completed by year, and CPU seconds."""
    season = season_of(work.season, work.completion)
    clear = draw_weather(season.chain, work.years, work.seed, work.first)
    if work.row == CLAIRVOYANT:
        begun = time.process_time()
        found, bound = policies.clairvoyant(season, clear, work.seconds)
    else:
        row = ROWS[work.row]
        policy = row.policy(season_of(work.season, work.completion, row.believed, row.spells))
        begun = time.process_time()
        found = live(season, policy, clear)
        bound = found.value
    return found.value, bound, found.completed.astype(np.float64), time.process_time() - begun


def ratio_of(value: Floats, best: Floats) -> tuple[float, float]:
    """Return the ratio of the sums and half its 95 % interval, years belonging together."""
    ratio = float(value.sum() / best.sum())
    spread = float((value - ratio * best).std(ddof=1)) if len(best) > 1 else np.nan
    return ratio, 1.96 * spread / float(best.mean()) / float(np.sqrt(len(best)))


def line_of(parts: Sequence[Lives], best: Floats, reference: Floats | None) -> str:
    """Return a row of the table: per cent of `best` and points above the reference, with errors."""
    value, _, completed = (np.concatenate([part[i] for part in parts]) for i in range(3))
    cpu_s, years = sum(part[3] for part in parts) / len(value), min(len(value), len(best))
    best, value = best[:years], value[:years]
    ratio, error = ratio_of(value, best)
    # a year without a clear night is no measure of anything
    worst = float((value[best > 0] / best[best > 0]).min())
    above = ""
    if reference is not None:
        years = min(years, len(reference))
        points, of_points = ratio_of((value - reference[: len(value)])[:years], best[:years])
        above = f"{100 * points:+6.2f} ±{100 * of_points:.2f}"
    return (f"{ratio:7.2%} ±{100 * error:.2f} {above:13s} worst {worst:4.0%}  done {completed.mean():6.1f}"
            f" {1e3 * cpu_s:8.0f} ms/year {len(best)} years")  # fmt: skip


def main() -> None:
    """Print the table."""
    words = [word for word in sys.argv[1:] if "=" not in word and word != "completion"]
    more = dict(word.split("=") for word in sys.argv[1:] if "=" in word)
    name, years, completion = words[0], int(words[1]), "completion" in sys.argv
    slow, seed = min(years, int(more.get("slow", 20))), int(more.get("seed", 2))
    seconds = float(more.get("seconds", SECONDS[name]))
    season = season_of(name, completion)
    mu = first_prices(season)
    print(f"{name}, {'completion' if completion else 'weight x merit'}, seed {seed}; "
          f"no policy expects more than {bound_of_prices(season.wishes, mu):.2f}", flush=True)  # fmt: skip
    count = {row: slow if ROWS[row].slow else years for row in ROWS if more.get("only", "") in row}
    count = {CLAIRVOYANT: int(more.get("clairvoyant", years)), REFERENCE: years, **count}
    best, reference = np.zeros(0), None
    with ProcessPoolExecutor(int(more.get("workers", 2))) as pool:
        for row, many in count.items():
            chunk = max(1, min(CHUNK, many))
            works = [Work(name, completion, row, seed, first, min(chunk, many - first), seconds)
                     for first in range(0, many, chunk)]  # fmt: skip
            parts = list(pool.map(lived, works))
            if not parts:
                continue
            value, bound = (np.concatenate([part[i] for part in parts]) for i in range(2))
            best = value if row == CLAIRVOYANT else best
            print(f"{row:39s}", line_of(parts, best, reference), f"mean {value.mean():.2f}", flush=True)
            reference = value if row == REFERENCE else reference
            if row == CLAIRVOYANT:
                print(f"    the clairvoyant may lie {bound.sum() / value.sum() - 1:.2%} higher at most")


if __name__ == "__main__":
    main()
