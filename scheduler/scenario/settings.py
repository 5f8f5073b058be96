"""Read scenario.toml into the nouns: site, kit, season, availability, routine, clear odds."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from ..domain import (
    Availability,
    ClearOdds,
    Club,
    EveningRule,
    Forecast,
    Guests,
    Kind,
    Kit,
    Observer,
    Routine,
    Season,
    Site,
    Target,
    Trip,
)
from .keys import TABLES, Table, read_table
from .kits import kit_of, observers_of
from .log import forecast_tables_of
from .notes import Notes
from .sites import club_of, site_of, trips_of

EVEN_ODDS = 0.5  # until the observer knows better


@dataclass(frozen=True)
class Settings:
    """What scenario.toml says; a part is None where it could not be read and the fault is noted."""

    title: str
    site: Site | None
    kit: Kit | None
    season: Season | None
    availability: Availability | None
    routine: Routine | None
    clear_odds: ClearOdds | None
    observers: tuple[Observer, ...] | None = None
    guests: Guests | None = None
    wishes: Mapping[str, Any] = field(default_factory=dict)
    forecast: tuple[Forecast, ...] = ()
    trips: tuple[Trip, ...] = ()
    club: Club = field(default_factory=Club)


def settings_of(text: str, folder_name: str, today: date | None, notes: Notes) -> Settings | None:
    """Return the settings a TOML text holds, or None where it is not TOML; faults go to `notes`."""
    try:
        raw = tomllib.loads(text)
    except RecursionError:
        notes.add("brackets in brackets", "fewer than a hundred brackets in each other")
        return None
    except ValueError as error:
        notes.add(_line_of(text, str(error)), f"TOML; {error}")
        return None
    top = read_table(raw, "", "", notes)
    part = {name: read_table(top.get(name, {}), name, name, notes) for name in TABLES}
    site = site_of(part["site"], folder_name, notes)
    kit = kit_of(top, part, notes)
    availability = _availability(top.get("evenings"), part["availability"], notes)
    guests = notes.build(Guests, part["guests"], {}, under="guests")
    _note_guests_who_find_nobody(guests, availability, notes)
    trips = trips_of(top.get("sites"), site, notes)
    return Settings(
        title=top.get("title") or (site.name if site else ""),
        site=site,
        kit=kit,
        season=notes.build(Season, part["season"], {"start": today or _today(site)}, under="season"),
        availability=availability,
        routine=notes.build(Routine, part["routine"], {}, under="routine"),
        clear_odds=notes.build(
            ClearOdds, part["clear_odds"], {"monthly": (EVEN_ODDS,) * 12}, under="clear_odds"
        ),
        observers=observers_of(top, kit, notes),
        guests=guests,
        wishes=_wishes(part["defaults"], notes),
        forecast=forecast_tables_of(top.get("forecast"), notes),
        trips=trips,
        club=club_of(part["club"], [trip.site.name for trip in trips], availability, notes),
    )


def _line_of(text: str, error: str) -> str:
    """Return the line a TOML error points at, with its number."""
    found = re.search(r"at line (\d+)", error)
    lines = text.splitlines() or [""]
    line = min(int(found[1]), len(lines)) if found else len(lines)
    return f"line {line}: {lines[line - 1].strip()}"


def _today(site: Site | None) -> date:
    return datetime.now(site.local if site else ZoneInfo("UTC")).date()


def _availability(evenings: list[Table] | None, read: dict[str, Any], notes: Notes) -> Availability | None:
    rules = [
        notes.build(
            EveningRule,
            read_table(one, "evenings", f"evenings.{place}", notes),
            {},
            under=f"evenings.{place}",
        )
        for place, one in enumerate(evenings or (), 1)
    ]
    found = tuple(rule for rule in rules if rule)
    return notes.build(
        Availability, {**read, **({"rules": found} if found else {})}, {}, under="availability"
    )


def _note_guests_who_find_nobody(
    guests: Guests | None, availability: Availability | None, notes: Notes
) -> None:
    """Note evenings on which guests would come but nobody is free."""
    if guests is None or availability is None:
        return
    alone = [evening for evening in sorted(guests.evenings) if availability.rule_of(evening) is None]
    if alone:
        expected = "evenings on which you are free; add them to availability.extra, or take them out of away"
        notes.add(", ".join(map(str, alone)), expected, column="guests.evenings")


def _wishes(read: dict[str, Any], notes: Notes) -> Mapping[str, Any]:
    """Return the defaults of the wish-list, or none where a target refuses them."""
    before = len(notes.found)
    anywhere = {"name": "any", "kind": Kind.DEEP_SKY, "ra_deg": 0.0, "dec_deg": 0.0}
    notes.build(Target, read, anywhere, under="defaults")
    return read if len(notes.found) == before else {}
