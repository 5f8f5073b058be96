"""What the observer looks through."""

from __future__ import annotations

from dataclasses import dataclass

from .checks import holds, named, within


@dataclass(frozen=True, slots=True)
class Telescope:
    """A telescope: clear aperture, focal length and the diameter the secondary mirror hides. [mm]"""

    name: str
    aperture_mm: float
    focal_length_mm: float
    obstruction_mm: float = 0.0

    def __post_init__(self) -> None:
        named("telescope name", self.name)
        within("aperture_mm", self.aperture_mm, 20.0, 2000.0)
        within("focal_length_mm", self.focal_length_mm, 60.0, 20000.0)
        within("obstruction_mm", self.obstruction_mm, 0.0, 0.6 * self.aperture_mm)


@dataclass(frozen=True, slots=True)
class Eyepiece:
    """An eyepiece: focal length [mm] and apparent field [deg]."""

    name: str
    focal_length_mm: float
    apparent_field_deg: float = 50.0

    def __post_init__(self) -> None:
        named("eyepiece name", self.name)
        within("eyepiece focal_length_mm", self.focal_length_mm, 1.5, 80.0)
        within("apparent_field_deg", self.apparent_field_deg, 20.0, 120.0)


@dataclass(frozen=True, slots=True)
class Barlow:
    """A Barlow lens, which multiplies the magnification of every eyepiece."""

    factor: float = 2.0

    def __post_init__(self) -> None:
        within("barlow factor", self.factor, 1.1, 6.0)


@dataclass(frozen=True, slots=True)
class Binoculars:
    """Binoculars: the figures printed on them, and their true field [deg]."""

    name: str
    magnification: float
    aperture_mm: float
    true_field_deg: float = 5.0

    def __post_init__(self) -> None:
        named("binoculars name", self.name)
        within("binoculars magnification", self.magnification, 2.0, 40.0)
        within("binoculars aperture_mm", self.aperture_mm, 15.0, 200.0)
        within("true_field_deg", self.true_field_deg, 0.5, 12.0)


@dataclass(frozen=True, slots=True)
class Kit:
    """Everything taken outside: a telescope with its eyepieces and Barlow, binoculars, or both."""

    telescope: Telescope | None = None
    eyepieces: tuple[Eyepiece, ...] = ()
    barlow: Barlow | None = None
    binoculars: Binoculars | None = None

    def __post_init__(self) -> None:
        holds("kit", "nothing", self.telescope is not None or self.binoculars is not None,
              "a telescope or binoculars")  # fmt: skip
        holds("eyepieces", "none", self.telescope is None or bool(self.eyepieces),
              "at least one eyepiece for the telescope")  # fmt: skip

    @property
    def aperture_mm(self) -> float:
        """Clear aperture of the larger instrument. [mm]"""
        return max(i.aperture_mm for i in (self.telescope, self.binoculars) if i is not None)
