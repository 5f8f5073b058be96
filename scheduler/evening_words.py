"""A night in words, as terminal, calendar and page tell of it alike.

What a merit is called is our judgement, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from .clock import clock_change_words, clock_of
from .diary import moon_on, moon_words
from .domain import (
    NAKED_EYE,
    Darkness,
    Extended,
    FreeNight,
    Kind,
    LightCurve,
    MoonFeature,
    Orbit,
    Pair,
    Plan,
    Sight,
    Site,
    Span,
    Target,
    View,
    Visit,
)
from .domain.target import full_name
from .figures import hours, percent
from .practice import Briefing, Reminder

SIGHTS: Mapping[float, str] = {
    0.85: "a fine sight", 0.6: "a good sight", 0.35: "a modest sight", 0.0: "a hard one: take your time",
}  # fmt: skip
"""What a sight of at least so much merit is called."""
WIDE_ARCMIN, NARROW_ARCMIN = 90.0, 1.0
"""Sizes from the first on are told in degrees, below the second in arcseconds. [arcmin]"""

USEFUL_FIRST = "What to look at, most useful first"
"""Heading of a night in hand: in order of what the plan gains, which need not be the finest sight first."""
TO_TAKE, DEW, CARE = "To take", "Dew and cold", "Take care"
"""Headings of what a night needs beside its programme."""


def clock(plan: Plan, moment: datetime) -> str:
    """Return the time of a moment by the clock of home, as in "21:05"; "01:30 GMT" where it comes twice."""
    return clock_of(moment, plan.site.local)


def sort_of(free: FreeNight) -> str:
    """Return what sort of night it is, as in "Night with guests"."""
    if free.club:
        return "Club night"
    if free.guests:
        return "Night with guests"
    return f"Trip to {free.away}" if free.away else "Night out"


def night_words(free: FreeNight, *, planned: bool) -> str:
    """Return what sort of night it is; one without a programme, guests or company is a night in hand."""
    sort = sort_of(free)
    return sort if planned or free.guests or free.club or free.away else "Night in hand"


def out_words(plan: Plan, outing: Span) -> str:
    """Return from when to when one is out."""
    return f"out from {clock(plan, outing.start)} to {clock(plan, outing.end)}"


def company_words(plan: Plan, free: FreeNight) -> str:
    """Return who comes along; nothing where that goes without saying."""
    if not free.observers and not free.club:
        return ""
    return f"with {' and '.join(plan.coming_on(free))}{' (club night)' if free.club else ''}"


def drive_words(plan: Plan, briefing: Briefing) -> str:
    """Return when to leave home and when one is back; nothing of a night at home."""
    if not briefing.drives:
        return ""
    there, back = briefing.drives
    return f"leave home at {clock(plan, there.start)}, back about {clock(plan, back.end)}"


def changed_clock_words(plan: Plan, free: FreeNight) -> str:
    """Return how the clocks of home change in a night; nothing where they do not."""
    return sentence(clock_change_words(free.evening, plan.site.local))


def sky_words(plan: Plan, free: FreeNight) -> tuple[str, str]:
    """Return what the Moon does, and when and how dark it gets with the odds of a clear sky."""
    moon = moon_on(free.night, plan.diary, plan.site_of(free.evening))
    dark = dark_words(free, plan.site)
    odds = f"{dark}; clear odds {percent(free.clear_odds)}" if free.night.dark else f"{dark}."
    return moon_words(moon, free.night.twilit, plan.site), odds


def dark_words(free: FreeNight, home: Site) -> str:
    """Return when a night is darkest, by the clock of home; what twilight is left, and what is free of it."""
    if free.night.dark is None:
        return "It does not get dark"
    begin, end = (clock_of(moment, home.local) for moment in (free.night.dark.start, free.night.dark.end))
    left = "" if free.night.darkness is Darkness.NIGHT else f", in {free.night.darkness.value}"
    return f"Darkest from {begin} to {end}{left}{_free_of_it(free)}"


def _free_of_it(free: FreeNight) -> str:
    """Return how much of the dark lies in the observer's evening, and what the Moon leaves of that."""
    dark_min, moonless_min = round(free.dark.minutes) if free.dark else 0, round(free.moonless_min)
    if free.night.dark is None or dark_min >= round(free.night.dark.minutes):
        return ""
    if not dark_min:
        return "; none of it while you are free"
    part = "moonless" if moonless_min >= dark_min else f"{hours(moonless_min)} of them moonless"
    return f"; {hours(dark_min)} of it while you are free, {part if moonless_min else 'in moonlight'}"


