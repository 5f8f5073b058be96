"""Read the elements of a minor body as the Minor Planet Center publishes them: one line, or a JSON object.

Lines are read by their fields, not by their columns, so that one pasted into a table without its leading
blanks still reads.

References
----------
Minor Planet Center, Export Format for Minor-Planet Orbits; Export Format for Comet Orbits (format of
Ephemerides and Orbital Elements); Packed Dates.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from ..domain import Orbit
from ..errors import InvalidValue
from .notes import Unreadable

EXPECTED = "a line of elements as the Minor Planet Center gives it for a minor planet or a comet, or its JSON"
NO_MAGNITUDE = "elements with an absolute magnitude, without which nobody knows when it can be seen"

_JD_OF_DAY_0 = 1721424.5
_GAUSS_DEG = math.degrees(0.01720209895)
_USUAL_SLOPE, _USUAL_COMET_SLOPE = 0.15, 4.0
"""G of most minor planets; n of most comets (the brightness goes with 10 lg r)."""

_NUMBER = r"(-?\d+(?:\.\d*)?|-?\.\d+)"
_MINOR_PLANET = re.compile(
    rf"\s*\S+(?:\s+{_NUMBER})?(?:\s+{_NUMBER})?\s+([I-L]\d\d[1-9A-C][1-9A-V])"
    + rf"\s+{_NUMBER}" * 7
    + r"(?:\s|$)"
)
_COMET = re.compile(
    rf"\s*\S+(?:\s+[a-z]{{1,2}})?\s+(\d{{4}})\s+(\d{{1,2}})\s+{_NUMBER}"
    + rf"\s+{_NUMBER}" * 5
    + r"(?:\s+\d{8}|\s+\d{4}\s+\d\d\s+\d\d)?(?:\s+(-?\d+\.\d*))?(?:\s+(\d+\.\d*))?(?:\s|$)"
)


def orbit_of(text: str) -> Orbit:
    """Return the orbit in one line of elements or a JSON object.

    Raises
    ------
    Unreadable
        It is neither, or a figure in it cannot be.
    """
    if text.lstrip().startswith("{"):
        try:
            fields = json.loads(text)
        except (ValueError, RecursionError):
            raise Unreadable(EXPECTED) from None
        return orbit_from_mpc_json(fields)
    return orbit_from_mpc_line(text)


def orbit_from_mpc_line(text: str) -> Orbit:
    """Return the orbit in a line of the Minor Planet Center's list of minor planets, or of comets.

    Examples
    --------
    >>> hale_bopp = orbit_from_mpc_line(
    ...     "CJ95O010  1997 03 29.6333  0.916241  0.994928  130.6448  283.3593   88.9908"
    ...     "  20200224  -2.0  4.0  C/1995 O1 (Hale-Bopp)"
    ... )
    >>> hale_bopp.perihelion_au, hale_bopp.absolute_mag, hale_bopp.comet
    (0.916241, -2.0, True)
    """
    if len(text) <= 400 and (found := _MINOR_PLANET.match(text)):
        absolute, slope, epoch, *rest = found.groups()
        anomaly, argument, node, inclination, e, motion, axis = map(float, rest)
        return _minor_planet(
            absolute, slope, argument, node, inclination, e, axis * (1.0 - e),
            unpacked_jd(epoch) - _since_perihelion_d(anomaly, motion),
        )  # fmt: skip
    if len(text) <= 400 and (found := _COMET.match(text)):
        year, month, day, *figures, absolute, slope = found.groups()
        q, e, argument, node, inclination = map(float, figures)
        passage_jd = _jd(int(year), int(month), float(day))
        return _comet(absolute, slope, argument, node, inclination, e, q, passage_jd)
    raise Unreadable(EXPECTED)


def orbit_from_mpc_json(fields: Mapping[str, Any]) -> Orbit:
    """Return the orbit in one object of the Minor Planet Center's extended lists, of either sort."""
    if not isinstance(fields, Mapping):
        raise Unreadable(EXPECTED)

    def number(name: str) -> float:
        try:
            if isinstance(fields[name], bool):
                raise TypeError
            return float(fields[name])
        except (KeyError, TypeError, ValueError, OverflowError):
            raise Unreadable(f"an object with a number as {name}") from None

    e, angles = number("e"), [number(name) for name in ("Peri", "Node", "i")]
    absolute, slope = (number(name) if fields.get(name) is not None else None for name in ("H", "G"))
    if "Year_of_perihelion" in fields:
        year, month = (_whole(number(f"{name}_of_perihelion")) for name in ("Year", "Month"))
        passage_jd = _jd(year, month, number("Day_of_perihelion"))
        return _comet(absolute, slope, *angles, e, number("Perihelion_dist"), passage_jd)
    axis = number("a") if "a" in fields or "Perihelion_dist" not in fields else None
    q = axis * (1.0 - e) if axis is not None else number("Perihelion_dist")
    if "M" not in fields and "Tp" in fields:
        return _minor_planet(absolute, slope, *angles, e, q, number("Tp"))
    motion = number("n") if "n" in fields else _GAUSS_DEG / abs(number("a") or math.inf) ** 1.5
    passage_jd = number("Epoch") - _since_perihelion_d(number("M"), motion)
    return _minor_planet(absolute, slope, *angles, e, q, passage_jd)


def unpacked_jd(packed: str) -> float:
    """Return the Julian date of a packed date: century, year, month, day, one character each but the year.

    >>> unpacked_jd("J9611")  # 1 January 1996
    2450083.5
    """
    century, month, day = (int(character, 36) for character in (packed[0], packed[3], packed[4]))
    return _jd(100 * century + int(packed[1:3]), month, float(day))


def _minor_planet(absolute: Any, slope: Any, *elements: float) -> Orbit:
    return _orbit(False, absolute, _USUAL_SLOPE if slope is None else slope, *elements)


def _comet(absolute: Any, slope: Any, *elements: float) -> Orbit:
    return _orbit(True, absolute, _USUAL_COMET_SLOPE if slope is None else slope, *elements)


def _orbit(
    comet: bool, absolute: Any, slope: Any, argument: float, node: float, inclination: float, e: float,
    q: float, passage_jd: float,
) -> Orbit:  # fmt: skip
    if absolute is None:
        raise Unreadable(NO_MAGNITUDE)
    try:
        return Orbit(
            passage_jd,
            q,
            e,
            inclination,
            node % 360.0,
            argument % 360.0,
            float(absolute),
            float(slope),
            comet,
        )
    except InvalidValue as refused:
        raise Unreadable(f"elements whose {refused.field} is {refused.expected}") from None


def _since_perihelion_d(anomaly_deg: float, motion_deg_d: float) -> float:
    """Return the time since the perihelion nearest to the epoch."""
    if not 0.0 < motion_deg_d < 1000.0 or not math.isfinite(anomaly_deg):
        raise Unreadable("elements with a mean anomaly and a daily motion above 0")
    return ((anomaly_deg + 180.0) % 360.0 - 180.0) / motion_deg_d


def _jd(year: int, month: int, day: float) -> float:
    if not (1000 <= year <= 3000 and 1 <= month <= 12 and 1.0 <= day < 32.0):
        raise Unreadable("a date of perihelion or epoch that is in the calendar")
    return date(year, month, 1).toordinal() + _JD_OF_DAY_0 + day - 1.0


def _whole(number: float) -> int:
    return int(number) if math.isfinite(number) and number == int(number) else 0
