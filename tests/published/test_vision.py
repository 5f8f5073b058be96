"""What the eye, the glass and the air do, against figures published elsewhere; sources stand in vision.csv.

Every row is compared with a function that merit really uses, or is listed in `NOT_USED` with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from scheduler.domain import Observer, Telescope
from scheduler.domain.kit import Eyepiece, Kit
from scheduler.scenario import extinction_at
from scheduler.visibility.brightness import (
    airmass,
    moonlight_nl,
    pickering_airmass,
    to_nanolamberts,
    to_sky_brightness,
)
from scheduler.visibility.detect import (
    DARKEST_CD_M2,
    large_patch_contrast,
    small_patch_sr,
    star_limit,
    star_threshold_lux,
    to_luminance,
    to_surface_brightness,
)
from scheduler.visibility.optics import Optic, eye_pupil_mm, light_in_eye, optics_of, resolution_arcsec
from scheduler.visibility.reach import star_reach_mag

from .sky_figures import rows_of

ROWS = {row["quantity"]: row for row in rows_of("vision.csv")}

NOT_USED = {
    "Hecht rod/cone branch crossing": "Hecht's law is replaced by Crumey's",
    "Hecht rod constant = 10^-9.8 fc": "Hecht's law is replaced by Crumey's",
    "Hecht cone constant = 10^-8.35 fc": "Hecht's law is replaced by Crumey's",
    "Rayleigh 1.22 lambda/D at 550 nm * D": "the need of a pair starts from Dawes's limit",
    "colour term of limit, B-V=0.6": "no target carries a colour",
}

SQRT2 = float(np.sqrt(2.0))
MOUNT_WILSON_CD_M2 = 3.34e-4
"""Bowen's sky of 1947, 21.27 mag/arcsec2, as the paper derives it."""


def through(
    aperture_mm: float, exit_pupil_mm: float, field_factor: float, pupil_mm: float, loss: float
) -> Optic:
    """An optic whose eye has the pupil the threshold is counted from, as in the paper."""
    kit = Kit((Telescope("T", aperture_mm, 1000.0),), (Eyepiece("E", 10.0),))
    return replace(
        optics_of(kit, [Observer()])[-1],
        magnification=aperture_mm / exit_pupil_mm,
        exit_pupil_mm=exit_pupil_mm,
        light=float(light_in_eye(exit_pupil_mm, 0.0, pupil_mm, 1.0 / loss, reference_mm=pupil_mm)),
        field_factor=field_factor,
    )


def limit(one: Optic, luminance_cd_m2: float) -> float:
    return float(star_reach_mag(one, to_surface_brightness(luminance_cd_m2)))


def bowen(exit_pupil_mm: float) -> Optic:
    """His 6-inch and his eye: pupil 5.2 mm, B/Ft = 2.70e-4 cd/m2, F = 2.74 (section 3.2 of the paper)."""
    return through(152.4, exit_pupil_mm, 2.74 * SQRT2, 5.2, MOUNT_WILSON_CD_M2 / 2.70e-4)


def herschel(magnification: float) -> float:
    """His front view: 475 mm, pupil 5.08 mm, transmission 0.638, F = 2.36 (section 3.3 of the paper)."""
    optic = through(475.0, 475.0 / magnification, 2.36 * SQRT2, 5.08, 1.0 / 0.638)
    return limit(optic, float(to_luminance(21.83)))


def naked_eye(sky_brightness: float) -> float:
    return float(star_limit(to_luminance(sky_brightness), 1.0))


def large_limit(sky_brightness: float) -> float:
    background = to_luminance(sky_brightness)
    return float(to_surface_brightness(background * large_patch_contrast(background)))


def ricco_arcmin(sky_brightness: float) -> float:
    background = to_luminance(sky_brightness)
    area_sr = small_patch_sr(background) / large_patch_contrast(background)
    return float(np.degrees(np.sqrt(area_sr / np.pi)) * 60.0)


def bowens_dark_pupil_mm() -> float:
    """The exit pupil at which his sky falls to what the eye takes for black."""
    return float(np.sqrt(DARKEST_CD_M2 / (bowen(1.0).light * MOUNT_WILSON_CD_M2)))


def number_in(quantity: str, pattern: str) -> float | None:
    found = re.fullmatch(pattern, quantity)
    return float(found.group(1)) if found else None


