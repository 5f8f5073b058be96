"""The form's answers as the text of a scenario.toml that reads well for who edits it later."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import tomlkit
from tomlkit.items import AoT, Table

from . import values
from .choices import ODDS, SKIES, TELESCOPES
from .fields import EVENING_RULES, EYEPIECES, MONTHS

HOME = "Home"
_EYEPIECES = tuple(f"eyepiece_{row}{end}" for row in range(1, EYEPIECES + 1) for end in ("", "_field"))
Typed = Mapping[str, str]
"""What was typed, by the fields' names; blank where nothing was."""


@dataclass(frozen=True, slots=True)
class Written:
    """A scenario.toml, and which field of the form each of its places came from."""

    text: str
    fields: Mapping[str, str]

    def field_of(self, place: str | None) -> str | None:
        """Return the field a dotted key of the file, or the table around it, came from."""
        while place:
            if place in self.fields:
                return self.fields[place]
            place = place.rpartition(".")[0]
        return None


def title_of(typed: Typed) -> str:
    """Return what the year is called."""
    return typed["title"].strip() or f"A year at {_site_name(typed)}"


def scenario_toml_of(typed: Typed, today: date) -> Written:
    """Return what was typed as a scenario.toml; what cannot be read stands there as it was typed.

    Parameters
    ----------
    typed : As `typed_in` returns it.
    today : When the season begins where no day was typed.
    """
    writing = _Writing()
    writing.document.add(
        tomlkit.comment('Written by the page "Plan from nothing"; every line may be changed.')
    )
    writing.document.add(
        tomlkit.comment("What is not here has a default: the README tells where all keys stand.")
    )
    writing.put(writing.document, "", "title", title_of(typed), "title")
    _write_site(writing, typed)
    _write_telescope(writing, typed)
    _write_binoculars(writing, typed)
    _write_season(writing, typed, today)
    _write_evenings(writing, typed)
    _write_odds(writing, typed)
    return Written(tomlkit.dumps(writing.document), writing.fields)


class _Writing:
    """A scenario.toml being written."""

    def __init__(self) -> None:
        self.document = tomlkit.document()
        self.fields: dict[str, str] = {}

    def table(self, name: str, field: str, comment: str) -> Table:
        """Begin a table."""
        table = tomlkit.table()
        table.comment(comment)
        self.document.add(tomlkit.nl())
        self.document.add(name, table)
        self.fields[name] = field
        return table

    def tables(self, name: str, comment: str) -> AoT:
        """Begin an array of tables."""
        array = tomlkit.aot()
        self.document.add(tomlkit.nl())
        self.document.add(tomlkit.comment(comment))
        self.document.add(name, array)
        return array

    def put(self, table: Any, under: str, key: str, value: object, field: str, comment: str = "") -> None:
        """Write a key, unless its field was left blank."""
        place = f"{under}.{key}" if under else key
        self.fields[place] = field
        if value in ("", []):
            return
        item = tomlkit.item(value)
        table.add(key, item.comment(comment) if comment else item)


def _site_name(typed: Typed) -> str:
    return typed["site_name"].strip() or HOME


def _write_site(writing: _Writing, typed: Typed) -> None:
    table = writing.table("site", "search", "Where you observe.")

    def put(key: str, value: object, field: str, comment: str = "") -> None:
        writing.put(table, "site", key, value, field, comment)

    put("name", _site_name(typed), "site_name")
    put("latitude_deg", values.degrees(typed["latitude"], "NS"), "latitude", "north is positive")
    put("longitude_deg", values.degrees(typed["longitude"], "EW"), "longitude", "east is positive")
    put("elevation_m", values.number(typed["elevation"], values.HEIGHTS_M), "elevation")
    put("zone", typed["zone"].strip(), "zone", "the clock of all times here and in the plan")
    put("sky_brightness", values.chosen(typed["sky"], SKIES), "sky", "overhead without Moon, mag/arcsec2")


def _write_telescope(writing: _Writing, typed: Typed) -> None:
    writing.fields |= {"telescope": "aperture", "telescopes": "aperture", "eyepieces": "eyepiece_1"}
    if not any(typed[field].strip() for field in ("aperture", "focal_length", "barlow", *_EYEPIECES)):
        return
    aperture, focal_length = (
        values.number(typed[field], values.LENGTHS_MM) for field in ("aperture", "focal_length")
    )
    table = writing.table("telescope", "aperture", "What you look through.")
    sound = [one for one in (aperture, focal_length) if isinstance(one, int | float) and one > 0]
    if len(sound) == 2:
        name = f"{sound[0]:g} mm f/{sound[1] / sound[0]:.3g} {typed['telescope_type'].strip() or 'telescope'}"
        writing.put(table, "telescope", "name", name, "telescope_type")
    writing.put(table, "telescope", "aperture_mm", aperture, "aperture")
    writing.put(table, "telescope", "focal_length_mm", focal_length, "focal_length")
    hidden = values.chosen(typed["telescope_type"], TELESCOPES)
    if len(sound) == 2 and isinstance(hidden, float) and hidden:
        across_mm = round(hidden * sound[0])
        comment = "of the small mirror in the light's way; a usual one, measure yours"
        writing.put(table, "telescope", "obstruction_mm", across_mm, "telescope_type", comment)
    _write_eyepieces(writing, typed)


