"""Why a target has no visit: the first thing that stands in the way, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..domain import FreeNight, Kind, Opportunities, Reason, Routine, Target
from .opportunities import Floats, Ints, Prospect, asked_for, lowest_altitudes, prospect_of, spans_of
from .windows import windows_of

_NO_ROUTINE = Routine(setup_min=0, dark_adaptation_min=0, move_min=0)


def reasons_of(
    prospect: Prospect,
    free: Sequence[FreeNight],
    routine: Routine,
    opportunities: Opportunities,
    missing: Sequence[int],
) -> tuple[tuple[Reason, str], ...]:
    """Return the binding reason, and words for it, of each target (by position) in `missing`.

    Reasons are tried from the sky inwards: the site, the season, the Sun, the observer's evenings, the
    dates asked for, the length of a visit, how well it shows; what passes them all met full nights.
    """
    offered = set(np.unique(opportunities.target).tolist())
    shut_out = [row for row in missing if row not in offered]
    hidden = prospect_of(prospect.sky, [prospect.targets[row] for row in shut_out])
    reasons = dict(zip(shut_out, _shut_out(hidden, free, routine), strict=True))
    for row in missing:
        if row in offered:
            reasons[row] = _crowded_out(
                prospect.targets[row], free, opportunities.night[opportunities.target == row]
            )
    return tuple(reasons[row] for row in missing)


def _crowded_out(target: Target, free: Sequence[FreeNight], offered: Ints) -> tuple[Reason, str]:
    """Return why a target that is offered on these free nights (by position) has too few visits."""
    nights = sum(free[night].ever_clear for night in np.unique(offered))
    if not nights:
        return Reason.NEVER_CLEAR, "by your clear odds it is never clear on the free nights on which it shows"
    if target.visits > 1 and nights > 1:
        return Reason.SPACING, (
            f"{target.visits} visits at least {target.spacing_days} days apart do not all fit into its "
            f"{nights} suitable free nights beside what matters more"
        )
    some = "its one suitable free night is" if nights == 1 else f"all its {nights} suitable free nights are"
    return Reason.NIGHTS_FULL, f"{some} full with what matters more"


def _shut_out(prospect: Prospect, free: Sequence[FreeNight], routine: Routine) -> list[tuple[Reason, str]]:
    """Return reasons of targets that have no opportunity at all."""
    if not prospect.targets:
        return []
    sky, lowest = prospect.sky, lowest_altitudes(prospect)
    day = np.stack([sky.noon_unix_s, sky.next_noon_unix_s], axis=-1)
    dark = np.stack([sky.dark_start_unix_s, sky.dark_end_unix_s], axis=-1)
    twilit = np.stack([sky.twilit_start_unix_s, sky.twilit_end_unix_s], axis=-1)
    undated = replace(
        prospect, targets=tuple(replace(t, earliest=None, latest=None) for t in prospect.targets)
    )
    ever = _longest_min(prospect, np.broadcast_to(day, (len(lowest), *day.shape)))
    away = _longest_min(prospect, asked_for(undated, day, day))
    season = _longest_min(prospect, asked_for(undated, dark, twilit))
    evenings = _longest_min(prospect, spans_of(undated, free, _NO_ROUTINE))
    ready = _longest_min(prospect, spans_of(undated, free, routine))
    dated = _longest_min(prospect, spans_of(prospect, free, routine))
    longest = np.stack([ever, away, season, evenings, ready, dated], axis=-1)
    return [_first_obstacle(prospect, row, *map(float, longest[row])) for row in range(len(longest))]


def _first_obstacle(
    prospect: Prospect, row: int, ever: float, away: float, season: float, evenings: float, ready: float,
    dated: float,
) -> tuple[Reason, str]:  # fmt: skip
    """Return the first stage at which too few minutes are left; each allows less than the last."""
    target = prospect.targets[row]
    lowest = f"{target.lowest_altitude_deg:g}°"
    in_sky = "in darkness" if target.kind is Kind.DEEP_SKY else "between dusk and dawn"
    dates = f"{target.earliest or 'the start'} and {target.latest or 'the end'}"
    stages = (
        (ever, Reason.NEVER_HIGH, f"never above {lowest} from here{_culmination(prospect, row)}"),
        (away, Reason.NEAR_SUN, f"above {lowest} only while too near the Sun"),
        (season, Reason.NOT_IN_SEASON, f"above {lowest} only in daylight or twilight this season"),
        (evenings, Reason.NOT_WHEN_FREE, f"above {lowest} {in_sky}, but never while you are free"),
        (ready, Reason.NOT_WHEN_FREE, f"sets below {lowest} before you are set up and adapted to the dark"),
        (dated, Reason.OUTSIDE_DATES, f"not above {lowest} {in_sky} on a free night between {dates}"),
    )
    for longest_min, reason, words in stages:
        if longest_min <= 0.0:
            return reason, words
        if longest_min < target.minutes:
            short = f"never up longer than {longest_min:.0f} of the {target.minutes} min of a visit"
            return Reason.TOO_SHORT, short
    return Reason.NOT_SHOWN, "up on your free nights, but too low or in too bright a sky to show well"


def _culmination(prospect: Prospect, row: int) -> str:
    declination_deg = prospect.places.dec_of_date_deg[row]
    highest_deg = float((90.0 - np.abs(prospect.sky.site.latitude_deg - declination_deg)).max())
    if highest_deg <= 0.0:
        return ": it does not rise"
    if highest_deg < prospect.targets[row].lowest_altitude_deg:
        return f": it culminates at {highest_deg:.1f}°"
    return ": the horizon hides it"


def _longest_min(prospect: Prospect, spans: Floats) -> Floats:
    """Return each target's longest window in spans (targets, nights, 2), 0 where none, (targets,). [min]"""
    windows = windows_of(
        prospect.sky, prospect.places, lowest_altitudes(prospect), spans[..., 0], spans[..., 1]
    )
    lengths = np.nan_to_num(windows.end_unix_s - windows.start_unix_s)
    return np.asarray(lengths.max(axis=(1, 2), initial=0.0) / 60.0)