FAMILIES: dict[str, Callable[[float], float]] = {
    r"m0 naked eye, B=2e-4, F=(\d)": lambda factor: float(star_limit(2e-4, factor)),
    r"penalty m0\(22\)-m0\(([\d.]+)\)": lambda sky: naked_eye(22.0) - naked_eye(sky),
    r"mu_inf - m0 at ([\d.]+)": lambda sky: large_limit(sky) - naked_eye(sky),
    r"mu_inf, sky ([\d.]+), F=1": large_limit,
    r"eq 55 line at ([\d.]+), F=2": lambda sky: float(star_limit(to_luminance(sky), 2.0)),
    r"eq 57 line at ([\d.]+)": large_limit,
    r"Ricco radius at ([\d.]+) \(scotopic forms\)": ricco_arcmin,
    r"Bowen 6-inch, d=([\d.]+) mm": lambda pupil_mm: limit(bowen(pupil_mm), MOUNT_WILSON_CD_M2),
    r"full-range vs scotopic limit, d=([\d.]+)": lambda pupil_mm: limit(bowen(pupil_mm), MOUNT_WILSON_CD_M2),
    r"Herschel 475 mm, M=(\d+)(?: \(cut-off\))?": herschel,
    r"pupil at (\d+)": lambda age: float(eye_pupil_mm(age)),
    r"airmass Kasten-Young h=(\d+)": lambda altitude_deg: float(airmass(altitude_deg)),
    r"airmass Pickering h=(\d+)": lambda altitude_deg: float(pickering_airmass(altitude_deg)),
    r"k_V at ([\d.]+) km": lambda height_km: extinction_at(1000.0 * height_km),
}  # fmt: skip

SINGLE: dict[str, Callable[[], float]] = {
    "zeta = B*R(B) at 1e-5": lambda: float(star_threshold_lux(1e-5, 1.0)),
    "xi1 = R(1e-5)": lambda: float(small_patch_sr(1e-5)),
    "xi2 = Cinf(1e-5)": lambda: float(large_patch_contrast(1e-5)),
    "cut-off constant eq 73 (D in cm, p=7, Ft=1.33, FT=sqrt2)":
        lambda: limit(through(100.0, 0.5, SQRT2, 7.0, 1.33), 2e-4) - 5.0,
    "cut-off, D=100 mm, phi=3.77": lambda: limit(through(100.0, 0.5, 2.0 * SQRT2, 7.0, 1.33), 2e-4),
    "Bowen cut-off exit pupil": bowens_dark_pupil_mm,
    "Bowen naked-eye limit, sky 21.27, F=2.74": lambda: float(star_limit(to_luminance(21.27), 2.74)),
    "Herschel naked-eye limit, sky 21.83, F=2.36": lambda: float(star_limit(to_luminance(21.83), 2.36)),
    "airmass Kasten-Young at horizon": lambda: float(airmass(0.0)),
    "Dawes 4.56 inch arcsec * 25.4": lambda: float(resolution_arcsec(1.0)),
    "V=21.587 as nL, 34.08 exp(20.7233-0.92104V)": lambda: float(to_nanolamberts(21.587)),
    "same by our luminance scale": lambda: float(to_luminance(21.587)) * np.pi * 1e5,
    "K&S scattered moonlight (z 20, zm 70, rho 50, phase .25, k .15)":
        lambda: float(to_sky_brightness(moonlight_nl(45.0, 50.0, 20.0, 70.0, 0.15))),
}  # fmt: skip


def ours(quantity: str) -> float | None:
    """Return what our functions say to a row, or None where nothing of ours does."""
    if quantity in SINGLE:
        return SINGLE[quantity]()
    for pattern, law in FAMILIES.items():
        number = number_in(quantity, pattern)
        if number is not None:
            return law(number)
    return None


@pytest.mark.parametrize("quantity", [name for name in ROWS if name not in NOT_USED])
def test_our_figure_is_the_published_one(quantity: str) -> None:
    row, found = ROWS[quantity], ours(quantity)
    assert found is not None
    assert abs(found - float(row["value"])) <= float(row["tolerance"]) * (1 + 1e-9)


def test_every_row_is_compared_or_set_aside_for_a_reason() -> None:
    assert len(ROWS) == 76 + 5
    assert NOT_USED.keys() <= ROWS.keys()
    assert [name for name in NOT_USED if ours(name) is not None] == []
    assert len(NOT_USED) == 5


def test_every_row_says_where_it_is_from() -> None:
    for row in ROWS.values():
        assert row["source"]
        assert row["from_memory"] in ("yes", "no")


def test_the_second_airmass_formula_agrees_with_the_first() -> None:
    altitude_deg = np.linspace(5.0, 90.0, 200)
    np.testing.assert_allclose(airmass(altitude_deg), pickering_airmass(altitude_deg), rtol=0.004)
