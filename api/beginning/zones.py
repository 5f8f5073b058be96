"""Whether a time zone fits its place, and which one was meant by what is none."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from difflib import SequenceMatcher
from zoneinfo import ZoneInfo

from ..settings import known_zones
from .places import Place, folded, nearest_place, places_named
from .values import degrees
from .writing import Typed

APART_H = 0.5
"""Clocks of two zones that differ by so much would put the sky at another hour."""
NEAR_KM = 100.0
"""Hardly anybody's place is farther from a town of 15 000 people, but for seas and deserts."""
FAR_KM = 500.0
"""Beyond this a town's clock says little: who is at sea may go by the Sun's."""
BY_THE_SUN_H = 1.5
ALIKE = 0.75
"""How much of a zone's last part must be as it was typed, for it to be proposed. [0..1]"""
_JANUARY, _JULY = datetime(2027, 1, 15, 12, tzinfo=UTC), datetime(2027, 7, 15, 12, tzinfo=UTC)


def zone_proposed(typed: Typed) -> tuple[Place, float] | None:
    """Return the town whose zone goes with a place without one, and how far away it is [km]; else None."""
    here = _here(typed)
    return nearest_place(*here) if here and not typed["zone"].strip() else None


def zone_doubted(typed: Typed) -> tuple[str, str]:
    """Return what speaks against the zone of a place, and the place and zone in one line; or two blanks."""
    here, zone = _here(typed), typed["zone"].strip()
    doubt = zone_doubt(*here, zone) if here else None
    return (doubt, " ".join((*map(str, here), zone))) if here and doubt else ("", "")


def zone_doubt(latitude_deg: float, longitude_deg: float, zone: str) -> str | None:
    """Return what speaks against a time zone for a place on Earth, or None.

    Either the nearest town's clock differs, or there is no town near, but one of this clock where the
    longitude has the other sign. At a border or at sea the zone may be right all the same.

    Parameters
    ----------
    latitude_deg, longitude_deg : North and east positive. [deg]
    zone : IANA name; what is none is doubted elsewhere.
    """
    if zone not in known_zones():
        return None
    near, km = nearest_place(latitude_deg, longitude_deg)
    if not _same_clock(near.zone, zone) and not (km > FAR_KM and _by_the_sun(longitude_deg, zone)):
        doubt = f"the nearest town, {near.name}, {km:.0f} km away, keeps {near.zone}"
    elif km > NEAR_KM:
        mirrored, mirrored_km = nearest_place(latitude_deg, -longitude_deg)
        if mirrored_km > NEAR_KM or not _same_clock(mirrored.zone, zone):
            return None
        doubt = (
            f"the nearest town, {near.name}, is {km:.0f} km away; with the other sign it is {mirrored.name}, "
            f"{mirrored_km:.0f} km"
        )
    else:
        return None
    return f"{doubt}: are the longitude’s sign and the time zone right? Press the button again if they are."


def zones_meant(typed: str, alike: Iterable[str]) -> tuple[str, ...]:
    """Return what may have been meant by a time zone there is not: that of the town it names, or ones alike.

    Parameters
    ----------
    typed : What was typed, such as Europe/Freiburg or Freiburg.
    alike : Zones whose names look like it, best first.

    Examples
    --------
    >>> zones_meant("Europe/Graz", ["Europe/Riga"]), zones_meant("Europe/Vienn", ["Europe/Vienna"])
    (('Europe/Vienna',), ('Europe/Vienna',))
    """
    name = _last_part(typed)
    for town in places_named(name, 1):
        if folded(town.name).split()[0] == name.split()[0]:
            return (town.zone,)
    return tuple(zone for zone in alike if SequenceMatcher(None, name, _last_part(zone)).ratio() >= ALIKE)


def _last_part(zone: str) -> str:
    return folded(zone.strip().rpartition("/")[2].replace("_", " "))


def _here(typed: Typed) -> tuple[float, float] | None:
    """Return the latitude and longitude that were typed, or None where they are none. [deg]"""
    latitude_deg, longitude_deg = degrees(typed["latitude"], "NS"), degrees(typed["longitude"], "EW")
    if isinstance(latitude_deg, str) or isinstance(longitude_deg, str):
        return None
    sound = abs(latitude_deg) <= 90.0 and abs(longitude_deg) <= 180.0
    return (latitude_deg, longitude_deg) if sound else None


def _same_clock(one: str, other: str) -> bool:
    """Tell whether the clocks of two zones agree in January and in July."""
    return all(abs(_ahead_h(noon, one) - _ahead_h(noon, other)) < APART_H for noon in (_JANUARY, _JULY))


def _by_the_sun(longitude_deg: float, zone: str) -> bool:
    return min(abs(_ahead_h(noon, zone) - longitude_deg / 15.0) for noon in (_JANUARY, _JULY)) <= BY_THE_SUN_H


def _ahead_h(noon: datetime, zone: str) -> float:
    ahead = noon.replace(tzinfo=ZoneInfo(zone)).utcoffset()
    return ahead.total_seconds() / 3600.0 if ahead is not None else 0.0
