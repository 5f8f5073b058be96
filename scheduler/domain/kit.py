"""What the observer looks through."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from .checks import holds, named, whole, within
from .target import NAKED_EYE


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
    """An eyepiece: focal length [mm] and apparent field [deg]; `telescope` names the only one it fits."""

    name: str
    focal_length_mm: float
    apparent_field_deg: float = 50.0
    telescope: str | None = None

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


class Lines(StrEnum):
    """Which of a nebula's bright lines a filter lets through."""

    OXYGEN = "O III"
    HYDROGEN = "H-beta"
    BOTH = "both"


@dataclass(frozen=True, slots=True)
class Filter:
    """A narrow-band filter for nebulae.

    Attributes
    ----------
    name : What the observer calls it.
    lines : The lines it passes.
    line_pass : Share of these lines' light that passes. [0..1]
    sky_pass : Share of the sky's light, and of the target's outside the lines, that passes. [0..1]
    """

    name: str
    lines: Lines = Lines.BOTH
    line_pass: float = 0.9
    sky_pass: float = 0.2

    def __post_init__(self) -> None:
        named("filter name", self.name)
        within("line_pass", self.line_pass, 0.1, 1.0)
        within("sky_pass", self.sky_pass, 0.005, 1.0)


@dataclass(frozen=True, slots=True)
class Observer:
    """Who looks: a name, an age that sets the pupil, and the instruments they look through.

    Attributes
    ----------
    name : What the others call them.
    age : In years; older pupils open less. [a]
    instruments : Names of telescopes and binoculars; empty for all of them.
    weekdays : On which they come along, Monday = 0, as far as the evening is free at all.
    away : Evenings on which they do not, although they would.
    """

    name: str = "observer"
    age: int = 40
    instruments: tuple[str, ...] = ()
    weekdays: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)
    away: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        named("observer name", self.name)
        within("age", self.age, 5, 110)
        for weekday in self.weekdays:
            whole("weekday", weekday, 0, 6)

    def comes_on(self, evening: date) -> bool:
        """Tell whether they come along on an evening that is free and no club night."""
        return evening.weekday() in self.weekdays and evening not in self.away


@dataclass(frozen=True, slots=True)
class Kit:
    """Everything taken outside: telescopes with their eyepieces, Barlow and filters, binoculars, or both.

    Attributes
    ----------
    telescopes : Each of a name of its own.
    eyepieces : Each fits every telescope unless it names the one it fits.
    barlow : Doubles the set: every eyepiece may be used with and without it.
    binoculars : None where there are none.
    filters : Each fits every eyepiece.
    """

    telescopes: tuple[Telescope, ...] = ()
    eyepieces: tuple[Eyepiece, ...] = ()
    barlow: Barlow | None = None
    binoculars: Binoculars | None = None
    filters: tuple[Filter, ...] = ()

    def __post_init__(self) -> None:
        holds("kit", "nothing", bool(self.telescopes) or self.binoculars is not None,
              "a telescope or binoculars")  # fmt: skip
        names = Counter(self.instruments)
        twice = [name for name, count in names.items() if count > 1 or name == NAKED_EYE]
        holds("telescope name", ", ".join(twice), not twice, "a name of its own for every instrument")
        for telescope in self.telescopes:
            holds("eyepieces", "none", bool(self.eyepieces_of(telescope)),
                  f"at least one eyepiece for {telescope.name}")  # fmt: skip
        for eyepiece in self.eyepieces:
            known = eyepiece.telescope in (None, *(telescope.name for telescope in self.telescopes))
            holds("eyepiece telescope", eyepiece.telescope, known, "the name of a telescope of the kit")

    @property
    def instruments(self) -> tuple[str, ...]:
        """Names of the telescopes, then of the binoculars."""
        return (*(t.name for t in self.telescopes), *([self.binoculars.name] if self.binoculars else ()))

    def eyepieces_of(self, telescope: Telescope) -> tuple[Eyepiece, ...]:
        """Return the eyepieces that fit a telescope, longest first."""
        fitting = (one for one in self.eyepieces if one.telescope in (None, telescope.name))
        return tuple(sorted(fitting, key=lambda one: -one.focal_length_mm))
