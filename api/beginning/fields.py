"""The fields of the form: what they are called, and what to do where one is needed and blank."""

from __future__ import annotations

from collections.abc import Iterable
from types import MappingProxyType

EYEPIECES = 5
"""Rows for eyepieces; more can be written into scenario.toml."""
EVENING_RULES = 2
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
WISHES = "wishes"
MOST_LETTERS = 400_000
"""Of one field."""

_PLACE = {
    "search": "Town",
    "site_name": "What you call the place",
    "latitude": "Latitude",
    "longitude": "Longitude",
    "zone": "Time zone",
    "elevation": "Height above the sea",
    "sky": "How dark is it there?",
}
_KIT = {
    "aperture": "Aperture",
    "focal_length": "Focal length",
    "telescope_type": "Kind of telescope",
    **{f"eyepiece_{one}": f"Eyepiece {one}" for one in range(1, EYEPIECES + 1)},
    **{f"eyepiece_{one}_field": f"Apparent field of eyepiece {one}" for one in range(1, EYEPIECES + 1)},
    "barlow": "Barlow lens",
    "binoculars_power": "Magnification of the binoculars",
    "binoculars_aperture": "Aperture of the binoculars",
    "binoculars_field": "True field of the binoculars",
}
_WHEN = {
    "start": "First evening",
    "nights": "How many nights",
    **{f"weekdays_{one}": f"Days, evenings {one}" for one in range(1, EVENING_RULES + 1)},
    **{f"from_{one}": f"From, evenings {one}" for one in range(1, EVENING_RULES + 1)},
    **{f"until_{one}": f"Until, evenings {one}" for one in range(1, EVENING_RULES + 1)},
    "away": "Evenings you are away",
    "nights_per_month": "Nights out in a month",
    "odds": "How often is an evening clear?",
    **{f"odds_{month.lower()}": month for month in MONTHS},
}
LABELS = MappingProxyType(
    {"title": "What to call this year", **_PLACE, **_KIT, **_WHEN, WISHES: "Your wish-list"}
)
"""Every field by its name in the form, in the order of the page."""

MISSING = MappingProxyType({
    "latitude": "choose a town above, or write it as 47.3 or 47° 18′ N",
    "longitude": "choose a town above, or write it as 11.4 or 11° 24′ E; east is positive",
    "zone": "choose a town above, or write it as Europe/Vienna",
    "aperture": "write the aperture in millimetres, such as 200; or fill in binoculars",
    "focal_length": "write the focal length in millimetres, such as 1200; it is printed on the tube",
    "binoculars_power": "write the first of the two figures printed on them, 10 of 10x50",
    "binoculars_aperture": "write the second of the two figures printed on them, 50 of 10x50",
    **{f"eyepiece_{one}": "write the focal length printed on it, in millimetres"
       for one in range(1, EYEPIECES + 1)},
    WISHES: "write one target a line, or take a ready list",
})  # fmt: skip
"""What to do where a field is needed and blank."""


def typed_in(items: Iterable[tuple[str, str]]) -> dict[str, str]:
    r"""Return every field's text, blank where nothing was typed; what is no field of the form is left out.

    Several values of one field, as of ticked days, are joined by commas.

    Examples
    --------
    >>> typed = typed_in([("weekdays_1", "Fri"), ("weekdays_1", "Sat"), ("wishes", "M 31\r\nM 42")])
    >>> typed["weekdays_1"], typed["wishes"], typed["zone"]
    ('Fri, Sat', 'M 31\nM 42', '')
    """
    found: dict[str, list[str]] = {name: [] for name in LABELS}
    for name, text in items:
        if name in found:
            found[name].append(_plain(text))
    return {name: ", ".join(one for one in texts if one) for name, texts in found.items()}


def _plain(text: str) -> str:
    """Return a text with plain line ends, as UTF-8 can hold it."""
    lines = text[:MOST_LETTERS].replace("\r\n", "\n").replace("\r", "\n")
    return lines.encode("utf-8", "replace").decode()
