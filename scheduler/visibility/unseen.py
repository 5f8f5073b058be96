"""Why a target has no visit, or too few: the first thing that stands in the way, in words."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from typing import NamedTuple

import numpy as np

from ..domain import (
    JUPITER,
    TELESCOPE,
    Availability,
    FreeNight,
    Kind,
    Opportunities,
    Outcome,
    Reason,
    Routine,
    Target,
    Visit,
)
from ..domain.opportunity import Floats
from ..sky import apparent_altitude_deg
from ..sky.ephemeris import moment_of
from .crowded import crowded_out
from .culmination import HIGH_DEG, best_on_high, culminations_deg
from .merits import best_ever
from .opportunities import epoch_of, opportunities_of, whole_minutes
from .prospect import Prospect
from .spans import asked_for, spans_of
from .windows import Windows, windows_of
from .words import eclipse_words

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
_WORTH_ASKING_MIN = 5
"""Where at least so long a look is left, asking for a shorter one is advised (our judgement). [min]"""
_NO_SHOWPIECE = "shows only on your guests' evenings, and not well enough, or not for long enough, for them"
_MOMENTS = {
    Kind.VARIABLE_STAR: "near its minima or maxima",
    Kind.METEOR_SHOWER: "near its peak",
    Kind.ECLIPSE: "while an eclipse shows",
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
    log: Sequence[Outcome] = (),
    away: frozenset[date] = frozenset(),
) -> tuple[tuple[Reason, str], ...]:
    """Return the binding reason, and words for it, of each target (by position) in `missing`.

    Stages are tried from the sky inwards, and the first that leaves too little names the reason: the site,
    the distance from the Sun, darkness in the season, the observer's evenings, getting ready, the dates
    asked for, how well it shows; then clear skies, the spacing of visits, the limit on nights out, the cost
    of one. What passes them all met full nights. `away` are the evenings planned away from home.
    """
    of_visits, at_home = ~opportunities.standby_only, [night for night in free if night.trip is None]
    offered = set(np.unique(opportunities.target[of_visits]).tolist())
    reasons: dict[int, tuple[Reason, str]] = {}
    for who in {target.observer for target in prospect.targets}:
        shut_out = [row for row in missing if row not in offered and prospect.targets[row].observer == who]
        nights = [night for night in at_home if night.has(who)]
        found = _shut_out(prospect.only(shut_out), nights, routine)
        only = f"; only evenings with {who} count" if who else ""
        reasons |= {row: (why, words + only) for row, (why, words) in zip(shut_out, found, strict=True)}
    if len(at_home) < len(free):
        reasons = {row: (reason, f"{words}; nor on a trip") for row, (reason, words) in reasons.items()}
    for row in offered.intersection(missing):
        own = (opportunities.target == row) & of_visits
        nights = [free[night] for night in np.unique(opportunities.night[own])]
        crowded = crowded_out(prospect.targets[row], nights, availability, visits, log, away)
        reasons[row] = _with_eclipse(prospect, row, *crowded)
    return tuple(reasons[row] for row in missing)


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
    with_guests = _shown_without_guests(prospect, free, routine)
    rooms = [
        _longest(prospect, Windows(*np.moveaxis(np.where(up_then, spans, np.nan)[..., None], 2, 0)))
        for spans in (evenings, ready)
    ]
    left, room = np.array(stages), np.array(rooms)
    moments_min = _longest(prospect, _up(prospect, asked_for(prospect, dark, twilit)))[1]
    return [
        (Reason.NOT_SHOWN, _NO_SHOWPIECE) if row in with_guests
        else _with_eclipse(prospect, row, *_first_obstacle(
            prospect, row, left[..., row], room[..., row], moments_min[row], _taken(prospect, row, free)
        ))
        for row in range(len(up_then))
    ]  # fmt: skip


def _shown_without_guests(prospect: Prospect, free: Sequence[FreeNight], routine: Routine) -> Collection[int]:
    """Return the targets, of those without an opportunity, that only the guests' evenings leave out."""
    if not any(night.guests for night in free):
        return ()
    return frozenset(opportunities_of(prospect, free, routine).target.tolist())


def _taken(prospect: Prospect, row: int, free: Sequence[FreeNight]) -> str:
    """Return in words that a target's moments all come on evenings that are not free; else nothing."""
    slot = prospect.occasions.slot[row]
    if slot < 0:
        return ""
    evenings = [
        evening
        for evening, span_s in zip(prospect.sky.evenings, prospect.occasions.span_unix_s[slot], strict=True)
        if np.isfinite(span_s).all()
    ]
    if not evenings or not {night.evening for night in free}.isdisjoint(evenings):
        return ""
    one = len(evenings) == 1
    named = "its evening" if one else f"its {len(evenings)} evenings, the first"
    return f"{named}, {evenings[0]}, {'is not one' if one else 'are none'} of your free evenings"


