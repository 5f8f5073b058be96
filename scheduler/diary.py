"""The Moon's diary: what she does on every night, and when she leaves the night dark.

What counts as setting early or rising late is our judgement, no source: `EARLY_MIN` minutes or half of the
dark window without her.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from math import ceil

from .cells import csv_of
from .clock import clock_of
from .domain import Darkness, Night, Site, Span
from .figures import hours, percent

EARLY_MIN = 120.0
HALF = 0.5
NEARLY = 0.05
"""Share of the dark window in which the Moon may be up on a moonless night, or down on a moonlit one."""

DAILY_DEG = 12.19
"""How far the Moon draws away from the Sun in a day, on average; for a night without neighbours. [deg]"""

DAY_S = 86400.0

_PRINCIPAL = ("new Moon", "first quarter", "full Moon", "last quarter")
_BETWEEN = ("waxing crescent", "waxing gibbous", "waning gibbous", "waning crescent")

MOON_COLUMNS = (
    "evening", "weekday", "phase", "lit_fraction", "rise_local", "set_local", "dark_start_local",
    "dark_end_local", "dark_min", "moonless_min", "mark", "darkness",
)  # fmt: skip


class Mark(StrEnum):
    """What the Moon leaves of the dark window."""

    MOONLESS = "moonless"
    SETS_EARLY = "sets early"
    RISES_LATE = "rises late"
    MOONLIT = "moonlit all night"
    IN_PART = "moonlit in part"
    NO_DARKNESS = "no darkness"


@dataclass(frozen=True, slots=True)
class MoonNight:
    """The Moon from one local noon to the next.

    Attributes
    ----------
    evening : The night's name.
    phase : In words; a principal phase on the night whose middle is nearest to its instant.
    lit_fraction : Lit part of the disc in the middle of the night. [0..1]
    rise, set : When her upper limb crosses the ideal horizon; None where it does not that night.
    dark : The dark window; None where there is none.
    moonless_min : Minutes of it with the Moon down. [min]
    mark : What she leaves of it.
    darkness : How dark the dark window is.
    """

    evening: date
    phase: str
    lit_fraction: float
    rise: datetime | None
    set: datetime | None
    dark: Span | None
    moonless_min: float
    mark: Mark
    darkness: Darkness


def diary_of(nights: Sequence[Night], site: Site) -> tuple[MoonNight, ...]:
    """Return the Moon on each night, in order of the evenings."""
    ordered = sorted(nights, key=lambda night: night.evening)
    return tuple(
        MoonNight(
            night.evening, phase, night.moon_lit_fraction, *_crossings(night, site), night.dark,
            night.moonless_min, mark_of(night), night.darkness,
        )
        for night, phase in zip(ordered, _phases(ordered), strict=True)
    )  # fmt: skip


def moon_on(night: Night, diary: Sequence[Night], site: Site) -> MoonNight:
    """Return the Moon on one night, her phase as the diary of the nights around it has it."""
    around = [one for one in diary if abs(one.evening - night.evening) == timedelta(days=1)]
    return next(moon for moon in diary_of([*around, night], site) if moon.evening == night.evening)


def moon_words(moon: MoonNight, twilit: Span | None, home: Site) -> str:
    """Return what the Moon does between dusk and dawn, and how much of the dark window she leaves.

    Parameters
    ----------
    twilit : From the end of civil dusk to the start of civil dawn; None where it stays up.
    home : By whose clock times are told.
    """
    crossings = sorted((when, word) for when, word in ((moon.rise, "rises"), (moon.set, "sets")) if when)
    seen = [
        f"{word} {clock_of(when, home.local)}"
        for when, word in crossings
        if twilit and twilit.start < when < twilit.end
    ]
    words = ", ".join([f"Moon: {moon.phase}, {percent(moon.lit_fraction)} lit at midnight", *seen])
    return f"{words}; {_left_dark(moon.moonless_min, moon.dark.minutes if moon.dark else 0.0)}"


def _left_dark(moonless_min: float, dark_min: float) -> str:
    """Return what the Moon leaves of the dark.

    Examples
    --------
    >>> for left_min, dark_min in ((430.0, 430.0), (200.0, 430.0), (0.0, 430.0), (0.0, 0.0)):
    ...     print(_left_dark(left_min, dark_min))
    the 7 h 10 min of dark are moonless
    3 h 20 min of the 7 h 10 min of dark are moonless
    none of the 7 h 10 min of dark is moonless
    it does not get dark
    """
    moonless, dark = round(moonless_min), round(dark_min)
    if not dark:
        return "it does not get dark"
    if not moonless:
        return f"none of the {hours(dark)} of dark is moonless"
    part = "" if moonless >= dark else f"{hours(moonless)} of "
    return f"{part}the {hours(dark)} of dark are moonless"


def moon_csv(nights: Sequence[Night], site: Site) -> str:
    """Return the Moon's diary as CSV (RFC 4180, UTF-8): a row a night, times of the site's clock."""

    def local(moment: datetime | None) -> str:
        return "" if moment is None else moment.astimezone(site.local).strftime("%Y-%m-%d %H:%M")

    rows = []
    for one in diary_of(nights, site):
        begins, ends = (one.dark.start, one.dark.end) if one.dark else (None, None)
        rows.append((
            one.evening.isoformat(), one.evening.strftime("%a"), one.phase, f"{one.lit_fraction:.2f}",
            local(one.rise), local(one.set), local(begins), local(ends),
            f"{one.dark.minutes if one.dark else 0:.0f}", f"{one.moonless_min:.0f}", one.mark.value,
            one.darkness.value if one.dark else "",
        ))  # fmt: skip
    return csv_of(MOON_COLUMNS, rows)


def mark_of(night: Night) -> Mark:
    """Return what the Moon leaves of a night's dark window.

    A stretch without her at its end makes her set early, one at its beginning rise late, if it lasts
    `EARLY_MIN` or `HALF` of the window; where both do, the longer one names the night.
    """
    dark = night.dark
    if dark is None:
        return Mark.NO_DARKNESS
    if night.moonless_min >= (1.0 - NEARLY) * dark.minutes:
        return Mark.MOONLESS
    if night.moonless_min <= NEARLY * dark.minutes:
        return Mark.MOONLIT
    lit = [shared for span in night.moon_up if (shared := span.meet(dark))]
    before = (lit[0].start - dark.start) / timedelta(minutes=1)
    after = (dark.end - lit[-1].end) / timedelta(minutes=1)
    if max(before, after) < min(EARLY_MIN, HALF * dark.minutes):
        return Mark.IN_PART
    return Mark.SETS_EARLY if after >= before else Mark.RISES_LATE


def _crossings(night: Night, site: Site) -> tuple[datetime | None, datetime | None]:
    """Return rise and set: the ends of the spans that are not the ends of the night."""
    rises = [span.start for span in night.moon_up if not _is_noon(span.start, site)]
    sets = [span.end for span in night.moon_up if not _is_noon(span.end, site)]
    return (rises[0] if rises else None), (sets[-1] if sets else None)


def _is_noon(moment: datetime, site: Site) -> bool:
    """Tell whether a night begins or ends then: at noon of the clock, or of the mean Sun far off it."""
    clock = moment.astimezone(site.local).replace(tzinfo=UTC).timestamp()
    mean_sun = moment.timestamp() + 240.0 * site.longitude_deg
    return any(abs(seconds % DAY_S - 0.5 * DAY_S) < 1e-3 for seconds in (clock, mean_sun))


def _phases(nights: Sequence[Night]) -> Iterator[str]:
    """Yield the phase of each night, whose order is that of the evenings.

    The elongation is read from the phase angle, which the Moon's latitude keeps off 0 and 180 degrees: a
    phase within about half an hour of the middle between two midnights may fall on the other one.
    """
    elongations_deg = [
        180.0 - n.moon_phase_angle_deg if n.moon_waxing else 180.0 + n.moon_phase_angle_deg for n in nights
    ]
    steps_deg = [
        (later - earlier) % 360.0 if after.evening - before.evening == timedelta(days=1) else None
        for before, after, earlier, later in zip(
            nights, nights[1:], elongations_deg, elongations_deg[1:], strict=False
        )
    ]
    for at, elongation_deg in enumerate(elongations_deg):
        to_next_deg = steps_deg[at] if at < len(steps_deg) else None
        from_last_deg = steps_deg[at - 1] if at else None
        low_deg = elongation_deg - 0.5 * (from_last_deg or to_next_deg or DAILY_DEG)
        high_deg = elongation_deg + 0.5 * (to_next_deg or from_last_deg or DAILY_DEG)
        quarter = ceil(low_deg / 90.0)
        yield _PRINCIPAL[quarter % 4] if 90.0 * quarter < high_deg else _BETWEEN[(quarter - 1) % 4]
