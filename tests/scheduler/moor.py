"""A small scenario's folder for the command line: a moor, binoculars, ten nights."""

from __future__ import annotations

from pathlib import Path

SETTINGS = """\
[site]
latitude_deg = 55.2
longitude_deg = -2.4
zone = "Europe/London"
[binoculars]
magnification = 10
aperture_mm = 50
[season]
start = 2027-01-01
nights = 10
"""


def laid_out(folder: Path, wishes: str, settings: str = SETTINGS) -> Path:
    """Return a new folder "moor" with these files."""
    made = folder / "moor"
    made.mkdir()
    (made / "scenario.toml").write_text(settings, encoding="utf-8")
    (made / "wish-list.csv").write_text(wishes, encoding="utf-8")
    return made
