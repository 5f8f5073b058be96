"""A catalogue of a handful of names, and a way to lay out a scenario's folder."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import pytest

from scheduler.domain import Kind, Nature, Scenario, Target
from scheduler.errors import Fault, ScenarioFaults, UnknownName
from scheduler.scenario import faults_of, read_scenario

TODAY = date(2027, 3, 1)

SETTINGS = """
[site]
latitude_deg = 55.2
longitude_deg = -2.4
zone = "Europe/London"

[telescope]
aperture_mm = 200
focal_length_mm = 1200
"""


@dataclass(frozen=True)
class Known:
    name: str
    identity: str
    kind: Kind = Kind.DEEP_SKY
    ra_deg: float | None = 10.0
    dec_deg: float | None = 20.0
    body: str | None = None
    constellation: str | None = "Andromeda"
    magnitude: float | None = 7.0
    size_arcmin: float | None = 5.0
    also_known_as: str | None = None
    nature: Nature | None = None


ANDROMEDA = Known("M 31", "NGC 224", also_known_as="Andromeda Galaxy")
NAMES = {
    "m31": ANDROMEDA,
    "ngc224": replace(ANDROMEDA, name="NGC 224"),
    "m42": Known("M 42", "NGC 1976"),
    "albireo": Known("Albireo", "Albireo", Kind.DOUBLE_STAR),
    **{
        body: Known(body.title(), body, Kind.PLANET, None, None, body, None, None, None)
        for body in ("mercury", "venus", "jupiter")
    },
}


def look_up(text: str) -> Known:
    try:
        return NAMES["".join(text.split()).casefold()]
    except KeyError:
        raise UnknownName(text, ("M 31",)) from None


def laid_out(folder: Path, settings: str | bytes = SETTINGS, wishes: str | bytes = "target\nM 31\n") -> Path:
    for name, content in (("scenario.toml", settings), ("wish-list.csv", wishes)):
        raw = content.encode() if isinstance(content, str) else content
        (folder / name).write_bytes(raw)
    return folder


def scenario_of(folder: Path, settings: str | bytes = SETTINGS,
                wishes: str | bytes = "target\nM 31\n") -> Scenario:  # fmt: skip
    return read_scenario(laid_out(folder, settings, wishes), look_up, today=TODAY)


def targets_of(folder: Path, wishes: str | bytes, settings: str = SETTINGS) -> tuple[Target, ...]:
    return scenario_of(folder, settings, wishes).targets


def faults_in(folder: Path, settings: str | bytes = SETTINGS,
              wishes: str | bytes = "target\nM 31\n") -> tuple[Fault, ...]:  # fmt: skip
    """Return the faults, having made sure that reading raises exactly them."""
    laid_out(folder, settings, wishes)
    faults = faults_of(folder, look_up, today=TODAY)
    if faults:
        with pytest.raises(ScenarioFaults) as raised:
            read_scenario(folder, look_up, today=TODAY)
        assert raised.value.faults == faults
    else:
        read_scenario(folder, look_up, today=TODAY)
    return faults


def places(faults: tuple[Fault, ...]) -> list[tuple[int | None, str | None]]:
    return [(fault.row, fault.column) for fault in faults]
