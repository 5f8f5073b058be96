"""A way of looking as the noun a plan holds."""

from __future__ import annotations

from ..domain import Target, View
from .judgement import MeritSettings
from .optics import Optic


def view_of(optic: Optic, target: Target, settings: MeritSettings) -> View:
    """Return the view."""
    return View(
        optic.instrument, optic.eyepiece, optic.barlow, optic.filter.name if optic.filter else None,
        optic.magnification, optic.true_field_deg, optic.exit_pupil_mm, "shows it best", optic.observers,
    )  # fmt: skip
