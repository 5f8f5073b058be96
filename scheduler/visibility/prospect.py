"""A season seen through one wish-list and one kit: what every question about what shows when starts from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..domain import NAKED_EYE, SUN_DISTANCE_DEG, Kind, MoonFeature, Orbit, Scenario, Target
from ..domain.opportunity import Floats, Ints
from ..sky import Places, SeasonSky, looks_of, places_of, separation_deg, sun_at
from ..sky.moonface import MoonFace, moonface_of
from ..sky.orbits import orbit_looks
from .allowed import allowed_of
from .merit import MeritSettings
from .merit_table import MeritTable, merit_table_of
from .occasions import Occasions, occasions_of
from .optics import Optic, optics_of, resolution_arcsec
from .reach import Reach, reach_of

KINDS = tuple(Kind)

HALF_DAY_H = 12.5
"""No look is farther from the night's midnight, even where the clocks are put back. [h]"""

SLACK_DEG = 0.05
"""For the bend of the Sun's way and of the sphere; both are ten times smaller near the Sun. [deg]"""

KEEN_EYE_ARCSEC = 60.0
"""What an eye of normal sight tells apart, magnified or not: visual acuity 1.0 is an arcminute. [arcsec]"""

MOON_DISTANCE_KM = 384400.0
"""Mean, from the Earth's centre. [km]"""


@dataclass(frozen=True, eq=False)
class Prospect:
    """A season seen through one wish-list and one kit.

    Attributes
    ----------
    sky : The season's sky, every night of it.
    places : Where the targets stand on those nights.
    targets : The wish-list, in its order.
    optics : All that can be looked through.
    settings : The judgement in the merit model.
    table : Merit of what is decided by the sky behind it and the air in front of it.
    disc_arcsec : A planet's disc; 0 for everything else. (targets, nights) [arcsec]
    disc_share : That disc over its largest of the season well away from the Sun, at most 1. (targets, nights)
    magnitude : Of what changes its brightness, NaN for the rest. (targets, nights) [mag]
    safe : Whether a target keeps its distance from the Sun. (targets, nights)
    occasions : When what has moments of its own is to be seen.
    """

    sky: SeasonSky
    places: Places
    targets: tuple[Target, ...]
    optics: tuple[Optic, ...]
    settings: MeritSettings
    table: MeritTable
    disc_arcsec: Floats
    disc_share: Floats
    magnitude: Floats
    safe: NDArray[np.bool_]
    occasions: Occasions

    @cached_property
    def kind(self) -> Ints:
        """Each target's kind, counted along `KINDS`. int, (targets,)"""
        return np.array([KINDS.index(target.kind) for target in self.targets], dtype=np.int64)

    @cached_property
    def minutes(self) -> Ints:
        """Length of a visit. int, (targets,) [min]"""
        return np.array([target.minutes for target in self.targets], dtype=np.int64)

    @cached_property
    def lowest_altitude_deg(self) -> Floats:
        """Lowest altitude at which each target is worth looking at. (targets,) [deg]"""
        return np.array([target.lowest_altitude_deg for target in self.targets], dtype=np.float64)

    @cached_property
    def allowed(self) -> NDArray[np.bool_]:
        """Which optics each target may be looked at through. (targets, optics)"""
        return allowed_of(self.targets, self.optics, self.settings)

    @cached_property
    def usable(self) -> NDArray[np.bool_]:
        """Whether there is anything to look at each target through. (targets,)"""
        return np.asarray(self.allowed.any(axis=1))

    @cached_property
    def finest_arcsec(self) -> Floats:
        """Finest detail any optic a target may use shows, air aside; infinite for none. (targets,) [arcsec]

        The aperture sets it, or the eye where the power is too low for it.
        """
        finest = [
            max(float(resolution_arcsec(one.aperture_mm)), KEEN_EYE_ARCSEC / one.magnification)
            for one in self.optics
        ]
        return np.asarray(np.where(self.allowed, finest, np.inf).min(axis=1, initial=np.inf))

    @property
    def naked_eye(self) -> Optic:
        """The eye alone."""
        return next(optic for optic in self.optics if optic.instrument == NAKED_EYE)

    @cached_property
    def _reaches(self) -> dict[int, Reach]:
        return {}

    def reach(self, row: int) -> Reach:
        """Return how faint the optics a minor body may be looked at through show it."""
        if row not in self._reaches:
            nature = self.targets[row].nature
            size = nature.size_arcmin if isinstance(nature, Orbit) else None
            usable = [optic for optic, may in zip(self.optics, self.allowed[row], strict=True) if may]
            self._reaches[row] = reach_of(usable, self.settings, size)
        return self._reaches[row]

    @cached_property
    def moonface(self) -> MoonFace:
        """How the Sun stands over the Moon; made when a Moon feature is first asked about."""
        return moonface_of(self.sky)

    @cached_property
    def feature_deg(self) -> Floats:
        """Selenographic longitude and latitude of Moon features, NaN for the rest. (2, targets) [deg]"""
        natures = [target.nature for target in self.targets]
        places = [
            (one.longitude_deg, one.latitude_deg) if isinstance(one, MoonFeature) else (np.nan, np.nan)
            for one in natures
        ]
        return np.array(places, dtype=np.float64).reshape(-1, 2).T

    @cached_property
    def feature_arcsec(self) -> Floats:
        """Size of Moon features at the Moon's mean distance, NaN for the rest. (targets,) [arcsec]"""
        natures = [target.nature for target in self.targets]
        sizes_km = [one.size_km if isinstance(one, MoonFeature) else np.nan for one in natures]
        return np.degrees(np.array(sizes_km) / MOON_DISTANCE_KM) * 3600.0

    def only(self, rows: Sequence[int]) -> Prospect:
        """Return the same season seen through some of the wish-list, by position."""
        return prospect_of(self.sky, [self.targets[row] for row in rows], self.optics, self.settings)

    @cached_property
    def undated(self) -> Prospect:
        """The same without dates asked for and without moments of its own."""
        targets = tuple(replace(target, earliest=None, latest=None) for target in self.targets)
        return replace(self, targets=targets, occasions=Occasions.none(len(targets), len(self.sky)))


