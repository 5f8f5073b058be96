"""Read home and the sites away of scenario.toml."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from ..domain import Availability, Club, Horizon, Site, Trip
from .keys import Table, read_table
from .notes import Notes, near

SKY_BRIGHTNESS = 21.0  # mag/arcsec2; rural sky, common practice, no source
SEEING_ARCSEC = 2.5  # a usual night near sea level; common practice, no source
_OF_TRIPS = ("travel_min", "trip_cost")
TRIP_COST_PER_H = 0.25  # an hour on the road must bring as much as a night out (our judgement)

_EXAMPLE = {
    "name": '"Blackmoss"',
    "travel_min": "60",
    "latitude_deg": "55.2",
    "longitude_deg": "-2.4",
    "zone": '"Europe/London"',
}


def extinction_at(elevation_m: float) -> float:
    """Return the visual extinction at the zenith of an average clear night. [mag/airmass]

    Parameters
    ----------
    elevation_m : Height above sea level. [m, -430..6500]

    Notes
    -----
    Air molecules, aerosol and ozone of a clean rural site; haze, dust and cities come on top. Coefficients
    from memory.

    References
    ----------
    D. W. E. Green, "Magnitude corrections for atmospheric extinction", International Comet Quarterly 14
    (1992), 55.

    Examples
    --------
    >>> [round(extinction_at(elevation_m), 2) for elevation_m in (0, 500, 1000, 2000)]
    [0.28, 0.24, 0.21, 0.16]
    """
    height_km = elevation_m / 1000.0
    molecules = 0.1451 * math.exp(-height_km / 7.996)
    aerosol = 0.120 * math.exp(-height_km / 1.5)
    return molecules + aerosol + 0.016


def site_of(read: dict[str, Any], folder_name: str, notes: Notes) -> Site | None:
    """Return home, or None with its faults noted; a site without a name has the folder's."""
    return _site(read, "site", ("latitude_deg", "longitude_deg", "zone"), {"name": folder_name}, notes)


def trips_of(tables: Sequence[Table] | None, home: Site | None, notes: Notes) -> tuple[Trip, ...]:
    """Return the sites away that can be read; the faults of the others are noted."""
    found: list[Trip] = []
    names = [home.name] if home else []
    for place, table in enumerate(tables or (), 1):
        under = f"sites.{place}"
        read = read_table(table, "sites", under, notes)
        spare = {"name": under, "zone": home.zone if home else "UTC"}
        site = _site(read, under, ("name", "latitude_deg", "longitude_deg", "travel_min"), spare, notes)
        if site is None:
            continue
        if site.name in names:
            notes.add(site.name, "every site once", column=f"{under}.name")
        names.append(site.name)
        own = {key: read[key] for key in _OF_TRIPS if key in read}
        usual = {"travel_min": 60, "trip_cost": TRIP_COST_PER_H * max(0, own.get("travel_min", 0)) / 30.0}
        trip = notes.build(Trip, {"site": site, **own}, usual, under=under)
        found += [trip] if trip else []
    return tuple(found)


def club_of(
    read: dict[str, Any], sites: Sequence[str], availability: Availability | None, notes: Notes
) -> Club:
    """Return the club's nights; evenings on which nobody is free and a site nobody named are noted.

    `sites` : Names of the sites away.
    """
    club = Club(read.get("evenings", frozenset()), read.get("site"))
    alone = [one for one in sorted(club.evenings) if availability and availability.rule_of(one) is None]
    if alone:
        expected = "evenings on which you are free; add them to availability.extra, or take them out of away"
        notes.add(", ".join(map(str, alone)), expected, column="club.evenings")
    if club.site is not None and club.site not in sites:
        expected = f"the name of a site away, {', '.join(sites) or 'of which there are none'}, or no site"
        notes.add(club.site, expected, column="club.site", near=near(club.site, sites))
    return club


def _site(
    found: Mapping[str, Any], under: str, needed: Sequence[str], spare: Mapping[str, Any], notes: Notes
) -> Site | None:
    read = {key: value for key, value in found.items() if key not in _OF_TRIPS}
    for key in needed:
        if key not in found and not notes.has(f"{under}.{key}"):
            notes.add("nothing", f"a line such as {key} = {_EXAMPLE[key]}", column=f"{under}.{key}")
    horizon = None
    if pairs := read.pop("horizon", None):
        turned, heights = zip(*pairs, strict=True)
        horizon = notes.build(
            Horizon, {"azimuth_deg": turned, "altitude_deg": heights}, {}, under=f"{under}.horizon"
        )
    height_m = read.get("elevation_m", 0.0)
    usual = extinction_at(height_m if -430.0 <= height_m <= 6500.0 else 0.0)
    usual_site = {
        "latitude_deg": 0.0,
        "longitude_deg": 0.0,
        "elevation_m": 0.0,
        "zone": "UTC",
        "sky_brightness": SKY_BRIGHTNESS,
        "extinction_mag": usual,
        "horizon": horizon,
        "seeing_arcsec": SEEING_ARCSEC,
        **spare,
    }
    return notes.build(Site, read, usual_site, under=under)
