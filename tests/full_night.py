"""A night of twelve targets and three standbys, in words as long as real plans have them.

The words are those this program found for the Larkmoor example on 2027-03-05; the sky is not of the date.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from scheduler.domain import (
    Extended,
    Eyepiece,
    FreeNight,
    Kind,
    Plan,
    Pointing,
    Span,
    Standby,
    Target,
    Telescope,
    View,
    Visit,
)
from tests.small_plan import FIRST, KIT, SECOND, night, plan, sight, utc, with_nights

TELESCOPE = "200 mm f/6 Newtonian"
BEGIN = utc(FIRST, 18, 20)
GALAXY = "the usual power for a galaxy, and none shows it better: frames it with room, 1.5 mm exit pupil"
LINES = (
    "the usual power for a planetary nebula, and none shows it better: frames it with room, narrow-band "
    "filter darkens the sky behind the nebula's lines, 2.8 mm exit pupil"
)
LOOKS = (
    ("M 105", "NGC 3379", "Leo", 27, 109, "East-south-east, two and a half fists up (27°)",
     "Start from Regulus (1.4 mag): one fist (10°) to its lower left, towards eight o'clock."),
    ("M 97", "Owl Nebula", "Ursa Major", 57, 65, "East-north-east, five and a half fists up (57°)",
     "Start from Merak (2.4 mag): one finger (2.3°) below it. Find it in binoculars first."),
    ("M 65", "NGC 3623", "Leo", 30, 112, "East-south-east, three fists up (30°)",
     "Start from Chertan (3.3 mag): one finger (2.6°) below it."),
    ("M 106", "NGC 4258", "Canes Venatici", 51, 74, "East-north-east, five fists up (51°)",
     "Start from Phecda (2.4 mag): one fist (8°) to its lower right, towards five o'clock."),
    ("M 109", "NGC 3992", "Ursa Major", 60, 72, "East-north-east, six fists up (60°)",
     "Start from Phecda (2.4 mag): a quarter of a finger (0.6°) below it."),
    ("M 66", "NGC 3627", "Leo", 39, 132, "South-east, four fists up (39°)",
     "Start from Chertan (3.3 mag): one finger (2.8°) below it."),
    ("M 84", "NGC 4374", "Virgo", 34, 121, "East-south-east, three and a half fists up (34°)",
     "Start from Denebola (2.1 mag): one fist (9°) to its lower left, towards eight o'clock."),
    ("M 89", "NGC 4552", "Virgo", 36, 126, "South-east, three and a half fists up (36°)",
     "Start from Vindemiatrix (2.8 mag): three fingers (6.7°) to its upper right."),
    ("M 88", "NGC 4501", "Coma Berenices", 41, 134, "South-east, four fists up (41°)",
     "Start from Vindemiatrix (2.8 mag): one fist (8°) to its upper right, towards one o'clock."),
    ("M 61", "NGC 4303", "Virgo", 35, 150, "South-south-east, three and a half fists up (35°)",
     "Start from Porrima (2.7 mag): one fist (8°) above it, towards half past twelve."),
    ("M 90", "NGC 4569", "Virgo", 45, 151, "South-south-east, four and a half fists up (45°)",
     "Start from Vindemiatrix (2.8 mag): three fingers (6.6°) to its upper right."),
    ("M 91", "NGC 4548", "Coma Berenices", 46, 160, "South-south-east, four and a half fists up (46°)",
     "Start from Vindemiatrix (2.8 mag): four fingers (7.4°) to its upper right."),
)  # fmt: skip
STANDBYS = ("M 105", "M 97", "M 65")


def full_plan(looks: int = 12) -> Plan:
    """Return the small plan with a first night of so many targets, up to twenty-four."""
    every = [_renamed(number) for number in range(looks)]
    targets = tuple(
        Target(name, Kind.DEEP_SKY, 186.3, 12.9, also_known_as=alias, magnitude=9.3, size_arcmin=7.6,
               nature=Extended("galaxy", 4.4))
        for name, alias, *_ in every
    )  # fmt: skip
    lasts = timedelta(minutes=20 * looks + 4 * (looks - 1))
    free = Span(utc(FIRST, 18), BEGIN + lasts + timedelta(minutes=30))
    return with_nights(
        FreeNight(night(FIRST).night, free, 0.33), night(SECOND),
        targets=(*plan().targets, *targets),
        visits=(*(_visit(number) for number in range(looks)), plan().visits[2]),
        standbys=(*plan().standbys, *(_standby(order, name) for order, name in enumerate(STANDBYS, 1))),
        kit=replace(KIT, telescopes=(Telescope(TELESCOPE, 200.0, 1200.0, 50.0),),
                    eyepieces=(Eyepiece("17 mm", 17.0), Eyepiece("9 mm", 9.0))),
    )  # fmt: skip


def _renamed(number: int) -> tuple[str, str, str, int, int, str, str]:
    name, *rest = LOOKS[number % len(LOOKS)]
    return (name if number < len(LOOKS) else f"{name} again", *rest)  # type: ignore[return-value]


def _visit(number: int) -> Visit:
    name, _, constellation, altitude_deg, azimuth_deg, where, way = _renamed(number)
    start = BEGIN + timedelta(minutes=24 * number)
    stands = replace(
        sight(), constellation=constellation, altitude_deg=float(altitude_deg), azimuth_deg=float(azimuth_deg)
    )
    return Visit(
        name, FIRST, number + 1, Span(start, start + timedelta(minutes=20)), stands,
        "shows at 87 % of its best; Moon down; 20 later free nights as good", _view(name),
        Pointing("Regulus", 1.4, 10.0, f"{where}. {way}"),
    )  # fmt: skip


def _view(name: str) -> View:
    with_filter = "narrow-band filter" if name == "M 97" else None
    return View(TELESCOPE, "9 mm", False, with_filter, 133.0, 0.4, 1.5, LINES if with_filter else GALAXY)


def _standby(order: int, name: str) -> Standby:
    _, _, _, _, _, where, way = next(look for look in LOOKS if look[0] == name)
    return Standby(
        name, FIRST, order, Span(utc(FIRST, 19), utc(FIRST, 23)), utc(FIRST, 21), sight(), "Moon down",
        _view(name), Pointing("Regulus", 1.4, 10.0, f"{where}. {way}"),
    )  # fmt: skip
