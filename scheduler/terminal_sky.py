"""The sky in the terminal: what is up, the sky's own dates, and the Moon's diary month by month."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from .diary import Mark, MoonNight
from .domain import Darkness, Scenario, Site
from .domain.plan import direction_of
from .figures import percent
from .pointing import where_in_words
from .sky.apparitions import PlanetSeason
from .skydates import SkyDate
from .up import DARK_DEG, Overview, Up

BRIGHT_MAG = 1.6
FEW = 12
"""How many showpieces and targets are listed unless all are asked for."""
SUN_CAUTION = "Never point a telescope or binoculars near the Sun."
SUN_WORDS = f"The Sun is up: only the Moon is shown. {SUN_CAUTION}"
TWILIGHT_DEG = -6.0
TWILIGHT_WORDS = "The Sun is only just below the horizon: no sweeping near it."


def overview_shown(seen: Overview, everything: bool = False) -> RenderableType:
    """Return what is up as tables; `everything` lists also fainter stars and every target and showpiece."""
    local = seen.moment.astimezone(seen.site.local)
    parts: list[RenderableType] = [
        Text(
            f"{seen.site.name}, {local:%A} {local.day} {local:%B %Y}, {local:%H:%M}: {_light(seen)}",
            style="bold",
        )
    ]
    if seen.daylight:
        parts.append(Text(SUN_WORDS, style="yellow"))
    elif seen.sun_altitude_deg > TWILIGHT_DEG:
        parts.append(Text(TWILIGHT_WORDS, style="yellow"))
    parts.append(Text(_moon_words(seen)))
    if seen.daylight:
        return Group(*parts)
    parts += [Text(f"{_quarter(where)}: {', '.join(names)}") for where, names in seen.constellations]
    stars = [one for one in seen.stars if everything or (one.magnitude or 0.0) <= BRIGHT_MAG]
    lists = (
        ("Planets", seen.planets, "none of them shows"), ("Bright stars", stars, "none is out yet"),
        ("Your wish-list", seen.wishes, "nothing of it is high enough"),
        ("Showpieces", seen.showpieces, "none is high enough"),
        ("Double stars", seen.doubles, "none is high enough"),
    )  # fmt: skip
    for title, ups, none in lists if seen.sun_altitude_deg <= DARK_DEG else lists[:2]:
        shown = ups if everything else ups[:FEW]
        parts += [Text(), _table(title, shown) if shown else Text(f"{title}: {none}", style="dim")]
        if len(shown) < len(ups):
            parts.append(Text(f"and {len(ups) - len(shown)} more: --all lists them", style="dim"))
    return Group(*parts)


def _light(seen: Overview) -> str:
    below = f"the Sun {-seen.sun_altitude_deg:.0f}° down"
    if seen.daylight:
        return "daylight"
    if seen.sun_altitude_deg >= TWILIGHT_DEG:
        return f"bright twilight, {below}"
    return f"twilight, {below}" if seen.sun_altitude_deg >= -18.0 else "dark"


def _quarter(where: str) -> str:
    return "High up" if where == "high" else f"In the {where}"


def _moon_words(seen: Overview) -> str:
    night, moon = seen.moon_night, seen.moon
    clock = {
        word: f"{word} {when.astimezone(seen.site.local):%H:%M}"
        for word, when in (("rises", night.rise), ("sets", night.set))
        if when is not None and when > seen.moment
    }
    phase = f"Moon: {night.phase}, {percent(night.lit_fraction)} lit at midnight"
    if moon.altitude_deg < 0.0:
        return f"{phase}, below the horizon" + (f", {clock['rises']}" if "rises" in clock else "")
    where = where_in_words(moon.altitude_deg, moon.azimuth_deg)
    near = (
        f" It stands only {seen.moon_sun_deg:.0f}° from the Sun: leave it alone." if _too_near(seen) else ""
    )
    return (
        f"{phase}. {where}, in {moon.constellation}"
        + (f", {clock['sets']}" if "sets" in clock else "")
        + f".{near}"
    )


def _too_near(seen: Overview) -> bool:
    return seen.daylight and seen.moon_sun_deg < 20.0


def _table(title: str, ups: Sequence[Up]) -> Table:
    table = Table(
        title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, padding=(0, 1),
        header_style="dim", expand=False,
    )  # fmt: skip
    table.add_column("name", min_width=10)
    table.add_column("what")
    table.add_column("direction", no_wrap=True)
    table.add_column("height", no_wrap=True, min_width=13)
    table.add_column("mag", justify="right", no_wrap=True, min_width=4)
    for one in ups:
        table.add_row(
            one.name, f"{one.what} in {one.constellation}", direction_of(one.azimuth_deg),
            height_in_short(one.altitude_deg), "" if one.magnitude is None else f"{one.magnitude:z.1f}",
        )  # fmt: skip
    return table


def height_in_short(altitude_deg: float) -> str:
    """Return a height in degrees and in fists, short enough for a table.

    >>> height_in_short(44.0), height_in_short(9.6), height_in_short(4.0)
    ('44°, 4½ fists', '10°, 1 fist', '4°, 2 fingers')
    """
    halves = round(altitude_deg / 5.0)
    if altitude_deg < 7.5:
        return f"{altitude_deg:.0f}°, {altitude_deg / 2.0:.0f} fingers"
    return f"{altitude_deg:.0f}°, {halves // 2}{'½' * (halves % 2)} fist{'s' * (halves != 2)}"


def planets_shown(seasons: Sequence[PlanetSeason], scenario: Scenario) -> RenderableType:
    """Return the season of each planet in short lines, in order of time."""
    first, last = scenario.season.evenings[0], scenario.season.evenings[-1]
    span = f"{first.day} {first:%B %Y} to {last.day} {last:%B %Y}"
    table = Table(
        title=f"Planets at {scenario.site.name}, {span}", title_justify="left", title_style="bold", box=None,
        pad_edge=False, padding=(0, 1), show_header=False,
    )  # fmt: skip
    table.add_column(no_wrap=True, style="bold")
    table.add_column(ratio=1)
    for season in seasons:
        lines = "\n".join(f"{words[:1].upper()}{words[1:]}." for words in season.words)
        table.add_row(
            season.body.capitalize(),
            f"{lines}\nCounted while it stands {season.lowest_altitude_deg:.0f}° high or higher.\n",
        )
    return Group(table, Text(SUN_CAUTION, style="yellow"))


def dates_shown(dates: Sequence[SkyDate], site: Site) -> RenderableType:
    """Return the sky's own dates, a row each; a time of the clock where one lasts part of a night."""
    table = Table(
        title=f"The sky's dates at {site.name}", title_justify="left", title_style="bold", box=None,
        pad_edge=False, padding=(0, 1), show_header=False,
    )  # fmt: skip
    table.add_column(no_wrap=True, min_width=15)
    table.add_column(no_wrap=True, min_width=14)
    table.add_column(ratio=1)
    for one in dates:
        start, end = (f"{moment.astimezone(site.local):%H:%M}" for moment in (one.start, one.end))
        told = Text(one.title, style="bold").append("\n" + "\n".join(one.lines) + "\n", style="not bold")
        day = f"{one.day:%a} {one.day.day} {one.day:%b %Y}"
        table.add_row(day, "" if one.whole_day else f"{start} to {end}", told)
    return table


