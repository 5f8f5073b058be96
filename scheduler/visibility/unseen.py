"""Why a target has no visit, or too few: the first thing that stands in the way, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from datetime import date
from typing import NamedTuple

import numpy as np

from ..domain import Availability, FreeNight, Kind, Opportunities, Reason, Routine, Target, Visit
from ..domain.opportunity import Floats
from ..sky import apparent_altitude_deg
from .merits import best_ever
from .opportunities import epoch_of, whole_minutes
from .prospect import Prospect
from .spans import asked_for, spans_of
from .windows import Windows, windows_of

_NO_ROUTINE = Routine(setup_min=0, dark_adaptation_min=0, move_min=0)
_HALF_DAY_S = 43200.0
_PALE = {
    Kind.DEEP_SKY: "too low or in too bright a sky",
    Kind.DOUBLE_STAR: "too low in unsteady air",
    Kind.VARIABLE_STAR: "too low or in too bright a sky",
    Kind.PLANET: "too low in unsteady air or too small",
    Kind.MOON_FEATURE: "with the Sun too high or too low over it, or the Moon too low,",
    Kind.MINOR_BODY: "too faint for the sky behind it",
    Kind.METEOR_SHOWER: "with too few meteors in too bright a sky or its radiant too low",
    Kind.ECLIPSE: "too little of the Moon in shadow or too low",
    Kind.EVENT: "too low",
}
_MOMENTS = {
    Kind.VARIABLE_STAR: "near its minima or maxima",
    Kind.METEOR_SHOWER: "near its peak",
    Kind.ECLIPSE: "during an eclipse",
    Kind.EVENT: "at the time of the event",
}
"""What limits the nights of targets with moments of their own."""


def reasons_of(
    prospect: Prospect,
    free: Sequence[FreeNight],
    routine: Routine,
    availability: Availability,
    opportunities: Opportunities,
    visits: Sequence[Visit],
    missing: Sequence[int],
) -> tuple[tuple[Reason, str], ...]:
    """Return the binding reason, and words for it, of each target (by position) in `missing`.

    Stages are tried from the sky inwards, and the first that leaves too little names the reason: the site,
    the distance from the Sun, darkness in the season, the observer's evenings, getting ready, the dates
    asked for, how well it shows; then clear skies, the spacing of visits, the limit on nights out, the cost
    of one. What passes them all met full nights.
    """
    offered = set(np.unique(opportunities.target).tolist())
    shut_out = [row for row in missing if row not in offered]
    hidden = prospect.only(shut_out)
    reasons = dict(zip(shut_out, _shut_out(hidden, free, routine), strict=True))
    for row in offered.intersection(missing):
        nights = [free[night] for night in np.unique(opportunities.night[opportunities.target == row])]
        reasons[row] = _crowded_out(prospect.targets[row], nights, availability, visits)
    return tuple(reasons[row] for row in missing)


def _crowded_out(
    target: Target, offered: Sequence[FreeNight], availability: Availability, visits: Sequence[Visit]
) -> tuple[Reason, str]:
    """Return why a target that shows on these free nights has too few visits."""
    suitable = [night.evening for night in offered if night.ever_clear]
    if not suitable:
        return Reason.NEVER_CLEAR, "by your clear odds it is never clear on the free nights on which it shows"
    if len(suitable) < target.visits:
        short = f"only {_many(len(suitable), 'suitable free night')} for the {target.visits} visits wanted"
        return Reason.TOO_FEW_NIGHTS, short
    most, gap = _most_visits(suitable, target), _gap(target)
    if most < target.visits:
        wanted = f"of the {target.visits} visits wanted, {gap} apart"
        return Reason.SPACING, f"its {len(suitable)} suitable free nights hold only {most} {wanted}"
    out = {visit.evening for visit in visits}
    own = [visit.evening for visit in visits if visit.target == target.name]
    left = [one for one in suitable if _most_visits(sorted([*own, one]), target) > len(own)]
    idle = [one for one in left or suitable if one not in out]
    limits = _limits_reached(availability, out, idle)
    if limits:
        return Reason.NIGHTS_LIMIT, f"one more night out for it would break your limit of {limits}"
    apart = f" {gap} from the visits it has" if own else ""
    if not left:
        reason = Reason.SPACING if idle else Reason.NIGHTS_FULL
        return reason, f"no suitable free night is{apart}, and moving them is not worth it"
    if any(one not in out for one in left):
        full = ", and the nights already spent outside are full" if out.intersection(left) else ""
        return Reason.NOT_ALONE, f"by itself it is not worth the effort of one more night out{full}"
    some = f"its one suitable free night{apart} is"
    if len(left) > 1:
        some = f"all its {len(left)} suitable free nights{apart} are"
    return Reason.NIGHTS_FULL, f"{some} full with what matters more"


def _gap(target: Target) -> str:
    """Return in words how far apart visits of a target are wanted."""
    least, most = target.spacing_days, target.longest_spacing_days
    if most is None:
        return f"at least {_many(least, 'day')}"
    return f"exactly {_many(least, 'day')}" if least == most else f"{least} to {most} days"


def _most_visits(evenings: Sequence[date], target: Target) -> int:
    """Return how many visits these evenings hold, in order, each as far from the last as wanted."""
    day = np.array([evening.toordinal() for evening in evenings])
    longest_days = target.longest_spacing_days or np.inf
    count = np.ones(len(day), np.int64)
    for here in range(1, len(day)):
        apart = day[here] - day[:here]
        allowed = (apart >= target.spacing_days) & (apart <= longest_days)
        count[here] += count[:here][allowed].max(initial=0)
    return int(count.max(initial=0))


def _limits_reached(availability: Availability, out: Collection[date], idle: Sequence[date]) -> str:
    """Return, in words, the limits that keep every one of these evenings from being spent outside too."""
    weeks = Counter(evening.isocalendar()[:2] for evening in out)
    months = Counter((evening.year, evening.month) for evening in out)
    a_week, a_month = availability.nights_per_week, availability.nights_per_month
    by_week = [a_week is not None and weeks[one.isocalendar()[:2]] >= a_week for one in idle]
    by_month = [a_month is not None and months[one.year, one.month] >= a_month for one in idle]
    if not all(week or month for week, month in zip(by_week, by_month, strict=True)):
        return ""
    limits = [f"{_many(a_week or 0, 'night')} a week"] if any(by_week) else []
    return " or ".join(limits + [f"{_many(a_month or 0, 'night')} a month"] * any(by_month))


def _shut_out(prospect: Prospect, free: Sequence[FreeNight], routine: Routine) -> list[tuple[Reason, str]]:
    """Return reasons of targets that have no opportunity at all."""
    if not prospect.targets:
        return []
    sky, undated = prospect.sky, prospect.undated
    # two days half a day apart: what stays up for up to 12 h lies whole in one of them
    day = sky.midnight_unix_s[:, None] + _HALF_DAY_S * np.array([-1.0, 1.0])
    days = day, day + _HALF_DAY_S
    dark = np.stack([sky.dark_start_unix_s, sky.dark_end_unix_s], axis=-1)
    twilit = np.stack([sky.twilit_start_unix_s, sky.twilit_end_unix_s], axis=-1)
    in_dark = _up(prospect, asked_for(undated, dark, twilit))
    up_then = np.isfinite(in_dark.start_unix_s[..., :1])
    evenings, ready = spans_of(undated, free, _NO_ROUTINE), spans_of(undated, free, routine)
    stages = [
        _longest(prospect, *(_up(prospect, np.broadcast_to(d, (len(up_then), *d.shape))) for d in days)),
        _longest(prospect, *(_up(prospect, asked_for(undated, d, d)) for d in days)),
        _longest(prospect, in_dark),
        _longest(prospect, _up(prospect, evenings)),
        _longest(prospect, _up(prospect, ready)),
        _longest(prospect, _up(prospect, spans_of(prospect, free, routine))),
    ]
    rooms = [
        _longest(prospect, Windows(*np.moveaxis(np.where(up_then, spans, np.nan)[..., None], 2, 0)))
        for spans in (evenings, ready)
    ]
    left, room = np.array(stages), np.array(rooms)
    return [_first_obstacle(prospect, row, left[..., row], room[..., row]) for row in range(len(up_then))]


def _first_obstacle(prospect: Prospect, row: int, left: Floats, room: Floats) -> tuple[Reason, str]:
    """Return the first stage that leaves too little of a target.

    Parameters
    ----------
    left : The longest stretch each stage leaves of it. (stages, 2) [s, whole min]
    room : The longest of the observer's evenings on nights when it is up, wherever it stands then, before
        and after getting ready. (2, 2) [s, whole min]
    """
    minutes = prospect.targets[row].minutes
    stages = _stages(prospect, row, over_before_ready=room[1, 0] <= 0.0)
    rooms_min = [np.inf, np.inf, np.inf, *room[:, 1].tolist(), np.inf]
    for (exact_s, whole_min), room_min, stage in zip(left.tolist(), rooms_min, stages, strict=True):
        if exact_s <= 0.0:
            return stage.reason, stage.never
        if whole_min < minutes:
            short = room_min < minutes
            dated = stage.reason in (Reason.OUTSIDE_DATES, Reason.WRONG_TIME)
            reason = Reason.EVENING_SHORT if short else stage.reason if dated else Reason.TOO_SHORT
            few = f"for at most {whole_min:.0f} whole min {'of your evening' if short else 'at a stretch'}"
            return reason, f"{stage.where} {few}; a visit takes {minutes}"
    return _not_shown(prospect, row)


def _not_shown(prospect: Prospect, row: int) -> tuple[Reason, str]:
    """Return why a target that stands high enough when wanted does not show."""
    target = prospect.targets[row]
    best = best_ever(prospect, row)
    if best < prospect.settings.least_merit:
        through = f"your {target.instrument}" if target.instrument else "anything you have"
        beyond = "too close a pair, or too faint," if target.kind is Kind.DOUBLE_STAR else "too faint"
        return Reason.NO_INSTRUMENT, f"{beyond} for {through} even overhead in the darkest sky your site has"
    return Reason.NOT_SHOWN, f"up when you are free, but {_PALE[target.kind]} to show well"


class _Stage(NamedTuple):
    """A stage's reason and words where it leaves nothing, and its words for where it leaves something."""

    reason: Reason
    never: str
    where: str


