"""What a kit can show: every way of looking, from the naked eye to a telescope with a Barlow and a filter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from ..domain import BINOCULARS, NAKED_EYE, TELESCOPE, Eyepiece, Filter, Kit, Observer, Telescope
from ..domain.opportunity import Floats
from .judgement import MeritSettings

REFERENCE_PUPIL_MM = 7.0
"""Pupil of the young, dark-adapted eyes the threshold was measured with. [mm]"""

DAWES_ARCSEC_MM = 4.56 * 25.4
"""Dawes's 4.56 arcsec for an inch. [arcsec mm]"""

REFLECTOR_SURFACES = 4
"""Surfaces counted for a telescope with a secondary mirror: two mirrors, two for the eyepiece."""
REFRACTOR_SURFACES = 4
"""For one without: two of the objective, two for the eyepiece."""
BINOCULAR_SURFACES = 6
"""Two of the objective, two for the prisms, two for the eyepiece."""
BARLOW_SURFACES = 2
"""More with a Barlow lens."""


@dataclass(frozen=True, slots=True)
class Optic:
    """One way of looking.

    Attributes
    ----------
    instrument : Name of the telescope or binoculars, or "naked eye".
    family : "naked eye", "binoculars" or "telescope".
    eyepiece, barlow, filter : What is put in.
    magnification : 1 for the naked eye.
    true_field_deg : What is seen at once. [deg]
    exit_pupil_mm : Of the beam that leaves the eyepiece; the eye's own pupil for the naked eye. [mm]
    aperture_mm : What gathers the light. [mm]
    light : Brightness of the sky as the eye gets it over that with a 7 mm pupil and no glass. [0..1]
    field_factor : What this eye, or these two, need over a laboratory's.
    observers : Names of those who look.
    """

    instrument: str
    family: str
    eyepiece: str | None
    barlow: bool
    filter: Filter | None
    magnification: float
    true_field_deg: float
    exit_pupil_mm: float
    aperture_mm: float
    light: float
    field_factor: float
    observers: tuple[str, ...] = ()

    @property
    def sky_pass(self) -> float:
        """Share of the sky's light the filter passes, 1 without one."""
        return self.filter.sky_pass if self.filter else 1.0


def eye_pupil_mm(age: ArrayLike) -> Floats:
    """Return the dark-adapted pupil of an age. [mm]

    Notes
    -----
    A mean; healthy eyes of one age differ by a millimetre or more.

    References
    ----------
    B. E. Schaefer, Telescopic limiting magnitudes, PASP 102, 212 (1990), eq. 5 (from memory),
    doi:10.1086/132629

    Examples
    --------
    >>> eye_pupil_mm([22, 70]).round(2)
    array([6.83, 5.48])
    """
    return np.asarray(7.0 * np.exp(-0.5 * (np.asarray(age, dtype=float) / 100.0) ** 2))


def resolution_arcsec(aperture_mm: ArrayLike) -> Floats:
    """Return the finest detail an aperture shows, air and eye permitting. [arcsec]

    References
    ----------
    W. R. Dawes (1867), as quoted everywhere: 4.56 arcsec for an inch

    Examples
    --------
    >>> float(resolution_arcsec(200.0).round(2))
    0.58
    """
    return np.asarray(DAWES_ARCSEC_MM / np.asarray(aperture_mm, dtype=float))


def light_in_eye(
    exit_pupil_mm: ArrayLike,
    shadow_mm: ArrayLike,
    pupil_mm: ArrayLike,
    transmission: ArrayLike,
    reference_mm: float = REFERENCE_PUPIL_MM,
) -> Floats:
    """Return how much of its surface brightness the sky, or a nebula, keeps in the eye, 0..1.

    Parameters
    ----------
    exit_pupil_mm : Aperture over magnification. [mm]
    shadow_mm : Obstruction over magnification. [mm]
    pupil_mm : Of the eye. [mm]
    transmission : Of the glass and mirrors. [0..1]
    reference_mm : Pupil for which the eye's threshold holds. [mm]

    References
    ----------
    A. Crumey, MNRAS 442, 2600 (2014), eq. 66; the shadow is ours

    Examples
    --------
    >>> light_in_eye([8.0, 3.5, 1.0], 0.0, 6.8, 0.8).round(3)
    array([0.755, 0.2  , 0.016])
    """
    beam, shadow, pupil = (np.asarray(one, dtype=float) for one in (exit_pupil_mm, shadow_mm, pupil_mm))
    area = np.minimum(beam, pupil) ** 2 - np.minimum(shadow, pupil) ** 2
    return np.asarray(np.asarray(transmission, dtype=float) * np.maximum(area, 1e-6) / reference_mm**2)