def in_hand_words(free: FreeNight) -> str:
    """Return what a night without visits is good for."""
    if free.guests:
        return "Nothing is planned: show your guests what you like of what shows."
    return "Nothing is planned: a night in hand, should another be clouded out."


def standbys_heading(*, planned: bool) -> str:
    """Return what stands over the standbys of a night with a programme, or without one."""
    return "If time is left or a visit fails" if planned else USEFUL_FIRST


def guests_heading(free: FreeNight) -> str:
    """Return what stands over the minutes each guest has."""
    return "Minutes for the guest" if free.guests == 1 else f"Minutes for each of {free.guests} guests"


def guests_words(briefing: Briefing) -> str:
    """Return how long each guest has at each target, as in "Jupiter 3.0, M 42 4.0"."""
    return ", ".join(f"{name} {minutes:.1f}" for name, minutes in briefing.guest_minutes)


def programme_of(plan: Plan, evening: date, briefing: Briefing) -> tuple[Visit | Reminder, ...]:
    """Return visits and reminders by time; of one minute, the reminder comes first."""
    lines: list[tuple[datetime, int, Visit | Reminder]] = [(one.at, 0, one) for one in briefing.reminders]
    lines += [(visit.time.start, 1, visit) for visit in plan.visits if visit.evening == evening]
    return tuple(one for *_, one in sorted(lines, key=lambda line: line[:2]))


def titled(target: Target) -> str:
    """Return a target by its names and what it is, as in "M 33, Triangulum Galaxy (galaxy)"."""
    return f"{full_name(target.name, target.also_known_as)} ({what_of(target)})"


def what_of(target: Target) -> str:
    """Return what a target is, as in "globular cluster"."""
    return str(getattr(target.nature, "what", target.kind.value))


def view_in_words(view: View) -> str:
    """Return what to look through and why, as one or two sentences."""
    if view.instrument == NAKED_EYE:
        return f"{through_words(view)}: {view.why}."
    return f"{through_words(view)}. {sentence(view.why)}"


def through_words(view: View) -> str:
    """Return what to look through."""
    if view.instrument == NAKED_EYE:
        return "With the naked eye"
    through = [view.instrument]
    if view.eyepiece:
        through.append(f"{view.eyepiece}{' with Barlow' if view.barlow else ''}")
    if view.filter:
        through.append(view.filter if "filter" in view.filter.casefold() else f"{view.filter} filter")
    words = f"{', '.join(through)}: {view.magnification:.0f} times, field {view.true_field_deg:.1f}°"
    pupil = "" if "exit pupil" in view.why else f", exit pupil {view.exit_pupil_mm:.1f} mm"
    return f"{words}{pupil}"


def sentence(words: str) -> str:
    """Return words as a sentence of their own; nothing of none.

    >>> sentence("lowest power"), sentence("As asked for."), sentence("")
    ('Lowest power.', 'As asked for.', '')
    """
    return f"{words[:1].upper()}{words[1:].removesuffix('.')}." if words else ""


def sight_words(merit: float) -> str:
    """Return what a sight of this merit is called."""
    return next(words for least, words in SIGHTS.items() if merit >= least)


