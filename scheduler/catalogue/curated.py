"""Our own tables of what is no deep-sky object and no double star, each row with its source.

Features of the Moon, variable stars, meteor showers, bright minor planets, the lunar eclipse. They take the
names that are left: where a name already means something else ("Delta Cephei" the double star, "Iris" the
nebula) it goes on meaning that, and ours answers to what tells it apart: "Delta Cephei (variable)", "7 Iris",
"Atlas (crater)".
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..domain import JUPITER, MOON, Kind, LightCurve, MoonFeature, Orbit, Phase, Shower
from .entry import Entry
from .sheets import constellation_of_star, full_name, in_full, sheet
from .tables import Piece

INSTEAD = dict.fromkeys(("moon", "luna", "fullmoon"), ("Lunar eclipse", "Copernicus", "Rupes Recta"))
"""What to offer for the Moon as a whole, which is no target: it is seen by its features. By key."""

_GAUSS = 0.01720209895
_CRATERS = ("crater", "walled plain")


def pieces() -> Iterator[Piece]:
    """Yield every entry of these tables, the ones more often asked for first."""
    yield from moon_features()
    yield from variables()
    yield from showers()
    yield from minor_bodies()
    yield lunar_eclipse()
    yield shadow_transit()


def moon_features() -> Iterator[Piece]:
    """Yield craters, mountains, valleys and seas; those beyond the mean limb need a good libration."""
    for row in sheet("moon_features.csv"):
        names = (row["name"], *_more(row))
        feature = MoonFeature(
            longitude_deg=float(row["longitude_deg"]), latitude_deg=float(row["latitude_deg"]),
            size_km=float(row["size_km"]),
        )  # fmt: skip
        entry = Entry(
            name=row["name"], identity=f"Moon {row['name']}", kind=Kind.MOON_FEATURE, what=row["what"],
            body=MOON, nature=feature,
        )  # fmt: skip
        sorts = {row["what"], "crater" if row["what"] in _CRATERS else row["what"]}
        aliases = [f"{name} ({sort})" for name in names for sort in sorts]
        aliases += [f"{sort} {name}" for name in names for sort in sorts]
        yield Piece(entry, row["source"], names, (*aliases, *(f"Moon: {name}" for name in names)))


def variables() -> Iterator[Piece]:
    """Yield variable stars; magnitude is that at their brightest."""
    for row in sheet("variables.csv"):
        full = in_full(row["designation"])
        names = tuple(name for name in (row["name"], full, *_more(row)) if name)
        curve = _light_curve(row)
        entry = Entry(
            name=names[0], identity=f"{names[0]} (variable)", kind=Kind.VARIABLE_STAR, what=row["what"],
            ra_deg=float(row["ra_deg"]), dec_deg=float(row["dec_deg"]),
            constellation=constellation_of_star(row["designation"]), magnitude=curve.brightest_mag,
            nature=curve,
        )  # fmt: skip
        every = (*names, row["designation"])
        told_apart = [text for name in every for text in (f"{name} (variable)", f"variable {name}")]
        yield Piece(entry, row["source"], names, (row["designation"], *told_apart))


def _light_curve(row: dict[str, str]) -> LightCurve:
    curve = LightCurve(brightest_mag=float(row["brightest_mag"]), faintest_mag=float(row["faintest_mag"]))
    if not row["period_d"]:
        return curve
    return LightCurve(
        curve.brightest_mag, curve.faintest_mag, epoch_hjd=float(row["epoch_hjd"]),
        period_d=float(row["period_d"]), phase=Phase(row["phase"]), wide_h=float(row["wide_h"]),
        mean_maximum_mag=float(row["mean_maximum_mag"]) if row["mean_maximum_mag"] else None,
    )  # fmt: skip


def showers() -> Iterator[Piece]:
    """Yield meteor showers by their radiants at the peak.

    References
    ----------
    Rates fall as 10 ** (-slope * degrees from the peak): P. Jenniskens, "Meteor stream activity I",
    Astronomy & Astrophysics 287 (1994) 990.
    """
    for row in sheet("showers.csv"):
        shower = Shower(
            peak_longitude_deg=float(row["peak_longitude_deg"]), zenithal_rate=float(row["zenithal_rate"]),
            population_index=float(row["population_index"]), rise_per_deg=float(row["rise_per_deg"]),
            fall_per_deg=float(row["fall_per_deg"]),
        )  # fmt: skip
        entry = Entry(
            name=row["name"], identity=row["name"], kind=Kind.METEOR_SHOWER, what="meteor shower",
            ra_deg=float(row["ra_deg"]), dec_deg=float(row["dec_deg"]),
            constellation=full_name(row["constellation"]), nature=shower,
        )  # fmt: skip
        names = (row["name"], *_more(row))
        one = tuple(name.removesuffix("s") for name in names)
        yield Piece(entry, row["source"], names, (*one, *(f"{name} meteor shower" for name in one)))


def minor_bodies() -> Iterator[Piece]:
    """Yield the brightest minor planets, with elements that osculate on 1 July 2027.

    Two bodies from there are within an arcminute for half a year either way, within 11 arcminutes for a year
    and a half, within 31 arcminutes until 2031 (measured against an integration with all planets).
    """
    for row in sheet("minor_bodies.csv"):
        semi_major_au, eccentricity = float(row["semi_major_au"]), float(row["eccentricity"])
        orbit = Orbit(
            perihelion_jd=perihelion_jd(
                float(row["epoch_jd"]), float(row["mean_anomaly_deg"]), semi_major_au
            ),
            perihelion_au=semi_major_au * (1.0 - eccentricity), eccentricity=eccentricity,
            inclination_deg=float(row["inclination_deg"]), node_deg=float(row["node_deg"]),
            argument_deg=float(row["argument_deg"]), absolute_mag=float(row["absolute_mag"]),
            slope=float(row["slope"]),
        )  # fmt: skip
        numbered = f"{row['number']} {row['name']}"
        entry = Entry(name=numbered, identity=numbered, kind=Kind.MINOR_BODY, what=row["what"], nature=orbit)
        sorts = ("asteroid", "minor planet", "dwarf planet")
        yield Piece(
            entry, row["source"], (row["name"], numbered), tuple(f"{sort} {row['name']}" for sort in sorts)
        )


def lunar_eclipse() -> Piece:
    """Return the eclipse of the Moon, whichever comes."""
    name = "Lunar eclipse"
    entry = Entry(name=name, identity=name, kind=Kind.ECLIPSE, what="lunar eclipse", body=MOON)
    kinds = ("total", "partial")
    aliases = [text for kind in kinds for text in (f"{kind} lunar eclipse", f"{kind} eclipse of the Moon")]
    return Piece(
        entry,
        "computed",
        (name,),
        ("eclipse of the Moon", "Moon eclipse", "eclipse", "lunar eclipses", *aliases),
    )


def shadow_transit() -> Piece:
    """Return the crossing of Jupiter's disc by the shadow of one of its moons, whichever comes."""
    name = "Shadow transit on Jupiter"
    entry = Entry(name=name, identity=name, kind=Kind.ECLIPSE, what="shadow transit", body=JUPITER)
    return Piece(entry, "computed", (name,), ("Shadow transit", "Jupiter shadow transit"))


def perihelion_jd(epoch_jd: float, mean_anomaly_deg: float, semi_major_au: float) -> float:
    """Return when a body passes perihelion, the time nearest the epoch. [TT Julian date]

    Parameters
    ----------
    epoch_jd : When the elements hold. [TT Julian date]
    mean_anomaly_deg : Mean anomaly then. [deg]
    semi_major_au : Half the long axis of the ellipse. [au]

    References
    ----------
    Kepler's third law with the Gaussian constant 0.01720209895 (IAU 1976), for a body without mass.

    Examples
    --------
    A quarter of a year before the perihelion of a body that goes round with the Earth:

    >>> round(perihelion_jd(2461587.5, 270.0, 1.0) - 2461587.5, 2)
    91.31
    """
    ahead_deg = math.remainder(-mean_anomaly_deg, 360.0)
    return epoch_jd + math.radians(ahead_deg) * semi_major_au * math.sqrt(semi_major_au) / _GAUSS


def _more(row: dict[str, str]) -> tuple[str, ...]:
    return tuple(row["more_names"].split("|")) if row["more_names"] else ()