def _stages(prospect: Prospect, row: int, *, over_before_ready: bool) -> tuple[_Stage, ...]:
    """Return the stages of a target from the sky inwards; each allows less than the last."""
    target = prospect.targets[row]
    faint = target.kind.faint
    near_sun = not bool(prospect.safe[row].all())
    high = f"above {target.lowest_altitude_deg:g}°"
    here = "from here this season" if target.moves else "from here"
    then = f"{high} in darkness" if faint else f"{high} between dusk and dawn"
    then += " and clear of the Sun" * near_sun
    bright = "in daylight, in twilight or too near the Sun" if near_sun else "in daylight or twilight"
    ready = "set up and adapted to the dark" if faint else "set up"
    dates = f"between {target.earliest or 'the start'} and {target.latest or 'the end'}"
    timed = prospect.occasions.slot[row] >= 0
    dated = bool(target.earliest or target.latest)
    when = " ".join([*([_MOMENTS[target.kind]] if timed else []), *([dates] if dated or not timed else [])])
    last = Reason.WRONG_TIME if timed else Reason.OUTSIDE_DATES
    before_ready = Reason.NOT_WHEN_FREE, f"{then} on your evenings only before you are {ready}"
    if over_before_ready:
        before_ready = Reason.EVENING_SHORT, f"{then}, but your evening is over before you are {ready}"
    return (
        _Stage(Reason.NEVER_HIGH, f"never {high} {here}{_culmination(prospect, row)}", high),
        _Stage(Reason.NEAR_SUN, f"{high} only while too near the Sun", f"{high} and clear of the Sun"),
        _Stage(Reason.NOT_IN_SEASON, f"{high} only {bright} this season", then),
        _Stage(Reason.NOT_WHEN_FREE, f"{then}, but never while you are free", f"{then} while you are free"),
        _Stage(*before_ready, f"{then} once you are {ready}"),
        _Stage(last, f"never {then} {when} once you are {ready}", f"{then} {when} once you are {ready}"),
    )  # fmt: skip