def expect_words(target: Target, sight: Sight) -> str:
    """Return what to expect: where among the stars, how good a sight, how bright and how large."""
    told = f"In {sight.constellation}", sight_words(sight.merit), figures_words(target)
    return "; ".join(filter(None, told))


def why_words(why: str) -> tuple[str, str]:
    """Return why a target is looked at then: what is true of the evening, and how it compares with others.

    >>> why_words("shows at its best from here; Moon down; 36 later free nights as good")
    ('Moon down', 'shows at its best from here; 36 later free nights as good')
    """
    parts = why.split("; ")
    others = [
        part for part in parts if "of its best" in part or "at its best" in part or "later free" in part
    ]
    return "; ".join(part for part in parts if part not in others), "; ".join(others)


def occasion_words(target: Target, why: str) -> str:
    """Return when a target's own moment is and what it brings, of a minimum, a maximum or an eclipse.

    Examples
    --------
    >>> from .domain import Kind
    >>> eclipse = Target("Lunar eclipse", Kind.ECLIPSE, body="moon")
    >>> occasion_words(eclipse, "shows at its best from here; total eclipse in the night of ...; ...")
    'total eclipse in the night of ...'
    """
    nature = target.nature
    keeps_time = isinstance(nature, LightCurve) and nature.period_d is not None
    told = [part for part in why_words(why)[0].split("; ") if part]
    return told[0] if told and (keeps_time or target.kind is Kind.ECLIPSE) else ""


def figures_words(target: Target) -> str:
    """Return a target's brightness and size as catalogues have them; nothing where they have none.

    Examples
    --------
    >>> from .domain import Kind
    >>> figures_words(Target("M 31", Kind.DEEP_SKY, 10.7, 41.3, magnitude=3.44, size_arcmin=177.8,
    ...     nature=Extended("galaxy", 69.7)))
    '3.4 mag, 3.0° by 1.2°'
    >>> figures_words(Target("Albireo", Kind.DOUBLE_STAR, 292.7, 28.0, nature=Pair(3.2, 4.7, 34.6, 54.0)))
    '3.2 and 4.7 mag, 34.6″ apart, the fainter one at 54°'
    >>> figures_words(Target("Saturn", Kind.PLANET, body="saturn"))
    ''
    """
    nature = target.nature
    if isinstance(nature, Pair):
        told = (
            f"{nature.bright_mag:.1f} and {nature.faint_mag:.1f} mag, {nature.separation_arcsec:.1f}″ apart"
        )
        angle_deg = nature.position_angle_deg
        return told if angle_deg is None else f"{told}, the fainter one at {angle_deg:.0f}°"
    if isinstance(nature, LightCurve):
        return f"from {nature.brightest_mag:.1f} to {nature.faintest_mag:.1f} mag"
    if isinstance(nature, MoonFeature):
        return f"{nature.size_km:.0f} km across"
    bright = [] if target.magnitude is None else [f"{target.magnitude:z.1f} mag"]
    long_arcmin = nature.size_arcmin if isinstance(nature, Orbit) else target.size_arcmin
    short_arcmin = nature.minor_arcmin if isinstance(nature, Extended) else None
    return ", ".join([*bright, *_size_words(long_arcmin, short_arcmin)])


def _size_words(long_arcmin: float | None, short_arcmin: float | None) -> tuple[str, ...]:
    if not long_arcmin:
        return ()
    unit, sign, digits = 1.0, "′", 0
    if long_arcmin >= WIDE_ARCMIN:
        unit, sign, digits = 60.0, "°", 1
    elif long_arcmin < NARROW_ARCMIN:
        unit, sign = 1.0 / 60.0, "″"
    elif long_arcmin < 10.0 * NARROW_ARCMIN:
        digits = 1
    sides = [long_arcmin] if short_arcmin is None else [long_arcmin, short_arcmin]
    return (" by ".join(f"{side / unit:.{digits}f}{sign}" for side in sides),)
