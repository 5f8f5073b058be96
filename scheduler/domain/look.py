"""How a target is looked at: where to point, and what to look through."""

from __future__ import annotations

from dataclasses import dataclass

from .checks import holds, named, within


@dataclass(frozen=True, slots=True)
class View:
    """What a target is looked at through, and why.

    Attributes
    ----------
    instrument : Name of the telescope or binoculars, or "naked eye".
    eyepiece, filter : Their names; None where there is none.
    barlow : Whether the Barlow is in.
    magnification : 1 for the naked eye.
    true_field_deg : Of what is seen at once. [deg]
    exit_pupil_mm : Of the beam that enters the eye. [mm]
    why : Why this one, in words.
    observers : Names of those who look through this instrument.
    """

    instrument: str
    eyepiece: str | None
    barlow: bool
    filter: str | None
    magnification: float
    true_field_deg: float
    exit_pupil_mm: float
    why: str
    observers: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        named("instrument", self.instrument)
        within("magnification", self.magnification, 0.5, 100_000.0)  # the oddest kit gives no more
        within("true_field_deg", self.true_field_deg, 0.0, 180.0)
        within("exit_pupil_mm", self.exit_pupil_mm, 0.0, 3000.0)


@dataclass(frozen=True, slots=True)
class Pointing:
    """Where to point without knowing the constellations, at one moment.

    Attributes
    ----------
    star : The bright star to start from; None where the target needs none (the Moon, a bright planet).
    star_magnitude : Its visual magnitude. [mag]
    distance_deg : From the star to the target. [deg]
    words : The whole way in words: direction and height in fists and degrees, the star, how far from it and
        to which side as one stands there.
    binoculars_first : Whether binoculars show it, and so help to find it.
    """

    star: str | None
    star_magnitude: float | None
    distance_deg: float | None
    words: str
    binoculars_first: bool = False

    def __post_init__(self) -> None:
        named("words", self.words[:200])
        figures = (self.star_magnitude, self.distance_deg)
        told = all((figure is None) is (self.star is None) for figure in figures)
        holds("star", self.star, told, "a star with its magnitude and distance, or none of them")
        if self.distance_deg is not None:
            within("distance_deg", self.distance_deg, 0.0, 180.0)