def diary_shown(diary: Sequence[MoonNight], site: Site) -> RenderableType:
    """Return the Moon's diary, a block a month: phases, then runs of nights that the Moon leaves alike."""
    months = groupby(diary, key=lambda one: (one.evening.year, one.evening.month))
    return Group(*(part for _, nights in months for part in _month(tuple(nights), site)))


def _month(nights: Sequence[MoonNight], site: Site) -> Iterator[RenderableType]:
    first = nights[0].evening
    principal = [n for n in nights if "Moon" in n.phase or "quarter" in n.phase]
    phases = "evenings of " + ", ".join(f"{n.phase} {n.evening.day}" for n in principal) if principal else ""
    moonless_h = sum(night.moonless_min for night in nights) / 60.0
    dark_h = sum(night.dark.minutes for night in nights if night.dark) / 60.0
    yield Text(f"{first:%B %Y}", style="bold").append(f"  {phases}", style="not bold")
    table = Table(box=None, pad_edge=False, padding=(0, 1), show_header=False)
    table.add_column(no_wrap=True, min_width=9)
    table.add_column(no_wrap=True, min_width=18)
    table.add_column()
    for mark, run in groupby(nights, key=lambda night: night.mark):
        alike = tuple(run)
        days = f"{alike[0].evening.day}" + (f" to {alike[-1].evening.day}" if len(alike) > 1 else "")
        table.add_row(days, mark.value, _crossing_words(mark, alike, site))
    yield table
    pale = sum(1 for night in nights if night.dark and night.darkness is not Darkness.NIGHT)
    of_twilight = (
        f"; on {pale} of {len(nights)} nights it stays twilight, and that counts as dark" if pale else ""
    )
    yield Text(f"{moonless_h:.0f} of {dark_h:.0f} dark hours are moonless{of_twilight}", style="dim")
    yield Text()


def _crossing_words(mark: Mark, nights: Sequence[MoonNight], site: Site) -> str:
    """Return from when to when the Moon sets or rises over a run of nights."""
    if mark not in (Mark.SETS_EARLY, Mark.RISES_LATE):
        return ""
    sets = mark is Mark.SETS_EARLY
    moments = [night.set if sets else night.rise for night in nights]
    clocks = [f"{moment.astimezone(site.local):%H:%M}" for moment in moments if moment is not None]
    if not clocks:
        return ""
    times = clocks[0] if len(clocks) == 1 else f"{clocks[0]} on the first, {clocks[-1]} on the last"
    return f"{'sets' if sets else 'rises'} {times}"
