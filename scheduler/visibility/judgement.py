"""Every constant of the merit model that is our judgement; published ones stand with their formulas."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..domain import Filter, Lines
from ..domain.checks import holds, named, within

AnyFloats: TypeAlias = NDArray[np.floating[Any]]
"""Of single or of double precision."""


@dataclass(frozen=True, slots=True)
class LineLight:
    """How much of a nebula's visual light comes from its bright lines, by what it is.

    Attributes
    ----------
    what : As in `Extended.what`.
    oxygen : Share of the two O III lines. [0..1]
    hydrogen : Share of H-beta. [0..1]
    """

    what: str
    oxygen: float
    hydrogen: float

    def __post_init__(self) -> None:
        named("what", self.what)
        within("oxygen", self.oxygen, 0.0, 1.0)
        within("hydrogen", self.hydrogen, 0.0, 1.0 - self.oxygen)

    def through(self, passed: Lines) -> float:
        """Return the share of the light that a filter for these lines is made for."""
        return {Lines.OXYGEN: self.oxygen, Lines.HYDROGEN: self.hydrogen}.get(
            passed, self.oxygen + self.hydrogen
        )


LINE_LIGHT = (
    LineLight("planetary nebula", 0.75, 0.10),
    LineLight("emission nebula", 0.35, 0.25),
    LineLight("supernova remnant", 0.60, 0.10),
    LineLight("cluster with nebula", 0.20, 0.15),
    LineLight("nebula", 0.15, 0.10),
)
"""From memory of nebular spectra, rounded down: a dark-adapted eye is keenest between these lines."""


@dataclass(frozen=True, slots=True)
class MeritSettings:
    """The judgement in the merit model; every value is ours, none is published.

    Margins are decades (dex) of contrast or light above the threshold; a width is that of a logistic step.

    Attributes
    ----------
    field_factor : How much more light a usual eye under the sky needs than a trained one in a laboratory.
    one_eye : How much more one eye needs than two; the square root of 2 is published.
    per_surface : Share of the light that passes one optical surface or mirror. [0.5..1]
    naked_field_deg : What the naked eye takes in at once. [deg]
    seen_dex, seen_width_dex : Margin at which something faint shows half as well as it can, and the width.
    wide_cost_dex, wide_width_dex : Margin lost by an object much wider than the field, and the width in
        decades of size over field.
    cluster_room : A cluster wants a field this much wider than itself.
    cluster_cost : Margin a cluster loses for each decade by which the field is too small. [dex]
    cluster_edge_dex : Softness of that edge.
    cluster_enough_dex : Brighter stars than this above the limit do not make up for a field too small. [dex]
    cluster_as_glow : Merit of an unresolved cluster over that of a glow as bright. [0..1]
    dark_nebula_sky, dark_nebula_width : Sky in which a dark nebula shows half as well. [mag/arcsec2]
    pair_dex, pair_width_dex : Margin at which a pair is split half the time, and the width.
    pair_softness_dex : How smoothly the lesser of two margins, of light and of splitting, takes over.
    seeing_share : Part of the seeing's width that two stars must be apart.
    unequal_dex_per_mag : How much wider a pair must be for each magnitude of difference. From memory.
    eye_arcsec : Apparent distance at which an eye tells two stars apart at ease. [arcsec]
    disc_steps : A planet shows half its detail when its disc is this many resolved steps wide.
    disc_width_dex : Width of that, in decades.
    feature_steps : A Moon feature shows half as well as it can when it is this many resolved steps wide.
    dot : Merit of a planet that shows no detail at all, of what a large disc has. [0..1]
    blur_per_air : Power of the airmass by which deep-sky merit falls where more air blurs what shows as well.
    steady_altitude_deg, steady_width_deg : Altitude at which a planet shows half as well as overhead. [deg]
    ridge_deg, ridge_width_deg : Sun's altitude at a Moon feature at which its shadows let it go. [deg]
    noon_deg, noon_width_deg : Sun's altitude at which its shadows have become too short. [deg]
    moon_altitude_deg, moon_width_deg : Moon's altitude at which its features show half as well. [deg]
    shower_half_rate : Meteors an hour that make a shower half as good as a storm. [1/h]
    eclipse_altitude_deg, eclipse_width_deg : Moon's altitude at which an eclipse shows half as well. [deg]
    finest_pupil_mm : Smallest exit pupil tried on stars and clusters. [mm]
    pair_advice_slack : Less merit than this is given away for a lower power on double stars.
    advice_slack : Less merit than this is given away for a lower power.
    smaller_cost : Less merit than this is given away for the telescope instead of binoculars.
    least_merit : An opportunity worth less than this is not worth going out for.
    line_light : Shares of line light by what a nebula is.
    """

    field_factor: float = 2.0
    one_eye: float = math.sqrt(2.0)
    per_surface: float = 0.95
    naked_field_deg: float = 60.0
    seen_dex: float = 0.35
    seen_width_dex: float = 0.20
    wide_cost_dex: float = 0.5
    wide_width_dex: float = 0.08
    cluster_room: float = 1.25
    cluster_cost: float = 2.0
    cluster_edge_dex: float = 0.05
    cluster_enough_dex: float = 1.3
    cluster_as_glow: float = 0.5
    dark_nebula_sky: float = 21.0
    dark_nebula_width: float = 0.25
    pair_dex: float = 0.10
    pair_width_dex: float = 0.12
    pair_softness_dex: float = 0.05
    seeing_share: float = 0.45
    unequal_dex_per_mag: float = 0.155
    eye_arcsec: float = 150.0
    disc_steps: float = 12.0
    disc_width_dex: float = 0.15
    feature_steps: float = 3.0
    dot: float = 0.3
    blur_per_air: float = 0.1
    steady_altitude_deg: float = 18.0
    steady_width_deg: float = 5.0
    ridge_deg: float = 1.0
    ridge_width_deg: float = 0.25
    noon_deg: float = 12.0
    noon_width_deg: float = 1.0
    moon_altitude_deg: float = 20.0
    moon_width_deg: float = 6.0
    shower_half_rate: float = 15.0
    eclipse_altitude_deg: float = 6.0
    eclipse_width_deg: float = 2.0
    finest_pupil_mm: float = 0.8
    pair_advice_slack: float = 0.05
    advice_slack: float = 0.02
    smaller_cost: float = 0.08
    least_merit: float = 0.05
    line_light: tuple[LineLight, ...] = field(default=LINE_LIGHT)

    def __post_init__(self) -> None:
        for name, (low, high) in _BOUNDS.items():
            within(name, getattr(self, name), low, high)
        names = [light.what for light in self.line_light]
        holds("line_light", names, len(names) == len(set(names)), "every kind of nebula once")
        holds("noon_deg", self.noon_deg, self.noon_deg > self.ridge_deg, "a Sun higher than ridge_deg")

    def line_share(self, what: str, seen_through: Filter) -> float:
        """Return the share of an object's light that lies in a filter's lines; none unless it is listed."""
        return next((one.through(seen_through.lines) for one in self.line_light if one.what == what), 0.0)


_WIDTH = (0.01, 2.0)
_SHARE = (0.0, 1.0)
_BOUNDS: dict[str, tuple[float, float]] = {
    "field_factor": (0.5, 10.0), "one_eye": (1.0, 2.0), "per_surface": (0.5, 1.0),
    "naked_field_deg": (10.0, 120.0), "seen_dex": (-1.0, 2.0), "seen_width_dex": _WIDTH,
    "wide_cost_dex": (0.0, 2.0), "wide_width_dex": _WIDTH, "cluster_room": (0.5, 3.0),
    "cluster_cost": (0.0, 10.0), "cluster_edge_dex": (0.001, 1.0), "cluster_enough_dex": (0.3, 5.0),
    "cluster_as_glow": _SHARE,
    "dark_nebula_sky": (16.0, 22.5), "dark_nebula_width": _WIDTH, "pair_dex": (-1.0, 2.0),
    "pair_width_dex": _WIDTH, "pair_softness_dex": (0.001, 0.5), "seeing_share": _SHARE,
    "unequal_dex_per_mag": (0.0, 1.0), "eye_arcsec": (30.0, 600.0), "disc_steps": (1.0, 100.0),
    "disc_width_dex": _WIDTH, "feature_steps": (1.0, 100.0), "dot": _SHARE,
    "blur_per_air": (0.0, 1.0), "steady_altitude_deg": (0.0, 60.0), "steady_width_deg": (0.5, 30.0),
    "ridge_deg": (-5.0, 20.0), "ridge_width_deg": (0.05, 10.0),
    "noon_deg": (0.0, 90.0), "noon_width_deg": (0.05, 30.0), "moon_altitude_deg": (0.0, 60.0),
    "moon_width_deg": (0.5, 30.0), "shower_half_rate": (0.1, 1000.0), "eclipse_altitude_deg": (0.0, 60.0),
    "eclipse_width_deg": (0.5, 30.0), "finest_pupil_mm": (0.1, 5.0), "advice_slack": (0.0, 0.5),
    "pair_advice_slack": (0.0, 0.5), "smaller_cost": (0.0, 0.5),
    "least_merit": (0.0, 0.9),
}  # fmt: skip