def _write_eyepieces(writing: _Writing, typed: Typed) -> None:
    if any(typed[field].strip() for field in _EYEPIECES):
        array = writing.tables("eyepieces", "Your eyepieces, one table each.")
        for row in range(1, EYEPIECES + 1):
            field, wide = f"eyepiece_{row}", f"eyepiece_{row}_field"
            if typed[field].strip() or typed[wide].strip():
                table, under = tomlkit.table(), f"eyepieces.{len(array) + 1}"
                writing.fields[under] = field
                writing.put(
                    table, under, "focal_length_mm", values.number(typed[field], values.LENGTHS_MM), field
                )
                writing.put(
                    table, under, "apparent_field_deg", values.number(typed[wide], values.ANGLES_DEG), wide
                )
                array.append(table)
    if typed["barlow"].strip():
        table = writing.table("barlow", "barlow", "A lens that multiplies every eyepiece's magnification.")
        writing.put(table, "barlow", "factor", values.number(typed["barlow"], values.TIMES), "barlow")


def _write_binoculars(writing: _Writing, typed: Typed) -> None:
    fields = {"magnification": ("binoculars_power", values.TIMES),
              "aperture_mm": ("binoculars_aperture", values.LENGTHS_MM),
              "true_field_deg": ("binoculars_field", values.ANGLES_DEG)}  # fmt: skip
    if not any(typed[field].strip() for field, _ in fields.values()):
        return
    table = writing.table("binoculars", "binoculars_power", "Your binoculars: 10x50 have 10 and 50.")
    for key, (field, units) in fields.items():
        writing.put(table, "binoculars", key, values.number(typed[field], units), field)


def _write_season(writing: _Writing, typed: Typed, today: date) -> None:
    table = writing.table("season", "start", "The nights that are planned.")
    writing.put(table, "season", "start", values.day(typed["start"]) or today, "start")
    writing.put(table, "season", "nights", values.number(typed["nights"]), "nights")


def _write_evenings(writing: _Writing, typed: Typed) -> None:
    writing.fields["evenings"] = "weekdays_1"
    rules: list[Table] = []
    for rule in range(1, EVENING_RULES + 1):
        keys = {"weekdays": f"weekdays_{rule}", "start": f"from_{rule}", "finish": f"until_{rule}"}
        if any(typed[field].strip() for field in keys.values()):
            table, under = tomlkit.table(), f"evenings.{len(rules) + 1}"
            for key, field in keys.items():
                writing.put(table, under, key, typed[field].strip(), field)
            rules.append(table)
    if rules:
        comment = "When you are free; an end before noon is after midnight, without one the night is yours."
        array = writing.tables("evenings", comment)
        for table in rules:
            array.append(table)
    if typed["away"].strip() or typed["nights_per_month"].strip():
        table = writing.table("availability", "away", "When you are not, and how often you go out at most.")
        writing.put(table, "availability", "away", values.stretches(typed["away"]), "away")
        most = values.number(typed["nights_per_month"])
        writing.put(table, "availability", "nights_per_month", most, "nights_per_month")


def _write_odds(writing: _Writing, typed: Typed) -> None:
    usual = values.chosen(typed["odds"] or "half", ODDS)
    months = [typed[f"odds_{month.lower()}"] for month in MONTHS]
    monthly: object = usual
    if any(month.strip() for month in months):
        monthly = [values.share(month) if month.strip() else usual for month in months]
    comment = "How often an evening is clear; log your nights, and the plan learns from them."
    table = writing.table("clear_odds", "odds", comment)
    wrong = [month for month, text in zip(MONTHS, months, strict=True) if not _is_share(text)]
    field = f"odds_{wrong[0].lower()}" if wrong else "odds"
    writing.put(table, "clear_odds", "monthly", monthly, field, "" if monthly is usual else "from January on")


def _is_share(text: str) -> bool:
    share = values.share(text)
    return not text.strip() or (isinstance(share, float) and 0.0 <= share <= 1.0)
