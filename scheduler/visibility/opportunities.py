"""From a wish-list and a sky to opportunities: where each target shows, on every free night."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from ..domain import SUN_DISTANCE_DEG, FreeNight, Kind, Opportunities, Routine, Target
from ..domain.opportunity import Floats, Ints
from ..sky import Places, SeasonSky, looks_of, places_of
from .merit import MeritSettings, faint_merit, planet_merit, steady_merit
from .outlook import LightTable, Outlook, outlook_of
from .prime import prime_and_fair, visit_starts
from .windows import Windows, windows_of

WINDOWS_AT_ONCE = 20_000
"""Windows whose merit is followed together; keeps the memory small."""

MIDNIGHT_MARGIN_DEG = 1.5
"""Added to the safe distance from the Sun, which is tried at midnight: near it Mercury, the quickest, moves
1.18 deg in half a day at most (DE421, 1990 to 2039). [deg]"""


@dataclass(frozen=True, eq=False)
class Prospect:
    """A season seen through one wish-list: what every later question about opportunities starts from.

    Attributes
    ----------
    sky : The season's sky, every night of it.
    places : Where the targets stand on those nights.
    targets : The wish-list, in its order.
    disc_share : A planet's disc over its largest of the season well away from the Sun, at most 1; 1 for
        everything else. (targets, nights)
    safe : Whether a target keeps its distance from the Sun. (targets, nights)
    """

    sky: SeasonSky
    places: Places
    targets: tuple[Target, ...]
    disc_share: Floats
    safe: NDArray[np.bool_]


def prospect_of(sky: SeasonSky, targets: Sequence[Target]) -> Prospect:
    """Return the season as these targets see it."""
    disc_share = np.ones((len(targets), len(sky)))
    safe = np.ones((len(targets), len(sky)), dtype=np.bool_)
    moving = [row for row, target in enumerate(targets) if target.body is not None]
    looks = looks_of(sky, [str(targets[row].body) for row in moving])
    apart_deg = np.abs(looks.elongation_deg)
    seen_arcsec = np.where(apart_deg >= 2.0 * SUN_DISTANCE_DEG, looks.disc_arcsec, 0.0)
    largest_arcsec = seen_arcsec.max(axis=1, keepdims=True)
    largest_arcsec = np.where(
        largest_arcsec > 0.0, largest_arcsec, looks.disc_arcsec.max(axis=1, keepdims=True)
    )
    safe[moving] = apart_deg >= SUN_DISTANCE_DEG + MIDNIGHT_MARGIN_DEG
    disc_share[moving] = np.clip(looks.disc_arcsec / largest_arcsec, 0.0, 1.0)
    return Prospect(sky, places_of(sky, targets), tuple(targets), disc_share, safe)


def epoch_of(sky: SeasonSky) -> datetime:
    """Return the zero of the season's minutes: midnight UTC at the start of its first evening's date."""
    return datetime.combine(sky.evenings[0], time(0), tzinfo=UTC)


def opportunities_of(
    prospect: Prospect, free: Sequence[FreeNight], routine: Routine, settings: MeritSettings | None = None
) -> Opportunities:
    """Return every stretch of the free nights in which a target shows well enough, and how well.

    Parameters
    ----------
    prospect : The season and its targets.
    free : The free nights, in order; rows refer to them by position.
    routine : Time to set up and to adapt to the dark.
    settings : The judgement in the merit model.

    Notes
    -----
    A window is where the target is above its lowest altitude and the horizon, the sky dark enough for its
    kind, and the observer ready. The merit of seventeen visits along it cuts it into a prime and a fair
    stretch (`prime`).
    """
    settings = settings or MeritSettings()
    spans = spans_of(prospect, free, routine)
    windows = windows_of(
        prospect.sky, prospect.places, lowest_altitudes(prospect), spans[..., 0], spans[..., 1]
    )
    epoch_s = epoch_of(prospect.sky).timestamp()
    minutes = np.array([target.minutes for target in prospect.targets], dtype=np.int64)
    start, end = whole_minutes(windows, epoch_s)
    long_enough = np.nonzero(end - start >= minutes[:, None, None])
    target, night, _ = long_enough
    whole = _Windows(
        target, night, start[long_enough].astype(np.int64), end[long_enough].astype(np.int64), minutes[target]
    )
    parts = np.array_split(np.arange(len(target)), max(1, -(-len(target) // WINDOWS_AT_ONCE)))
    lights = LightTable(prospect.sky)
    rows = [_rows_of(prospect, whole.part(part), lights, epoch_s, settings) for part in parts]
    columns, merit = (np.concatenate(pieces, axis=-1) for pieces in zip(*rows, strict=True))
    return _sorted(prospect, free, columns, merit)


def whole_minutes(windows: Windows, epoch_s: float) -> tuple[Floats, Floats]:
    """Return the first and last whole minute of each window, counted from the epoch; NaN where none. [min]

    A window of less than a minute may hold none: its first then comes after its last.
    """
    start_min = np.ceil((windows.start_unix_s - epoch_s) / 60.0)
    return start_min, np.floor((windows.end_unix_s - epoch_s) / 60.0)


def spans_of(prospect: Prospect, free: Sequence[FreeNight], routine: Routine) -> Floats:
    """Return when each target may be looked at, altitude aside, (targets, nights, 2) or NaN. [unix s]

    Deep-sky objects wait for the dark window and for adapted eyes; planets and double stars show from civil
    dusk to civil dawn (common practice, no source). Dates asked for and the distance from the Sun are kept
    here too.
    """
    sky, position = prospect.sky, {evening: night for night, evening in enumerate(prospect.sky.evenings)}
    faint, bright = np.full((len(sky), 2), np.nan), np.full((len(sky), 2), np.nan)
    for one, following in zip_longest(free, free[1:]):
        night, arrival_s = position[one.evening], one.free.start.timestamp()
        until_s = one.free.end.timestamp()
        if following is not None:  # polar nights touch at noon: the move to the next one's first target
            next_ready_s = following.free.start.timestamp() + 60.0 * routine.setup_min
            until_s = min(until_s, next_ready_s - 60.0 * routine.move_min)
        ready_s = arrival_s + 60.0 * routine.setup_min
        bright[night] = max(ready_s, sky.twilit_start_unix_s[night]), sky.twilit_end_unix_s[night]
        adapted_s = ready_s + 60.0 * routine.dark_adaptation_min
        faint[night] = max(adapted_s, sky.dark_start_unix_s[night]), sky.dark_end_unix_s[night]
        for span in (bright[night], faint[night]):
            span[1] = min(span[1], until_s)
    return asked_for(prospect, faint, bright)


def asked_for(prospect: Prospect, faint: Floats, bright: Floats) -> Floats:
    """Return each target's spans from those of its kind, inside its dates and away from the Sun.

    `faint` and `bright` are (nights, 2); the result is (targets, nights, 2). [unix s]
    """
    spans = np.stack([faint if target.kind is Kind.DEEP_SKY else bright for target in prospect.targets])
    wanted = prospect.safe.copy()
    for row, target in enumerate(prospect.targets):
        if target.earliest or target.latest:
            wanted[row] &= [
                (target.earliest or evening) <= evening <= (target.latest or evening)
                for evening in prospect.sky.evenings
            ]
    spans[~wanted] = np.nan
    spans[~(spans[..., 0] < spans[..., 1])] = np.nan
    return spans


def lowest_altitudes(prospect: Prospect) -> Floats:
    """Return the lowest altitude of each target. (targets,) [deg]"""
    return np.array([target.lowest_altitude_deg for target in prospect.targets])


def merit_of(
    prospect: Prospect, target: Ints, night: Ints, outlook: Outlook, settings: MeritSettings
) -> Floats:
    """Return the merit of targets on nights under an outlook, all of shapes that broadcast, 0..1."""
    kinds = np.array([list(Kind).index(one.kind) for one in prospect.targets], dtype=np.int64)[target]
    disc = prospect.disc_share[target, night]
    return np.select(
        [kinds == list(Kind).index(Kind.DEEP_SKY), kinds == list(Kind).index(Kind.PLANET)],
        [
            faint_merit(outlook.contrast_lost_mag, settings),
            planet_merit(outlook.altitude_deg, disc, settings),
        ],
        steady_merit(outlook.altitude_deg, settings),
    )


@dataclass(frozen=True, eq=False)
class _Windows:
    """Windows long enough for a visit, in whole minutes after the epoch; all (windows,)."""

    target: Ints
    night: Ints
    start_min: Ints
    end_min: Ints
    minutes: Ints

    def part(self, chosen: Ints) -> _Windows:
        return _Windows(
            self.target[chosen], self.night[chosen], self.start_min[chosen], self.end_min[chosen],
            self.minutes[chosen],
        )  # fmt: skip


def _rows_of(
    prospect: Prospect, windows: _Windows, table: LightTable, epoch_s: float, settings: MeritSettings
) -> tuple[Ints, Floats]:
    """Return target, night, start, end, best of the stretches kept, (5, rows), and their merits, (rows,)."""
    starts = visit_starts(windows.start_min, windows.end_min, windows.minutes)
    middle_s = epoch_s + 60.0 * (starts + 0.5 * windows.minutes[:, None])
    across = windows.target[:, None], windows.night[:, None]
    lights = table.at(across[1], middle_s)
    outlook = outlook_of(prospect.sky, prospect.places, *across, middle_s, lights)
    merit = merit_of(prospect, *across, outlook, settings)
    ranks = prime_and_fair(starts, windows.minutes, merit, settings.least_merit)
    columns = [
        np.stack([windows.target, windows.night, rank.start_min, rank.end_min, rank.best_min])[:, rank.kept]
        for rank in ranks
    ]
    return np.concatenate(columns, axis=1), np.concatenate([rank.merit[rank.kept] for rank in ranks])


def _sorted(prospect: Prospect, free: Sequence[FreeNight], columns: Ints, merit: Floats) -> Opportunities:
    position = {evening: night for night, evening in enumerate(prospect.sky.evenings)}
    free_of = np.full(len(prospect.sky), -1, dtype=np.int64)
    free_of[[position[one.evening] for one in free]] = np.arange(len(free))
    columns[1] = free_of[columns[1]]
    order = np.lexsort((columns[2], columns[0], columns[1]))
    target, night, start_min, end_min, best_min = columns[:, order]
    return Opportunities(
        epoch_of(prospect.sky), len(prospect.targets), len(free), target, night, start_min, end_min, best_min,
        merit[order],
    )  # fmt: skip
