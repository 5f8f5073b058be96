"""A season seen through one wish-list and one kit: what every question about what shows when starts from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ..domain import MOON, NAKED_EYE, SUN_DISTANCE_DEG, Kind, MoonFeature, Orbit, Scenario, Target
from ..domain.opportunity import Floats, Ints
from ..sky import Places, SeasonSky, looks_of, places_of, separation_deg, sun_at
from ..sky.moonface import MoonFace, moonface_of
from ..sky.orbits import orbit_looks
from .allowed import allowed_of
from .merit import MeritSettings
from .merit_table import MeritTable, merit_table_of
from .occasions import Occasions, occasions_of
from .optics import Optic, optics_of
from .reach import Reach, reach_of

KINDS = tuple(Kind)

MIDNIGHT_MARGIN_DEG = 1.5
"""Added to the safe distance from the Sun, which is tried at midnight: near it Mercury, the quickest, moves
1.18 deg in half a day at most (DE421, 1990 to 2039). [deg]"""

MOON_MARGIN_DEG = 8.5
"""The same for the Moon, which moves 7.7 deg in half a day at most, parallax included. [deg]"""


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
    def aperture_mm(self) -> Floats:
        """Aperture of the largest instrument each target may be looked at through, 0 for none. (targets,)"""
        apertures = np.array([optic.aperture_mm for optic in self.optics])
        return np.asarray((self.allowed * apertures).max(axis=1, initial=0.0))

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
    disc_arcsec, disc_share = _discs(sky, targets)
    return Prospect(
        sky, places, tuple(targets), tuple(optics), settings,
        merit_table_of(targets, optics, sky.site, settings),
        disc_arcsec, disc_share, _magnitudes(sky, targets), _safe(sky, places, targets),
        occasions_of(sky, targets),
    )  # fmt: skip


def _discs(sky: SeasonSky, targets: Sequence[Target]) -> tuple[Floats, Floats]:
    """Return discs, 0 for all but planets, and what share of the largest they are. (targets, nights)"""
    disc_arcsec, share = np.zeros((len(targets), len(sky))), np.ones((len(targets), len(sky)))
    rows = [row for row, target in enumerate(targets) if target.kind is Kind.PLANET]
    looks = looks_of(sky, [str(targets[row].body) for row in rows])
    well_away = np.abs(looks.elongation_deg) >= 2.0 * SUN_DISTANCE_DEG
    largest_arcsec = np.where(well_away, looks.disc_arcsec, 0.0).max(axis=1, keepdims=True, initial=0.0)
    of_all_arcsec = looks.disc_arcsec.max(axis=1, keepdims=True, initial=0.0)
    largest_arcsec = np.where(largest_arcsec > 0.0, largest_arcsec, of_all_arcsec)
    disc_arcsec[rows] = looks.disc_arcsec
    share[rows] = np.clip(looks.disc_arcsec / largest_arcsec, 0.0, 1.0)
    return disc_arcsec, share


def _magnitudes(sky: SeasonSky, targets: Sequence[Target]) -> Floats:
    """Return the nightly magnitudes of planets and minor bodies, NaN for the rest. (targets, nights)"""
    found = np.full((len(targets), len(sky)), np.nan)
    planets = [row for row, target in enumerate(targets) if target.kind is Kind.PLANET]
    found[planets] = looks_of(sky, [str(targets[row].body) for row in planets]).magnitude
    minor = [(row, t.nature) for row, t in enumerate(targets) if isinstance(t.nature, Orbit)]
    if minor:
        found[[row for row, _ in minor]] = orbit_looks(sky, [orbit for _, orbit in minor]).magnitude
    return found


def _safe(sky: SeasonSky, places: Places, targets: Sequence[Target]) -> NDArray[np.bool_]:
    """Tell on which nights what moves keeps its distance from the Sun; the rest does. (targets, nights)"""
    safe = np.ones((len(targets), len(sky)), dtype=np.bool_)
    sun, moving = sun_at(sky, sky.midnight_unix_s), places.moving
    apart_deg = separation_deg(
        places.ra_of_date_deg[moving], places.dec_of_date_deg[moving], sun.ra_of_date_deg, sun.dec_of_date_deg
    )
    margin_deg = np.array(
        [MOON_MARGIN_DEG if targets[row].body == MOON else MIDNIGHT_MARGIN_DEG for row in moving.tolist()]
    )
    safe[moving] = apart_deg >= SUN_DISTANCE_DEG + margin_deg.reshape(-1, 1)
    return safe
