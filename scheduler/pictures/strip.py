"""An evening's sky in one strip: where the programme's targets stand, in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from math import ceil, floor

import svg

from ..domain import Horizon, Plan, Visit
from ..domain.plan import direction_of
from .moonspot import MoonSpot, moon_spot
from .parted import parted
from .shapes import disc, line, moon, outline, words
from .whole import WIDE, picture

POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
HOW = (
    "Altitude upwards, azimuth from left to right. Each number is a visit of the programme, where its target "
    "stands half-way through; the line joins them in order. The Moon is where she stands in the middle of it."
)
_LEAST_DEG = 90.0
_MARGIN_DEG = 15.0


@dataclass(frozen=True, slots=True)
class _Frame:
    """Measures, in units; azimuths from `start_deg`, counted on beyond north, over `span_deg`."""

    text: float
    left: float
    right: float
    top: float
    foot: float
    r: float
    start_deg: float
    span_deg: float

    def x_of(self, azimuth_deg: float) -> float:
        """Return where an azimuth is; one that lies nowhere in the strip comes out right of it."""
        return self.left + (azimuth_deg - self.start_deg) % 360 / self.span_deg * (self.right - self.left)

    def y_of(self, altitude_deg: float) -> float:
        return self.foot - max(0.0, altitude_deg) / 90 * (self.foot - self.top)


def sky_strip(plan: Plan, evening: date, *, width: float = 344.0) -> str:
    """Return an evening's programme on the sky as an `<svg>` element, altitude against azimuth.

    Parameters
    ----------
    evening : Names the night; without a programme its strip shows a horizon only.
    width : In units; the strip is as broad in azimuth as the programme asks for.

    Notes
    -----
    The Moon is left out while she is down, and where a programme is too short to tell where she stands.
    """
    visits = sorted((one for one in plan.visits if one.evening == evening), key=lambda one: one.order)
    site = plan.site_of(evening)
    spot = moon_spot(visits, site.latitude_deg)
    frame = _frame_of(width, [*(one.sight.azimuth_deg for one in visits), *(spot[1:2] if spot else ())])
    drawn = [*_axes(frame), *(_horizon(frame, site.horizon) if site.horizon else ())]
    drawn.append(line(frame.left, frame.foot, frame.right, frame.foot, "base"))
    label = f"Where the {len(visits)} targets of {evening.day} {evening:%B} {evening.year} stand"
    if spot:
        label += f"; the Moon {spot[0]:.0f}° up in the {direction_of(spot[1])}"
    drawn += _programme(frame, visits, spot, right=_lit_from_the_right(plan, evening))
    height = frame.foot + 1.6 * frame.text
    return picture(drawn, width, height, frame.text, "strip", label=label, how=HOW, linked=False)


def _frame_of(width: float, azimuths_deg: Sequence[float]) -> _Frame:
    start_deg, span_deg = range_of(azimuths_deg)
    text, tall = (12.0, 200.0) if width >= WIDE else (10.5, 150.0)
    return _Frame(text, 26.0, width - 6.0, 6.0, tall, 0.76 * text, start_deg, span_deg)


def range_of(azimuths_deg: Sequence[float]) -> tuple[float, float]:
    """Return where a strip that holds these azimuths begins, and how broad it is; south without any.

    Examples
    --------
    >>> range_of([350.0, 20.0]), range_of([180.0]), range_of([])
    ((320.0, 90.0), (135.0, 90.0), (90.0, 180.0))
    """
    if not azimuths_deg:
        return 90.0, 180.0
    ordered = sorted(azimuth_deg % 360 for azimuth_deg in azimuths_deg)
    gaps = [after - before for before, after in pairwise([*ordered, ordered[0] + 360.0])]
    place = max(range(len(gaps)), key=gaps.__getitem__)
    first_deg, held_deg = ordered[(place + 1) % len(ordered)], 360.0 - gaps[place]
    span_deg = min(360.0, max(_LEAST_DEG, held_deg + 2 * _MARGIN_DEG))
    return (first_deg - (span_deg - held_deg) / 2) % 360, span_deg


def _axes(frame: _Frame) -> list[svg.Element]:
    """Return the lines at 30 and 60 degrees, and the points of the compass below."""
    drawn: list[svg.Element] = []
    for altitude_deg in (30, 60):
        y = frame.y_of(altitude_deg)
        drawn.append(line(frame.left, y, frame.right, y, "grid"))
        drawn.append(words(frame.left - 4, y + 0.36 * frame.text, f"{altitude_deg}°", "quiet", anchor="end"))
    step_deg = 45 if frame.span_deg <= 225 or frame.right - frame.left > WIDE else 90
    end_deg = frame.start_deg + frame.span_deg
    for place in range(ceil(frame.start_deg / step_deg), floor(end_deg / step_deg) + 1):
        azimuth_deg = place * step_deg
        x = frame.left + (azimuth_deg - frame.start_deg) / frame.span_deg * (frame.right - frame.left)
        if frame.left + 6 <= x <= frame.right - 6:
            letters = POINTS[azimuth_deg // 45 % 8]
            drawn.append(line(x, frame.foot, x, frame.foot + 3, "base"))
            drawn.append(words(x, frame.foot + 1.35 * frame.text, letters, "strong", anchor="middle"))
    return drawn


def _horizon(frame: _Frame, horizon: Horizon) -> list[svg.Element]:
    """Return what stands round the site, from the left edge to the right."""
    corners = [(frame.left, frame.foot)]
    steps = max(2, round(frame.span_deg))
    for step in range(steps + 1):
        azimuth_deg = frame.start_deg + frame.span_deg * step / steps
        x = frame.left + (frame.right - frame.left) * step / steps
        corners.append((x, frame.y_of(lowest_deg(horizon, azimuth_deg % 360))))
    return [outline([*corners, (frame.right, frame.foot)], "horizon")]


def lowest_deg(horizon: Horizon, azimuth_deg: float) -> float:
    """Return the lowest clear altitude in a direction: straight between the horizon's points. [deg]

    >>> lowest_deg(Horizon((90.0, 270.0), (10.0, 30.0)), 0.0)
    20.0
    """
    points = list(zip(horizon.azimuth_deg, horizon.altitude_deg, strict=True))
    (last_deg, last_high), (first_deg, first_high) = points[-1], points[0]
    round_deg = [(last_deg - 360, last_high), *points, (first_deg + 360, first_high)]
    for (left_deg, low), (right_deg, high) in pairwise(round_deg):
        if left_deg <= azimuth_deg <= right_deg and right_deg > left_deg:
            return low + (high - low) * (azimuth_deg - left_deg) / (right_deg - left_deg)
    return first_high


def _lit_from_the_right(plan: Plan, evening: date) -> bool:
    waxing = any(night.evening == evening and night.moon_waxing for night in plan.diary)
    return waxing != (plan.site_of(evening).latitude_deg < 0)


def _programme(
    frame: _Frame, visits: Sequence[Visit], spot: MoonSpot | None, *, right: bool
) -> list[svg.Element]:
    """Return the Moon and the visits as numbered discs, none over another, joined in order."""
    places = [(frame.x_of(one.sight.azimuth_deg), frame.y_of(one.sight.altitude_deg)) for one in visits]
    drawn: list[svg.Element] = []
    if len(visits) > 1:
        drawn.append(outline(places, "path", closed=False))
    beside = []
    if spot:
        x, y = frame.x_of(spot[1]), frame.y_of(spot[0])
        drawn += moon(x, y, frame.r, spot[2].sight.moon_lit_fraction, right=right)
        beside.append((x, y))
    bounds = (frame.left + frame.r, frame.top, frame.right - frame.r, frame.foot - frame.r)
    discs = parted(places, 2 * frame.r + 1.5, bounds, beside)
    for visit, (x, y) in zip(visits, discs, strict=True):
        drawn.append(disc(x, y, frame.r, "spot"))
        size = frame.text if visit.order < 10 else 0.96 * frame.text
        drawn.append(words(x, y + 0.36 * size, f"{visit.order}", anchor="middle", size=size))
    return drawn
