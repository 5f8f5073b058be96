"""From a wish-list and a sky to opportunities: where each target shows, on every free night."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time

import numpy as np

from ..domain import FreeNight, Guests, Kind, Opportunities, Routine
from ..domain.opportunity import Floats, Ints
from ..sky import SeasonSky
from .merits import merit_of
from .outlook import AirTable, LightTable, outlook_of
from .prime import prime_and_fair, visit_starts
from .prospect import Prospect
from .spans import spans_of
from .windows import Windows, windows_of

WINDOWS_AT_ONCE = 10_000
"""Windows whose merit is followed together; keeps the memory small."""

_FOR_ADEPTS = (Kind.VARIABLE_STAR, Kind.MINOR_BODY)
"""Kinds that look like any other star: nothing to show to guests (our judgement)."""

_IN_ANY_SKY = (Kind.PLANET, Kind.MOON_FEATURE)
"""Kinds that guests enjoy even when they show less than their best (our judgement)."""

GUESTS_MERIT, BRIGHT_GUESTS_MERIT = 0.7, 0.5
"""What shows at least so well is a showpiece for guests, whose eyes have no practice (our judgement)."""


def epoch_of(sky: SeasonSky) -> datetime:
    """Return the zero of the season's minutes: midnight UTC at the start of its first evening's date."""
    return datetime.combine(sky.evenings[0], time(0), tzinfo=UTC)


def opportunities_of(
    prospect: Prospect, free: Sequence[FreeNight], routine: Routine, guests: Guests | None = None,
    among: Collection[int] | None = None,
) -> Opportunities:  # fmt: skip
    """Return every stretch of the free nights in which a target shows well enough, and how well.

    Parameters
    ----------
    prospect : The season and its targets.
    free : The free nights, in order; rows refer to them by position.
    routine : Time to set up and to adapt to the dark.
    guests : How they look on their nights; None where nobody comes.
    among : Which of the free nights are asked about, by position; None for all.

    Notes
    -----
    A window is where the target is above its lowest altitude and the horizon, the sky dark enough for its
    kind, and the observer ready. The merit of seventeen visits along it cuts it into a prime and a fair
    stretch (`prime`). On guests' nights only showpieces are kept: what shows well, for long enough that
    everybody has a look; where that takes longer than a visit, for standbys only.
    """
    spans = spans_of(prospect, free, routine, among)
    windows = windows_of(
        prospect.sky, prospect.places, prospect.lowest_altitude_deg, spans[..., 0], spans[..., 1]
    )
    epoch_s = epoch_of(prospect.sky).timestamp()
    minutes = prospect.minutes
    start, end = whole_minutes(windows, epoch_s)
    long_enough = np.nonzero(end - start >= minutes[:, None, None])
    target, night, _ = long_enough
    whole = _Windows(
        target, night, start[long_enough].astype(np.int64), end[long_enough].astype(np.int64), minutes[target]
    )
    parts = np.array_split(np.arange(len(target)), max(1, -(-len(target) // WINDOWS_AT_ONCE)))
    tables = LightTable(prospect.sky), AirTable(prospect.sky.site)
    rows = [_rows_of(prospect, whole.part(part), *tables, epoch_s) for part in parts]
    columns, merit = (np.concatenate(pieces, axis=-1) for pieces in zip(*rows, strict=True))
    found = _sorted(prospect, free, columns, merit)
    return _for_guests(prospect, free, found, guests) if guests else found


def whole_minutes(windows: Windows, epoch_s: float) -> tuple[Floats, Floats]:
    """Return the first and last whole minute of each window, counted from the epoch; NaN where none. [min]

    A window of less than a minute may hold none: its first then comes after its last.
    """
    start_min = np.ceil((windows.start_unix_s - epoch_s) / 60.0)
    return start_min, np.floor((windows.end_unix_s - epoch_s) / 60.0)


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
    prospect: Prospect, windows: _Windows, table: LightTable, air: AirTable, epoch_s: float
) -> tuple[Ints, Floats]:
    """Return target, night, start, end, best of the stretches kept, (5, rows), and their merits, (rows,)."""
    starts = visit_starts(windows.start_min, windows.end_min, windows.minutes)
    middle_s = epoch_s + 60.0 * (starts + 0.5 * windows.minutes[:, None])
    across = windows.target[:, None], windows.night[:, None]
    lights = table.at(across[1], middle_s)
    outlook = outlook_of(prospect.sky, prospect.places, *across, middle_s, lights, air)
    merit = merit_of(prospect, *across, middle_s, outlook)
    ranks = prime_and_fair(starts, windows.minutes, merit, prospect.settings.least_merit)
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


def _for_guests(
    prospect: Prospect, free: Sequence[FreeNight], every: Opportunities, guests: Guests
) -> Opportunities:
    """Return the opportunities without those that do not suit the guests of their night."""
    people = np.array([one.guests for one in free], dtype=np.int64)[every.night]
    needed_min = people * guests.minutes_each
    shown = np.array([target.kind not in _FOR_ADEPTS for target in prospect.targets], dtype=np.bool_)
    bright = np.array([target.kind in _IN_ANY_SKY for target in prospect.targets], dtype=np.bool_)
    least = np.where(bright[every.target], BRIGHT_GUESTS_MERIT, GUESTS_MERIT)
    showpiece = shown[every.target] & (every.merit >= least)
    suits = (people == 0) | (showpiece & (every.end_min - every.start_min >= needed_min))
    return Opportunities(
        every.epoch, every.targets, every.nights, every.target[suits], every.night[suits],
        every.start_min[suits], every.end_min[suits], every.best_min[suits], every.merit[suits],
        (prospect.minutes[every.target] < needed_min)[suits],
    )  # fmt: skip
