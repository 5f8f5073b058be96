"""Answers as JSON: nouns of the trade, whole, with ISO dates, UTC times and units in the names.

Every frozen noun is an object of its fields and of what it says of itself in words; sequences are arrays,
sets are sorted arrays. Moments are UTC with a Z, in whole seconds (G. Klyne & C. Newman, "Date and Time on
the Internet: Timestamps", RFC 3339, 2002, section 5.6), dates and times of the clock as in ISO 8601. A figure
that has no value is null, for JSON has no NaN (T. Bray, "The JavaScript Object Notation (JSON) Data
Interchange Format", RFC 8259, 2017, section 6).
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any, TypeAlias

from .cells import utc_cell
from .diary import MoonNight
from .domain import Extended, LightCurve, MoonFeature, Occasion, Orbit, Pair, Shower, Target

Plain: TypeAlias = bool | int | float | str | list["Plain"] | dict[str, "Plain"] | None

IN_WORDS = ("words", "gain", "daylight", "direction", "darkness", "sort")
"""What nouns say of themselves, told beside their fields."""

_NAMES = {("Event", "value"): "elongation_deg"}
"""Fields that are told by a name with its unit. Nouns of the sky are known by name, not to load the sky."""
_KEYED = {("Overview", "constellations")}
"""Fields whose pairs are told as an object."""


def answer_to_json(answer: object) -> str:
    """Return an answer as JSON: any noun of this library, or a sequence of them.

    So it tells what `why_then`, `why_not`, `season_prices`, `what_if`, `overview_of`, `planet_seasons_of`,
    `weather_report_of`, `diary_of`, `sky_dates_of` and `differences_of` return, and a scenario's targets.

    Examples
    --------
    >>> from scheduler import Barlow
    >>> answer_to_json(Barlow(factor=2.0))
    '{"factor": 2.0}'
    """
    return json.dumps(plain_of(answer), ensure_ascii=False, allow_nan=False)


def plain_of(answer: object) -> Plain:
    """Return an answer as what JSON is made of; see `answer_to_json`."""
    if isinstance(answer, float):
        return float(answer) if math.isfinite(answer) else None
    if isinstance(answer, datetime):
        return utc_cell(answer)
    if is_dataclass(answer):
        return _object_of(answer)
    if isinstance(answer, Mapping):
        return {str(key): plain_of(value) for key, value in answer.items()}
    if isinstance(answer, frozenset):
        return [plain_of(one) for one in sorted(answer)]
    if isinstance(answer, Sequence) and not isinstance(answer, str):
        return [plain_of(one) for one in answer]
    return _leaf_of(answer)


def what_of(target: Target) -> str:
    """Return in words what a target is.

    Examples
    --------
    >>> from scheduler import Kind
    >>> albireo = Target("Albireo", Kind.DOUBLE_STAR, 292.7, 27.96, nature=Pair(3.2, 4.7, 34.6))
    >>> what_of(albireo)
    'double star of 3.2 and 4.7 mag, 34.6″ apart'
    """
    tell = _WHATS.get(type(target.nature))
    return tell(target.nature) if tell else target.kind.value


def _object_of(noun: Any) -> dict[str, Plain]:
    sort = type(noun)
    told: dict[str, Plain] = {}
    for field in fields(noun):
        place, value = (sort.__name__, field.name), getattr(noun, field.name)
        told[_NAMES.get(place, field.name)] = plain_of(dict(value) if place in _KEYED else value)
    own = (name for name in IN_WORDS if isinstance(getattr(sort, name, None), property))
    told.update((name, plain_of(getattr(noun, name))) for name in own)
    if isinstance(noun, Target):
        told["what"] = what_of(noun)
    if isinstance(noun, MoonNight):
        told["weekday"] = f"{noun.evening:%a}"
        told["dark_min"] = noun.dark.minutes if noun.dark else 0.0
    return told


def _leaf_of(value: object) -> Plain:
    from pydantic_core import to_jsonable_python  # late: the command line must start quickly

    leaf: Plain = to_jsonable_python(value)
    return leaf


def _extended(nature: Extended) -> str:
    sort = f", type {nature.hubble}" if nature.hubble else ""
    stars = f" of about {nature.stars} stars" if nature.stars else ""
    return f"{nature.what}{stars}{sort}"


def _pair(nature: Pair) -> str:
    angle = "" if nature.position_angle_deg is None else f" at {nature.position_angle_deg:.0f}°"
    stars = f"{nature.bright_mag:.1f} and {nature.faint_mag:.1f} mag"
    return f"double star of {stars}, {nature.separation_arcsec:.1f}″ apart{angle}"


def _light_curve(nature: LightCurve) -> str:
    time = f", a {nature.phase.value} every {nature.period_d:g} days" if nature.period_d else ""
    return f"variable star of {nature.brightest_mag:.1f} to {nature.faintest_mag:.1f} mag{time}"


def _moon_feature(nature: MoonFeature) -> str:
    latitude = f"{abs(nature.latitude_deg):.1f}° {'north' if nature.latitude_deg >= 0 else 'south'}"
    longitude = f"{abs(nature.longitude_deg):.1f}° {'east' if nature.longitude_deg >= 0 else 'west'}"
    return f"feature of the Moon, {nature.size_km:.0f} km across, at {latitude} and {longitude}"


def _orbit(nature: Orbit) -> str:
    sort = "comet" if nature.comet else "minor planet"
    return (
        f"{sort} of absolute magnitude {nature.absolute_mag:.1f}, {nature.perihelion_au:.2f} au at perihelion"
    )


def _shower(nature: Shower) -> str:
    return f"meteor shower of up to {nature.zenithal_rate:.0f} meteors an hour"


def _occasion(nature: Occasion) -> str:
    return f"event from {utc_cell(nature.start)} to {utc_cell(nature.end)}"


_WHATS: dict[type, Callable[[Any], str]] = {
    Extended: _extended, Pair: _pair, LightCurve: _light_curve, MoonFeature: _moon_feature, Orbit: _orbit,
    Shower: _shower, Occasion: _occasion,
}  # fmt: skip
