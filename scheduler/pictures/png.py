"""A picture as PNG, alike on every machine: its letters are brought along."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path

FAMILY = "Noto Sans"


def png_of(svg: str, *, zoom: float = 1.0) -> bytes:
    """Return a standalone picture as PNG.

    Parameters
    ----------
    svg : What `standalone` returned.
    zoom : Pixels a unit.
    """
    import resvg_py  # late, as are the letters: nothing else needs them

    with tempfile.TemporaryDirectory(prefix="duskwright-") as aside:
        files = []
        for name, letters in _letters().items():
            files.append(str(Path(aside) / f"{name}.ttf"))
            Path(files[-1]).write_bytes(letters)
        drawn: bytes = resvg_py.svg_to_bytes(
            svg_string=svg, font_files=files, font_family=FAMILY, sans_serif_family=FAMILY,
            skip_system_fonts=True, zoom=zoom,
        )  # fmt: skip
    return bytes(drawn)


@cache
def _letters() -> dict[str, bytes]:
    """Return the upright and the bold letters."""
    import pymupdf_fonts

    return {name: pymupdf_fonts.myfont(name) for name in ("notos", "notosbo")}
