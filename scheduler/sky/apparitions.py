"""The season of each planet: when it comes back, its best weeks, when daylight takes it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .ephemeris import Floats
from .events import INNER, Event, EventKind, greatest_elongations_of, oppositions_of
from .planet_nights import Flags, PlanetNights, planet_nights_of
from .season import SeasonSky

Ints = NDArray[np.int64]

_NEARLY_BEST = 0.9
"""Best weeks: disc times sine of altitude within a tenth of the best (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Best:
    """A planet's best weeks, and the best night among them.

    Attributes
    ----------
    mornings : Whether it is then a planet of the morning: the dates are those of mornings, else of evenings.
    first, last, night : By local date.
    altitude_deg : How high it gets on the best night, before the usual finish where it can. [deg]
    disc_arcsec, magnitude : How it looks then. [arcsec, mag]
    """

    mornings: bool
    first: date
    last: date
    night: date
    altitude_deg: float
    disc_arcsec: float
    magnitude: float


@dataclass(frozen=True, slots=True)
class Apparition:
    """A planet's stay in the night sky between conjunctions with the Sun, as far as the season goes.

    Attributes
    ----------
    body : Which planet.
    first, last : First and last evening (by local date) of nights on which it shows.
    first_morning, last_morning : Local dates of the first and last morning on which it stands high enough at
        the start of civil dawn; None where there is none.
    first_evening, last_evening : The same for evenings, at the end of civil dusk.
    under_way, goes_on : It shows already on the season's first night, still on its last.
    peak : Its opposition or greatest elongation, where the season holds it.
    best : Its best weeks.
    """

    body: str
    first: date
    last: date
    first_morning: date | None
    last_morning: date | None
    first_evening: date | None
    last_evening: date | None
    under_way: bool
    goes_on: bool
    peak: Event | None
    best: Best

    @property
    def words(self) -> str:
        """The apparition in one sentence."""
        halves = {"morning": self.first_morning, "evening": self.first_evening}
        if self.body in INNER:  # where it never sets it shows at both ends of the night, but on one side
            del halves["evening" if self.best.mornings else "morning"]
        parts = [(day, _since(self, half, day)) for half, day in halves.items() if day]
        if self.peak:
            parts.append((self.peak.instant.date(), _peak(self.peak)))
        texts = [text for _, text in sorted(parts)]
        return "; ".join([*texts, self._best(), self._end()])

    def _best(self) -> str:
        best, half = self.best, "nights"
        if best.mornings:
            half = "mornings"
        elif self.first_evening and best.first >= self.first_evening:
            half = "evenings"
        goes_on = self.goes_on and best.last >= self.last
        span = f"from {_day(best.first)} on" if goes_on else f"{_day(best.first)} to {_day(best.last)}"
        return f"best {half} {span} (up to {best.altitude_deg:.0f}° high, {best.disc_arcsec:.1f}″ across)"

    def _end(self) -> str:
        if self.goes_on:
            return "goes on beyond the season"
        if self.last_evening == self.last:
            return f"last seen at dusk on {_day(self.last)}"
        if self.last_morning == self.last + timedelta(days=1):
            return f"last seen at dawn on {_day(self.last_morning)}"
        return f"last seen in the night of {_day(self.last)}"


@dataclass(frozen=True, slots=True)
class Lost:
    """Nights in a row, by evening, on which a planet does not show, and why not."""

    first: date
    last: date
    why: str


@dataclass(frozen=True, slots=True)
class PlanetSeason:
    """A planet through a season at one site: its apparitions in order, and when it is lost between them."""

    body: str
    lowest_altitude_deg: float
    apparitions: tuple[Apparition, ...]
    lost: tuple[Lost, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """The season in short lines, in order of time."""
        if not self.apparitions:
            return tuple(f"never {self.lowest_altitude_deg:.0f}° high: {gap.why}" for gap in self.lost)
        lines = [(one.first, one.words) for one in self.apparitions]
        lines += [(gap.first, f"from {_day(gap.first)} to {_day(gap.last)} {gap.why}") for gap in self.lost]
        return tuple(text for _, text in sorted(lines))


def planet_season_of(
    sky: SeasonSky, body: str, *, lowest_altitude_deg: float = 20.0, finish_unix_s: ArrayLike | None = None
) -> PlanetSeason:
    """Return a planet's apparitions in a season.

    Parameters
    ----------
    sky : SeasonSky
        The season: nights one after the other.
    body : str
        Which planet.
    lowest_altitude_deg : float
        Lowest altitude worth looking at; for Mercury, and in summer for all, a wish-list's 20 may be too much
        to ask. The site's horizon counts too. [deg]
    finish_unix_s : float or array (nights,), optional
        When the observer usually stops; the middle of the night where not given. [s]

    Raises
    ------
    UnknownName
        `body` is no planet.

    Notes
    -----
    Nearer than 12 degrees to the Sun a planet does not show, whatever its altitude.
    """
    nights = planet_nights_of(sky, body, lowest_altitude_deg, finish_unix_s)
    peaks = _peaks(body, sky.evenings[0], sky.evenings[-1])
    found = (
        _apparition(sky, body, nights, rows, peaks)
        for rows in np.split(np.arange(len(sky)), _conjunctions(nights.elongation_deg))
    )
    apparitions = tuple(one for one in found if one is not None)
    return PlanetSeason(body, lowest_altitude_deg, apparitions, _lost(sky, nights))


def _conjunctions(elongation_deg: Floats) -> Ints:
    """Return the first night after each conjunction with the Sun."""
    before, after = elongation_deg[:-1], elongation_deg[1:]
    return np.flatnonzero((np.sign(before) != np.sign(after)) & (np.abs(before) < 90.0)) + 1


@lru_cache(maxsize=64)
def _peaks(body: str, first: date, last: date) -> tuple[Event, ...]:
    search = greatest_elongations_of if body in INNER else oppositions_of
    return search(body, first, last + timedelta(days=1))


def _apparition(
    sky: SeasonSky, body: str, nights: PlanetNights, rows: Ints, peaks: tuple[Event, ...]
) -> Apparition | None:
    shown = rows[nights.shows[rows]]
    if not len(shown):
        return None
    evenings = [sky.evenings[row] for row in rows]
    peak = next((p for p in peaks if evenings[0] <= _local(sky, p) <= evenings[-1]), None)
    first_dawn, last_dawn = _ends(sky, rows[nights.at_dawn[rows]], days=1)
    first_dusk, last_dusk = _ends(sky, rows[nights.at_dusk[rows]], days=0)
    return Apparition(
        body, sky.evenings[shown[0]], sky.evenings[shown[-1]], first_dawn, last_dawn, first_dusk, last_dusk,
        bool(shown[0] == 0), bool(shown[-1] == len(sky) - 1), peak, _best_of(sky, body, nights, shown),
    )  # fmt: skip


def _best_of(sky: SeasonSky, body: str, nights: PlanetNights, shown: Ints) -> Best:
    height_deg, mornings = nights.evening_deg, False
    if body in INNER or not (height_deg[shown] > 0.0).any():
        height_deg, mornings = nights.highest_deg, bool(nights.elongation_deg[shown].mean() < 0.0)
    worth = nights.disc_arcsec * np.sin(np.radians(np.maximum(height_deg, 0.0)))
    top = int(shown[np.argmax(worth[shown])])
    good = np.zeros(len(worth), bool)
    good[shown] = worth[shown] >= _NEARLY_BEST * worth[top]
    first = last = top
    while first > 0 and good[first - 1]:
        first -= 1
    while last < len(good) - 1 and good[last + 1]:
        last += 1
    start, end, night = (sky.evenings[row] + timedelta(days=mornings) for row in (first, last, top))
    altitude_deg, disc_arcsec, magnitude = (
        float(a[top]) for a in (height_deg, nights.disc_arcsec, nights.magnitude)
    )
    return Best(mornings, start, end, night, altitude_deg, disc_arcsec, magnitude)


def _lost(sky: SeasonSky, nights: PlanetNights) -> tuple[Lost, ...]:
    """Return the gaps of a week and more."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], ~nights.shows, [False]]).astype(int)))
    gaps = edges.reshape(-1, 2)
    return tuple(
        Lost(sky.evenings[start], sky.evenings[end - 1], _why(nights, slice(start, end)))
        for start, end in gaps
        if end - start >= 7 or end - start == len(sky)
    )


def _why(nights: PlanetNights, gap: slice) -> str:
    def mostly(flags: Flags) -> bool:
        return bool(flags[gap].mean() > 0.5)

    if mostly(nights.low):
        return "too low all day"
    return "the nights are too bright" if mostly(nights.bright) else "too low or lost in daylight"


def _ends(sky: SeasonSky, rows: Ints, days: int) -> tuple[date | None, date | None]:
    if not len(rows):
        return None, None
    first, last = (sky.evenings[row] + timedelta(days=days) for row in (rows[0], rows[-1]))
    return first, last


def _local(sky: SeasonSky, event: Event) -> date:
    return event.instant.astimezone(sky.site.local).date()


def _since(one: Apparition, half: str, first: date) -> str:
    already = one.under_way and first <= one.first + timedelta(days=1)
    return f"already in the {half} sky" if already else f"in the {half} sky from {_day(first)}"


def _peak(event: Event) -> str:
    apart = "" if event.kind is EventKind.OPPOSITION else f", {event.value:.0f}° from the Sun"
    return f"{event.kind.value} on {_day(event.instant.date())}{apart}"


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