def _first_obstacle(
    prospect: Prospect, row: int, left: Floats, room: Floats, moment_min: float, taken: str
) -> tuple[Reason, str]:
    """Return the first stage that leaves too little of a target.

    Parameters
    ----------
    left : The longest stretch each stage leaves of it. (stages, 2) [s, whole min]
    room : The longest of the observer's evenings on nights when it is up, wherever it stands then, before
        and after getting ready. (2, 2) [s, whole min]
    moment_min : The longest of it from dusk to dawn, on whatever night, as its dates and moments have it.
    """
    minutes = prospect.targets[row].minutes
    stages = _stages(prospect, row, over_before_ready=room[1, 0] <= 0.0)
    evening_cuts = prospect.occasions.slot[row] >= 0 and moment_min >= minutes
    cut_min = 0.0 if evening_cuts else np.inf
    rooms_min = [np.inf, np.inf, np.inf, *room[:, 1].tolist(), cut_min]
    for (exact_s, whole_min), room_min, stage in zip(left.tolist(), rooms_min, stages, strict=True):
        if exact_s <= 0.0:
            unfree = taken and stage.reason is Reason.WRONG_TIME
            return (Reason.NOT_WHEN_FREE, taken) if unfree else (stage.reason, stage.never)
        if whole_min < minutes:
            short = room_min < minutes
            dated = stage.reason in (Reason.OUTSIDE_DATES, Reason.WRONG_TIME)
            reason = Reason.EVENING_SHORT if short else stage.reason if dated else Reason.TOO_SHORT
            few = f"at most {whole_min:.0f} min {'of your evening' if short else 'at a stretch'}"
            advice = ": ask for fewer minutes" if whole_min >= _WORTH_ASKING_MIN else ""
            return reason, f"{few} {stage.where}; a visit takes {minutes}{advice}"
    return _not_shown(prospect, row)


def _not_shown(prospect: Prospect, row: int) -> tuple[Reason, str]:
    """Return why a target that stands high enough when wanted does not show."""
    target = prospect.targets[row]
    if not prospect.usable[row]:
        asked = f"a {target.instrument}" if target.instrument == TELESCOPE else str(target.instrument)
        return Reason.NO_INSTRUMENT, f"asks for {asked}, and nobody has that to look through"
    through = f"your {target.instrument}" if target.instrument else "anything you have"
    beyond = "too close a pair, or too faint," if target.kind is Kind.DOUBLE_STAR else "too faint"
    if best_ever(prospect, row) < prospect.settings.least_merit:
        if target.kind in (Kind.MOON_FEATURE, Kind.ECLIPSE):
            return Reason.NO_INSTRUMENT, f"too fine a detail for {through}"
        return Reason.NO_INSTRUMENT, f"{beyond} for {through} even overhead in the darkest sky your site has"
    highest_deg = float(culminations_deg(prospect, row).max())
    if highest_deg >= HIGH_DEG and best_on_high(prospect, row) < prospect.settings.least_merit:
        high = f"even at its highest, {highest_deg:.0f}° up, in the darkest sky your site has"
        return Reason.NO_INSTRUMENT, f"{beyond} for {through} {high}"
    pale = _PALE[Kind.PLANET if _on_jupiter(target) else target.kind]
    return Reason.NOT_SHOWN, f"up when you are free, but {pale} to show well"


def _with_eclipse(prospect: Prospect, row: int, reason: Reason, words: str) -> tuple[Reason, str]:
    """Return a reason with the Moon's eclipses that show from here named in it, or that none does."""
    if not _of_the_moon(prospect.targets[row]):
        return reason, words
    one, sky = prospect.only([row]), prospect.sky
    twilit = np.stack([sky.twilit_start_unix_s, sky.twilit_end_unix_s], axis=-1)
    shown = np.isfinite(_up(one, asked_for(one, twilit, twilit)).start_unix_s[0]).any(axis=-1)
    if not shown.any():
        target = prospect.targets[row]
        dated = " between the dates asked for" if target.earliest or target.latest else " in this season"
        high = f"above {target.lowest_altitude_deg:g}° between dusk and dawn"
        return Reason.WRONG_TIME, f"no eclipse of the Moon shows from here{dated}, {high}"
    greatest = (moment_of(unix_s) for unix_s in one.occasions.peak_unix_s[0, shown].tolist())
    named = "; ".join(eclipse_words(moment, sky.site.local) for moment in greatest)
    return reason, f"{named}: {words}"


def _of_the_moon(target: Target) -> bool:
    return target.kind is Kind.ECLIPSE and target.body != JUPITER


def _on_jupiter(target: Target) -> bool:
    return target.kind is Kind.ECLIPSE and target.body == JUPITER


class _Stage(NamedTuple):
    """A stage's reason and words where it leaves nothing, and its words for where it leaves something."""

    reason: Reason
    never: str
    where: str


def _stages(prospect: Prospect, row: int, *, over_before_ready: bool) -> tuple[_Stage, ...]:
    """Return the stages of a target from the sky inwards; each allows less than the last."""
    target = prospect.targets[row]
    faint = target.kind.faint
    near_sun = not bool(prospect.safe[row].all()) and not _of_the_moon(target)
    high = f"above {target.lowest_altitude_deg:g}°"
    here = "from here this season" if target.moves else "from here"
    then = f"{high} in darkness" if faint else f"{high} between dusk and dawn"
    then += " and clear of the Sun" * near_sun
    bright = "in daylight, in twilight or too near the Sun" if near_sun else "in daylight or twilight"
    ready = "set up and adapted to the dark" if faint else "set up"
    dates = f"between {target.earliest or 'the start'} and {target.latest or 'the end'}"
    timed = prospect.occasions.slot[row] >= 0
    dated = bool(target.earliest or target.latest)
    moments = "while a shadow crosses its disc" if _on_jupiter(target) else _MOMENTS.get(target.kind, "")
    when = " ".join([*([moments] if timed else []), *([dates] if dated or not timed else [])])
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
    highest_deg = float(culminations_deg(prospect, row).max())
    seen_deg = float(apparent_altitude_deg(prospect.sky.site, highest_deg))
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
