"""An optic as a visit carries it, with the reason why this one, in words."""

from __future__ import annotations

from ..domain import BINOCULARS, NAKED_EYE, Extended, Kind, Lines, Pair, Target, View
from .advice import AIM_MM
from .judgement import MeritSettings
from .optics import Optic
from .profile import typical_of


def view_of(optic: Optic, target: Target, settings: MeritSettings | None = None) -> View:
    """Return what a target is looked at through, and why."""
    return View(
        optic.instrument, optic.eyepiece, optic.barlow, optic.filter.name if optic.filter else None,
        optic.magnification, optic.true_field_deg, optic.exit_pupil_mm,
        why_view(optic, target, settings or MeritSettings()), optic.observers,
    )  # fmt: skip


def why_view(optic: Optic, target: Target, settings: MeritSettings) -> str:
    """Return in words why a target is looked at through this.

    Examples
    --------
    >>> from scheduler.domain import Eyepiece, Kit, Observer, Telescope
    >>> from scheduler.visibility.optics import optics_of
    >>> kit = Kit((Telescope("8 inch", 200, 1200),), (Eyepiece("25 mm", 25),))
    >>> pleiades = Target("M 45", Kind.DEEP_SKY, 56.6, 24.1, size_arcmin=110, nature=Extended("open cluster"))
    >>> why_view(optics_of(kit, [Observer()])[-1], pleiades, MeritSettings())
    'lowest power that shows it as well as any: wider than the field, go round it, 4.2 mm exit pupil'
    """
    reasons = [_fit(optic, target, settings)]
    if optic.filter is not None:
        lines = (
            "the nebula's lines"
            if optic.filter.lines is Lines.BOTH
            else f"its {optic.filter.lines.value} light"
        )
        name = optic.filter.name
        named = name if "filter" in name.casefold() else f"{name} filter"
        reasons.append(f"{named} darkens the sky behind {lines}")
    if optic.family != NAKED_EYE:
        reasons.append(f"{optic.exit_pupil_mm:.1f} mm exit pupil")
    return f"{_choice(optic, target)}: {', '.join(reasons)}"


def _choice(optic: Optic, target: Target) -> str:
    if target.instrument is not None:
        return "as asked for"
    if target.kind in (Kind.PLANET, Kind.MOON_FEATURE):
        return "the power for fine detail"
    if target.kind is Kind.METEOR_SHOWER:
        return "nothing in the way"
    if target.kind is Kind.VARIABLE_STAR:
        return "the smallest that shows it well, with its neighbours to compare"
    if optic.family == NAKED_EYE:
        return "shows it better than any glass"
    if optic.family == BINOCULARS:
        return "nothing you have shows it better"
    what = target.nature.what if isinstance(target.nature, Extended) else ""
    if what in AIM_MM:
        return f"the usual power for a {what}, and none shows it better"
    return "lowest power that shows it as well as any"


def _fit(optic: Optic, target: Target, settings: MeritSettings) -> str:
    """Return how the field, or the power, suits the target."""
    if target.kind is Kind.METEOR_SHOWER:
        return "the whole sky at once"
    if target.kind is Kind.DOUBLE_STAR:
        if isinstance(target.nature, Pair):
            return f'{optic.magnification:.0f}x for {target.nature.separation_arcsec:.1f}"'
        return f"{optic.magnification:.0f}x"
    size_arcmin = target.size_arcmin
    if target.kind is not Kind.DEEP_SKY or size_arcmin is None:
        return f"{optic.magnification:.0f}x"
    field_arcmin = 60.0 * optic.true_field_deg
    if size_arcmin > field_arcmin:
        return "wider than the field, go round it"
    stars = isinstance(target.nature, Extended) and typical_of(target.nature.what).stars is not None
    room = settings.cluster_room if stars else 1.0
    if field_arcmin >= 1.25 * room * size_arcmin:
        return "frames it with room"
    return "just frames it"
