"""What the pictures the README shows must have alike with ones drawn now, whatever the solver found."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from .drawn import SVG, Element, of_class, read, texts_in

SHOWN = Path(__file__).parents[3] / "scenarios" / "larkmoor" / "pictures"
"""Renewed by `duskwright plan scenarios/larkmoor --pictures`, and copied here."""

OF_THE_SKY = ("hit", "dark", "dusk", "moonless", "shown", "good")


def form_of(picture: Path) -> dict[str, Any]:
    """Return the form of a picture that is a file: size, look, scales, and what the sky alone decides."""
    root = read(picture.read_text(encoding="utf-8"))
    kept = {"night", "target"}
    rest = [one for one in root if not kept & {*one.get("class", "").split()}]
    return {
        "size": root.get("viewBox"), "label": root.get("aria-label", "").split(":")[0],
        "rest": [_told(one) for part in rest for one in part.iter() if not _of_the_plan(one)],
        "nights": {one.get("data-evening"): _sky(one) for one in of_class(root, "night")},
        "targets": {texts_in(one)[0]: _sky(one) for one in of_class(root, "target")},
    }  # fmt: skip


def _sky(part: Element) -> list[dict[str, str]]:
    return [dict(one.attrib) for kind in OF_THE_SKY for one in of_class(part, kind)]


def _told(one: Element) -> tuple[str, dict[str, str], str | None]:
    return one.tag, dict(one.attrib), one.text


def _of_the_plan(one: Element) -> bool:
    """Tell whether a text counts the nights of a month that are planned."""
    return one.tag == f"{SVG}text" and (one.text or "").endswith(" planned")