def optics_of(
    kit: Kit, observers: Sequence[Observer], settings: MeritSettings | None = None
) -> tuple[Optic, ...]:
    """Return every way of looking: naked eye, binoculars, then each telescope with all that fits it.

    Notes
    -----
    The pupil is that of the oldest who looks through an instrument; one that nobody uses is left out.

    Examples
    --------
    >>> kit = Kit((Telescope("8 inch", 200, 1200, 50),), (Eyepiece("25 mm", 25),))
    >>> [(one.instrument, one.magnification, round(one.light, 2)) for one in optics_of(kit, [Observer()])]
    [('naked eye', 1.0, 0.85), ('8 inch', 48.0, 0.27)]
    """
    settings = settings or MeritSettings()
    ways = [_naked_eye(observers, settings)]
    if kit.binoculars and (users := _users(kit.binoculars.name, observers)):
        glass = kit.binoculars
        beam_mm = glass.aperture_mm / glass.magnification
        passed = settings.per_surface**BINOCULAR_SURFACES
        ways.append(
            Optic(
                glass.name, BINOCULARS, None, False, None, glass.magnification, glass.true_field_deg, beam_mm,
                glass.aperture_mm, float(light_in_eye(beam_mm, 0.0, _pupil_mm(users), passed)),
                settings.field_factor, tuple(user.name for user in users),
            )
        )  # fmt: skip
    for telescope in kit.telescopes:
        if users := _users(telescope.name, observers):
            ways.extend(_through(telescope, kit, users, settings))
    return tuple(ways)


def _naked_eye(observers: Sequence[Observer], settings: MeritSettings) -> Optic:
    pupil_mm = _pupil_mm(observers)
    return Optic(
        NAKED_EYE, NAKED_EYE, None, False, None, 1.0, settings.naked_field_deg, pupil_mm, pupil_mm,
        float(light_in_eye(pupil_mm, 0.0, pupil_mm, 1.0)), settings.field_factor,
        tuple(one.name for one in observers),
    )  # fmt: skip


def _through(
    telescope: Telescope, kit: Kit, users: Sequence[Observer], settings: MeritSettings
) -> Iterator[Optic]:
    """Yield every eyepiece, without and with the Barlow, without and with each filter."""
    surfaces = REFLECTOR_SURFACES if telescope.obstruction_mm > 0.0 else REFRACTOR_SURFACES
    barlows = (None, kit.barlow) if kit.barlow else (None,)
    filters: tuple[Filter | None, ...] = (None, *kit.filters)
    for eyepiece, barlow, chosen in product(kit.eyepieces_of(telescope), barlows, filters):
        power = _power(telescope, eyepiece) * (barlow.factor if barlow else 1.0)
        passed = settings.per_surface ** (surfaces + (BARLOW_SURFACES if barlow else 0))
        beam_mm, shadow_mm = telescope.aperture_mm / power, telescope.obstruction_mm / power
        yield Optic(
            telescope.name, TELESCOPE, eyepiece.name, barlow is not None, chosen, power,
            eyepiece.apparent_field_deg / power, beam_mm, telescope.aperture_mm,
            float(light_in_eye(beam_mm, shadow_mm, _pupil_mm(users), passed)),
            settings.field_factor * settings.one_eye, tuple(user.name for user in users),
        )  # fmt: skip


def _power(telescope: Telescope, eyepiece: Eyepiece) -> float:
    return telescope.focal_length_mm / eyepiece.focal_length_mm


def _users(instrument: str, observers: Sequence[Observer]) -> tuple[Observer, ...]:
    return tuple(one for one in observers if not one.instruments or instrument in one.instruments)


def _pupil_mm(observers: Sequence[Observer]) -> float:
    """Return the pupil of the oldest."""
    return float(eye_pupil_mm(max(one.age for one in observers)))