def _culmination(prospect: Prospect, row: int) -> str:
    sky, declination_deg = prospect.sky, prospect.places.dec_of_date_deg[row]
    highest_deg = float((90.0 - np.abs(sky.site.latitude_deg - declination_deg)).max())
    seen_deg = float(apparent_altitude_deg(sky.site, highest_deg))
    if seen_deg <= 0.0:
        return ": it does not rise"
    if seen_deg < prospect.targets[row].lowest_altitude_deg:
        return f": it culminates at {highest_deg:.1f}°"
    return ": the horizon hides it"


def _up(prospect: Prospect, spans: Floats) -> Windows:
    """Return when targets stand high enough within spans (targets, nights, 2). [unix s]"""
    lowest_deg = prospect.lowest_altitude_deg
    return windows_of(prospect.sky, prospect.places, lowest_deg, spans[..., 0], spans[..., 1])


def _longest(prospect: Prospect, *several: Windows) -> Floats:
    """Return each target's longest window, 0 where none: (2, targets) [s, whole min]."""
    epoch_s, longest = epoch_of(prospect.sky).timestamp(), np.zeros((2, len(prospect.targets)))
    for windows in several:
        start_min, end_min = whole_minutes(windows, epoch_s)
        lengths = np.stack([windows.end_unix_s - windows.start_unix_s, end_min - start_min])
        longest = np.maximum(longest, np.nan_to_num(lengths).max(axis=(2, 3), initial=0.0))
    return longest


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
