"""Read the instruments of scenario.toml, and who looks through them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..domain import (
    BINOCULARS,
    NAKED_EYE,
    TELESCOPE,
    Barlow,
    Binoculars,
    Eyepiece,
    Filter,
    Kit,
    Observer,
    Telescope,
)
from .keys import Table, read_table
from .notes import Notes, near

EXIT_PUPILS_MM = (5.0, 2.0, 1.0)  # low, middle and high power; common practice, no source


def kit_of(top: Mapping[str, Any], part: Mapping[str, dict[str, Any]], notes: Notes) -> Kit | None:
    """Return the kit, or None with the faults noted.

    Parameters
    ----------
    top : The readable values of the file's top level.
    part : The readable values of each single table, by name.
    notes : Where faults go.
    """
    if not {"telescope", "telescopes", "binoculars"}.intersection(top):
        notes.add("nothing", "a [telescope] or [binoculars] table with its figures", column="telescope")
        return None
    before = len(notes.found)
    telescopes = [_telescope(part["telescope"], "telescope", notes)] if "telescope" in top else []
    telescopes += [
        _telescope(read_table(one, "telescopes", under, notes), under, notes)
        for under, one in _numbered(top, "telescopes")
    ]
    binoculars = _binoculars(part["binoculars"], notes) if "binoculars" in top else None
    barlow = notes.build(Barlow, part["barlow"], {}, under="barlow") if "barlow" in top else None
    eyepieces = [_eyepiece(one, under, notes) for under, one in _numbered(top, "eyepieces")]
    for place, eyepiece in enumerate(eyepieces, 1):
        named = [one.name for one in telescopes if one]
        if eyepiece and eyepiece.telescope is not None and eyepiece.telescope not in named:
            expected = (
                f"the name of a telescope of this file, {', '.join(named) or 'which has none'}, or blank"
            )
            column, hints = f"eyepieces.{place}.telescope", near(eyepiece.telescope, named)
            notes.add(eyepiece.telescope, expected, column=column, near=hints)
    filters = [_filter(one, under, notes) for under, one in _numbered(top, "filters")]
    if len(notes.found) > before:
        return None
    sound = tuple(one for one in telescopes if one)
    usual = [one for telescope in sound for one in _usual_eyepieces(telescope, alone=len(sound) == 1)]
    kit = {
        "telescopes": sound,
        "eyepieces": tuple(one for one in eyepieces if one) or tuple(usual),
        "barlow": barlow,
        "binoculars": binoculars,
        "filters": tuple(one for one in filters if one),
    }
    return notes.build(Kit, kit, {}, under="telescopes")


def observers_of(top: Mapping[str, Any], kit: Kit | None, notes: Notes) -> tuple[Observer, ...] | None:
    """Return who looks, one observer where nobody is named, or None with the faults noted."""
    before = len(notes.found)
    found: list[Observer] = []
    for under, one in _numbered(top, "observers"):
        read = read_table(one, "observers", under, notes)
        observer = notes.build(Observer, read, {"name": "observer"}, under=under)
        for name in observer.instruments if observer and kit else ():
            if kit and name not in kit.instruments:
                expected = f"instruments of this file: {', '.join(kit.instruments)}"
                notes.add(name, expected, column=f"{under}.instruments", near=near(name, kit.instruments))
        if observer and observer.name in (other.name for other in found):
            notes.add(observer.name, "every observer once", column=f"{under}.name")
        found += [observer] if observer else []
    if len(notes.found) > before:
        return None
    return tuple(found) or (Observer(),)


def ways_to_look(kit: Kit, observers: Sequence[Observer]) -> tuple[str, ...]:
    """Return what a target may ask to be seen with: instruments that somebody uses, and their sorts.

    >>> ways_to_look(Kit(binoculars=Binoculars("10x50", 10.0, 50.0)), [Observer()])
    ('naked eye', 'binoculars', '10x50')
    """

    def used(name: str) -> bool:
        return any(name in (observer.instruments or kit.instruments) for observer in observers)

    names = [telescope.name for telescope in kit.telescopes if used(telescope.name)]
    telescopes = [TELESCOPE, *names] if names else []
    glass = [BINOCULARS, kit.binoculars.name] if kit.binoculars and used(kit.binoculars.name) else []
    return (NAKED_EYE, *glass, *telescopes)


def _numbered(top: Mapping[str, Any], name: str) -> list[tuple[str, Table]]:
    """Return the tables of one list, each with the dotted key that names its place."""
    return [(f"{name}.{place}", one) for place, one in enumerate(top.get(name, ()), 1)]


def _needs(read: Mapping[str, Any], under: str, keys: Sequence[str], notes: Notes) -> bool:
    """Return whether all `keys` were read; note those that are absent altogether."""
    for key in keys:
        column = f"{under}.{key}"
        if key not in read and not notes.has(column):
            notes.add("nothing", f"a number: {key} = ...", column=column)
    return all(key in read for key in keys)


def _telescope(read: dict[str, Any], under: str, notes: Notes) -> Telescope | None:
    if not _needs(read, under, ("aperture_mm", "focal_length_mm"), notes):
        return None
    aperture_mm, focal_length_mm = read["aperture_mm"], read["focal_length_mm"]
    ratio = focal_length_mm / aperture_mm if aperture_mm > 0 else 0.0
    spare = {
        "name": f"{aperture_mm:g} mm f/{ratio:.3g} telescope",
        "aperture_mm": 100.0,
        "focal_length_mm": 800.0,
    }
    return notes.build(Telescope, read, spare, under=under)


def _usual_eyepieces(telescope: Telescope, *, alone: bool) -> list[Eyepiece]:
    ratio = telescope.focal_length_mm / telescope.aperture_mm
    lengths_mm = sorted({min(max(round(pupil_mm * ratio, 1), 2.0), 56.0) for pupil_mm in EXIT_PUPILS_MM})
    fits = None if alone else telescope.name
    return [Eyepiece(f"{length_mm:g} mm", length_mm, telescope=fits) for length_mm in reversed(lengths_mm)]


def _eyepiece(raw: Table, under: str, notes: Notes) -> Eyepiece | None:
    read = read_table(raw, "eyepieces", under, notes)
    if not _needs(read, under, ("focal_length_mm",), notes):
        return None
    spare = {"name": f"{read['focal_length_mm']:g} mm", "focal_length_mm": 20.0}
    return notes.build(Eyepiece, read, spare, under=under)


def _filter(raw: Table, under: str, notes: Notes) -> Filter | None:
    read = read_table(raw, "filters", under, notes)
    return notes.build(Filter, read, {"name": f"{read.get('lines', 'nebula')} filter"}, under=under)


def _binoculars(read: dict[str, Any], notes: Notes) -> Binoculars | None:
    if not _needs(read, "binoculars", ("magnification", "aperture_mm"), notes):
        return None
    spare = {
        "name": f"{read['magnification']:g}x{read['aperture_mm']:g} binoculars",
        "magnification": 10.0,
        "aperture_mm": 50.0,
    }
    return notes.build(Binoculars, read, spare, under="binoculars")
