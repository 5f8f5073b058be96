"""Reading pictures back: their elements, their texts, their pixels; and plans to draw."""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from xml.etree import ElementTree

from scheduler.domain import Availability, EveningRule, FreeNight, Night, Plan, Season, Span
from scheduler.sky import sky_of
from tests.small_plan import SITE, plan, utc

Element = ElementTree.Element
SVG = "{http://www.w3.org/2000/svg}"
PHONE, DESK = 344.0, 1000.0


def read(picture: str) -> Element:
    """Return the root of a picture."""
    return ElementTree.fromstring(picture)


def of_class(root: Element, name: str) -> list[Element]:
    """Return the elements of a class, in the order they are drawn in."""
    return [one for one in root.iter() if name in one.get("class", "").split()]


def nights_in(root: Element) -> dict[str, Element]:
    """Return the nights by their dates."""
    return {one.get("data-evening", ""): one for one in of_class(root, "night")}


def texts_in(root: Element) -> list[str]:
    return [one.text or "" for one in root.iter(f"{SVG}text")]


def number(element: Element, name: str) -> float:
    return float(element.attrib[name])


def text_boxes(root: Element) -> Iterator[tuple[str, float, float, float]]:
    """Yield every text outside moved groups with its size, and where it begins and ends at the least."""
    usual = float(root.attrib["font-size"])
    for one in root.iter(f"{SVG}text"):
        words, size = one.text or "", float(one.get("font-size", usual))
        long, x = 0.5 * size * len(words), float(one.get("x", 0))
        left = {"end": x - long, "middle": x - long / 2}.get(one.get("text-anchor", ""), x)
        yield words, size, left, left + long


def faults_of(picture: str) -> list[str]:
    """Return what no picture may hold: styles and scripts in it, and elements of no class of ours."""
    found = []
    for one in read(picture).iter():
        found += [f"{one.tag} has {name}" for name in one.attrib if name == "style" or name.startswith("on")]
        if one.tag.removeprefix(SVG) not in {
            "svg", "g", "a", "title", "desc", "rect", "circle", "line", "path", "text",
        }:  # fmt: skip
            found.append(one.tag)
    return found


@cache
def sky(start: date, nights: int) -> tuple[Night, ...]:
    """Return the nights of a season under the real sky of Larkmoor."""
    return sky_of(SITE, Season(start, nights).evenings).nights


def season(start: date, nights: int, **changes: object) -> Plan:
    """Return a plan of a season without visits, free on Fridays and Saturdays from 18:00 to midnight UTC."""
    diary = sky(start, nights)
    free = tuple(
        FreeNight(night, Span(utc(night.evening, 18), utc(night.evening, 24)), 0.4)
        for night in diary
        if night.evening.weekday() in (4, 5)
    )
    made = replace(
        plan(), season=Season(start, nights), nights=free, diary=diary, visits=(), standbys=(), unplaced=(),
        availability=Availability((EveningRule((4, 5)),)),
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def dark_for(free: FreeNight, hours: float, moonless: float) -> FreeNight:
    """Return a free night with so many usable dark hours, the Moon down for the first of them."""
    start = free.free.start
    dark = Span(start - timedelta(hours=1), start + timedelta(hours=hours))
    up = Span(start + timedelta(hours=moonless), start + timedelta(hours=hours + 2))
    night = replace(free.night, dark=dark, moon_up=(up,))
    return replace(free, night=night, free=Span(start, start + timedelta(hours=12)))


def png_size(png: bytes) -> tuple[int, int]:
    """Return the width and height a PNG names."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def pixels_of(png: bytes) -> tuple[int, int, list[tuple[int, int, int]]]:
    """Return width, height and the colours of a PNG of eight bits a channel, not interlaced.

    References
    ----------
    Portable Network Graphics (PNG) Specification, second edition, W3C (2003), clauses 9 and 11.
    """
    width, height, depth, kind, _, _, interlaced = struct.unpack(">IIBBBBB", png[16:29])
    assert (depth, interlaced) == (8, 0)
    step = {2: 3, 6: 4}[kind]
    data, place = b"", 8
    while place < len(png):
        (length,), name = struct.unpack(">I", png[place : place + 4]), png[place + 4 : place + 8]
        data += png[place + 8 : place + 8 + length] if name == b"IDAT" else b""
        place += length + 12
    raw, before, found = zlib.decompress(data), bytearray(width * step), []
    for row in range(height):
        start = row * (width * step + 1)
        before = _unfiltered(raw[start], raw[start + 1 : start + 1 + width * step], before, step)
        found += [(before[x], before[x + 1], before[x + 2]) for x in range(0, width * step, step)]
    return width, height, found


def _unfiltered(kind: int, row: bytes, above: bytearray, step: int) -> bytearray:
    out = bytearray(row)
    for x in range(len(out)):
        left, up = (out[x - step] if x >= step else 0), above[x]
        corner = above[x - step] if x >= step else 0
        nearest = min((abs(up - corner), 0, left), (abs(left - corner), 1, up),
                      (abs(left + up - 2 * corner), 2, corner))[2]  # fmt: skip
        out[x] = (out[x] + (0, left, up, (left + up) // 2, nearest)[kind]) % 256
    return out


def colours_in(style: str) -> set[str]:
    """Return the colours a stylesheet names."""
    return set(re.findall(r"#[0-9a-fA-F]{3,8}\b", style))
