"""The sky above a scenario's site in its season, and when something stands high enough in it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from ..diary import MoonNight, diary_of, moon_words
from ..domain import Night, Scenario, Site
from ..domain.opportunity import Floats, Ints
from ..sky import Places, SeasonSky, altitude_azimuth, apparent_altitude_deg, sidereal_deg, sky_of
from ..sky.ephemeris import FIRST_DATE, LAST_DATE, check_covered, moment_of
from ..sky.horizon import lowest_true_deg
from ..sky.stretches import sample_times, stretches_of
from .date import rounded

BESIDE_D = 16
"""How long before and after the season the sky is known too, so that the season's ends do not show in what is
told of a date. [d]"""


@dataclass(frozen=True, eq=False)
class Above:
    """The sky above a site.

    Attributes
    ----------
    sky : Through the season and `BESIDE_D` beside it.
    nights, diary : Its nights, and the Moon's doings on them.
    """

    sky: SeasonSky
    nights: tuple[Night, ...]
    diary: tuple[MoonNight, ...]

    @property
    def site(self) -> Site:
        """Where one looks from."""
        return self.sky.site

    @property
    def days(self) -> tuple[date, date]:
        """The first and the last date (UTC) on which all is known."""
        return self.sky.evenings[0] + timedelta(days=1), self.sky.evenings[-1] - timedelta(days=1)

    def night_at(self, unix_s: float) -> int:
        """Return the position of the night that lasts from the noon before a moment to the noon after."""
        after = int(np.searchsorted(self.sky.noon_unix_s, unix_s, side="right"))
        return min(max(after - 1, 0), len(self.sky) - 1)

    def night_of(self, evening: date) -> int:
        """Return the position of the night of an evening."""
        return (evening - self.sky.evenings[0]).days

    def day_of(self, moment: datetime) -> date:
        """Return the day of the site's calendar."""
        return moment.astimezone(self.site.local).date()

    def clock(self, moment: datetime | float) -> str:
        """Return the time by the site's clock, of a moment or Unix seconds."""
        when = moment if isinstance(moment, datetime) else moment_of(moment)
        return f"{rounded(when).astimezone(self.site.local):%H:%M}"

    def moon_words(self, night: int) -> str:
        """Return what the Moon does on a night."""
        return f"{moon_words(self.diary[night], self.nights[night].twilit, self.site)}."

    def seen_at(self, places: Places, night: int, unix_s: Floats) -> tuple[Floats, Floats]:
        """Return where the only target of `places` stands at moments: true altitude and azimuth. [deg]"""
        ra_deg, dec_deg = places.at(0, night, unix_s)
        return altitude_azimuth(self.site, ra_deg, dec_deg, sidereal_deg(self.sky, night, unix_s))


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a night in which something stands high enough.

    Attributes
    ----------
    start_unix_s, end_unix_s : From when to when. [s]
    top_unix_s, top_deg, azimuth_deg : When it stands highest meanwhile, how high as seen, and where.
    """

    start_unix_s: float
    end_unix_s: float
    top_unix_s: float
    top_deg: float
    azimuth_deg: float


def above(scenario: Scenario) -> Above:
    """Return the sky above a scenario's site in its season; raise `OutsideEphemeris` where none is known."""
    evenings = scenario.season.evenings
    check_covered(evenings[0], evenings[-1])
    first = max(evenings[0] - timedelta(days=BESIDE_D), FIRST_DATE)
    last = min(evenings[-1] + timedelta(days=BESIDE_D), LAST_DATE - timedelta(days=1))
    known = tuple(first + timedelta(days=day) for day in range((last - first).days + 1))
    sky = sky_of(scenario.site, known)
    nights = sky.nights
    return Above(sky, nights, diary_of(nights, scenario.site))


def stretch_of(
    here: Above, places: Places, night: int, within_unix_s: tuple[float, float], lowest_deg: float
) -> Stretch | None:
    """Return the longest stretch in which a target stands above horizon and lowest altitude, None for none.

    Parameters
    ----------
    places : Of the target alone.
    night : Which night, by its position.
    within_unix_s : Between which of its moments; NaN where there is none. [s]
    lowest_deg : Lowest apparent altitude. [deg]
    """
    first, last = (np.array([unix_s]) for unix_s in within_unix_s)
    if not bool(first[0] < last[0]):
        return None

    def margin(_: Ints, unix_s: Floats) -> Floats:
        altitude_deg, azimuth_deg = here.seen_at(places, night, unix_s)
        return np.asarray(altitude_deg - lowest_true_deg(here.site, azimuth_deg, lowest_deg, None))

    moments = sample_times(first, last)
    rows = np.zeros(1, dtype=np.int64)
    start, end = stretches_of(moments, margin(rows, moments), margin, keep=1)[0, 0].tolist()
    if not start < end:
        return None
    inside = np.linspace(start, end, int((end - start) / 60.0) + 2)
    altitude_deg, azimuth_deg = here.seen_at(places, night, inside)
    top = int(np.argmax(altitude_deg))
    seen_deg = float(apparent_altitude_deg(here.site, altitude_deg[top]))
    return Stretch(start, end, float(inside[top]), seen_deg, float(azimuth_deg[top]))
