"""Kits, targets and skies for the tests of merit, drawn by hypothesis."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st
from numpy.typing import ArrayLike

from scheduler.domain import (
    Barlow,
    Binoculars,
    Extended,
    Eyepiece,
    Filter,
    Kind,
    Kit,
    LightCurve,
    Lines,
    Observer,
    Pair,
    Site,
    Target,
    Telescope,
)
from scheduler.visibility.merit import MeritSettings
from scheduler.visibility.optics import optics_of
from scheduler.visibility.through import merits_through

SITE = Site("Somewhere", 50.0, 0.0, 100.0, "UTC", 21.3, 0.25)
EYEPIECES = (Eyepiece("32 mm", 32, 50), Eyepiece("17 mm", 17, 65), Eyepiece("9 mm", 9, 60))
BOTH, OXYGEN = Filter("narrow"), Filter("O III", Lines.OXYGEN, 0.9, 0.1)
FULL_KIT = Kit(
    (Telescope("200 mm", 200, 1200, 50),), EYEPIECES, Barlow(), Binoculars("10x50", 10, 50, 6.5),
    (BOTH, OXYGEN),
)  # fmt: skip

WHATS = (
    "galaxy", "globular cluster", "open cluster", "planetary nebula", "emission nebula", "dark nebula",
    "supernova remnant", "cluster with nebula", "star cloud", "nebula", "nova", "never heard of",
)  # fmt: skip


def deep_sky(
    what: str, magnitude: float | None = None, size_arcmin: float | None = None, instrument: str | None = None
) -> Target:
    return Target(
        what, Kind.DEEP_SKY, 10.0, 10.0, magnitude=magnitude, size_arcmin=size_arcmin, nature=Extended(what),
        instrument=instrument,
    )  # fmt: skip


def double(bright_mag: float, faint_mag: float, separation_arcsec: float) -> Target:
    return Target("pair", Kind.DOUBLE_STAR, 10.0, 10.0, nature=Pair(bright_mag, faint_mag, separation_arcsec))


def variable(faintest_mag: float) -> Target:
    return Target("variable", Kind.VARIABLE_STAR, 10.0, 10.0, nature=LightCurve(-1.0, faintest_mag))


@st.composite
def targets(draw: st.DrawFn, fainter_mag: float = 0.0) -> tuple[Target, Target]:
    """Return a target, and the same fainter by so much."""
    sort = draw(st.sampled_from(["deep-sky", "double", "variable"]))
    if sort == "deep-sky":
        what, magnitude = draw(st.sampled_from(WHATS)), draw(st.floats(1.0, 15.0))
        size = 10.0 ** draw(st.floats(-1.5, 2.3))
        return deep_sky(what, magnitude, size), deep_sky(what, magnitude + fainter_mag, size)
    if sort == "double":
        bright, difference = draw(st.floats(0.0, 9.0)), draw(st.floats(0.0, 6.0))
        apart = 10.0 ** draw(st.floats(0.0, 2.5))
        return (
            double(bright, bright + difference, apart),
            double(bright + fainter_mag, bright + fainter_mag + difference, apart),
        )
    magnitude = draw(st.floats(0.0, 15.0))
    return variable(magnitude), variable(magnitude + fainter_mag)


@st.composite
def kits(draw: st.DrawFn) -> Kit:
    aperture = draw(st.floats(50.0, 500.0))
    telescope = Telescope(
        "T", aperture, aperture * draw(st.floats(4.0, 12.0)), aperture * draw(st.floats(0.0, 0.4))
    )
    eyepieces = tuple(
        Eyepiece(f"E{row}", focal, draw(st.floats(40.0, 82.0)))
        for row, focal in enumerate(draw(st.lists(st.floats(4.0, 40.0), min_size=1, max_size=3)))
    )
    glass = draw(st.none() | st.just(Binoculars("10x50", 10.0, 50.0)))
    return Kit((telescope,), eyepieces, draw(st.none() | st.just(Barlow())), glass, draw(
        st.sampled_from([(), (BOTH,), (BOTH, OXYGEN)])
    ))  # fmt: skip


skies = st.floats(8.0, 22.5)
airs = st.floats(1.0, 10.0)


def merit(
    target: Target,
    kit: Kit = FULL_KIT,
    sky_brightness: float = 21.0,
    airmass: float = 1.2,
    age: int = 40,
    site: Site = SITE,
    settings: MeritSettings | None = None,
) -> float:
    """Return the best merit of one target, worked out directly."""
    optics = optics_of(kit, [Observer(age=age)], settings)
    return float(merits_through([target], optics, sky_brightness, airmass, site, settings).max())


def never_falls(values: ArrayLike) -> bool:
    """Tell whether values never fall, but for the last digits."""
    return bool((np.diff(np.asarray(values)) >= -1e-9).all())