def prospect_for(sky: SeasonSky, scenario: Scenario) -> Prospect:
    """Return the season as a scenario's wish-list and kit see it."""
    return prospect_of(sky, scenario.targets, optics_of(scenario.kit, scenario.observers))


def prospect_of(
    sky: SeasonSky,
    targets: Sequence[Target],
    optics: Sequence[Optic],
    settings: MeritSettings | None = None,
) -> Prospect:
    """Return the season as these targets see it through these optics."""
    settings = settings or MeritSettings()
    places = places_of(sky, targets)
    return Prospect(
        sky, places, tuple(targets), tuple(optics), settings,
        merit_table_of(targets, optics, sky.site, settings),
        *_figures(sky, targets), _safe(sky, places), occasions_of(sky, targets),
    )  # fmt: skip


def _figures(sky: SeasonSky, targets: Sequence[Target]) -> tuple[Floats, Floats, Floats]:
    """Return discs, 0 for all but planets, their share of the largest, and magnitudes. (targets, nights)"""
    shape = len(targets), len(sky)
    disc_arcsec, share, magnitude = np.zeros(shape), np.ones(shape), np.full(shape, np.nan)
    planets = [row for row, target in enumerate(targets) if target.kind is Kind.PLANET]
    looks = looks_of(sky, [str(targets[row].body) for row in planets])
    well_away = np.abs(looks.elongation_deg) >= 2.0 * SUN_DISTANCE_DEG
    largest_arcsec = np.where(well_away, looks.disc_arcsec, 0.0).max(axis=1, keepdims=True, initial=0.0)
    of_all_arcsec = looks.disc_arcsec.max(axis=1, keepdims=True, initial=0.0)
    largest_arcsec = np.where(largest_arcsec > 0.0, largest_arcsec, of_all_arcsec)
    disc_arcsec[planets], magnitude[planets] = looks.disc_arcsec, looks.magnitude
    share[planets] = np.minimum(looks.disc_arcsec / largest_arcsec, 1.0)
    minor = {row: one.nature for row, one in enumerate(targets) if isinstance(one.nature, Orbit)}
    if minor:
        magnitude[list(minor)] = orbit_looks(sky, list(minor.values())).magnitude
    return disc_arcsec, share, magnitude


def _safe(sky: SeasonSky, places: Places) -> NDArray[np.bool_]:
    """Tell on which nights what moves keeps its distance from the Sun; the rest does. (targets, nights)

    The distance is tried at midnight; what it may lose by noon, and the parallax, come on top of it.
    """
    safe = np.ones((len(places), len(sky)), dtype=np.bool_)
    sun, later = (sun_at(sky, sky.midnight_unix_s + 3600.0 * hours) for hours in (0.0, HALF_DAY_H))
    ra_deg, dec_deg = places.ra_of_date_deg[places.moving], places.dec_of_date_deg[places.moving]
    sun_east_deg = (later.ra_of_date_deg - sun.ra_of_date_deg) % 360.0
    sun_north_deg = later.dec_of_date_deg - sun.dec_of_date_deg
    east_deg = np.abs(HALF_DAY_H * places.ra_rate_deg_h - sun_east_deg)
    north_deg = np.abs(HALF_DAY_H * places.dec_rate_deg_h - sun_north_deg)
    east_deg += HALF_DAY_H**2 * np.abs(places.ra_bend_deg_h2)
    north_deg += HALF_DAY_H**2 * np.abs(places.dec_bend_deg_h2)
    lost_deg = np.hypot(east_deg * np.cos(np.radians(dec_deg)), north_deg) + places.parallax_deg + SLACK_DEG
    apart_deg = separation_deg(ra_deg, dec_deg, sun.ra_of_date_deg, sun.dec_of_date_deg)
    safe[places.moving] = apart_deg >= SUN_DISTANCE_DEG + lost_deg
    return safe
