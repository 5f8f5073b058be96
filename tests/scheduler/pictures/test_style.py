"""How pictures look: every class is known, red is red alone, nothing is told by colour alone."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from xml.etree import ElementTree

import pytest

from scheduler import pictures
from scheduler.domain import Horizon, Outcome, Plan, Site, Trip, Went
from scheduler.pictures import RED_STYLE, STYLE, sky_strip, standalone, targets_picture, year_picture
from scheduler.pictures.png import png_of
from scheduler.pictures.style import size_of
from tests.scheduler.planted_odds import ODDS
from tests.scheduler.planted_showing import with_showing
from tests.small_plan import FIRST, SECOND, night

from .drawn import PHONE, colours_in, pixels_of, season

DOCUMENTED = set(re.findall(r"`([a-z-]+)`", pictures.__doc__ or "")) - {"standalone", "STYLE"}


def full() -> Plan:
    """Return a plan that shows everything pictures can show."""
    log = tuple(Outcome(date(2027, 1, day), went) for day, went in enumerate(Went, 1))
    away = Trip(Site("Ridge", 55.0, -2.0, 300.0, "Europe/London", 21.5, 0.2), 40, 0.5)
    nights = replace(night(FIRST), club=True), replace(night(SECOND), trip=away)
    site = replace(with_showing().site, horizon=Horizon((0.0, 180.0), (5.0, 20.0)))
    seen = replace(log[0], seen=("Jupiter",))
    return replace(
        with_showing(), odds=ODDS, log=(seen, *log[1:]), nights=nights, site=site, announced=(FIRST,),
        diary=season(date(2027, 1, 1), 31).diary,
        showing=(replace(with_showing().showing[0], good="01000"), *with_showing().showing[1:]),
    )  # fmt: skip


def drawn() -> list[str]:
    summer = season(date(2027, 6, 1), 30)
    return [
        year_picture(full(), today=FIRST, width=PHONE), year_picture(summer, width=PHONE),
        targets_picture(full(), today=FIRST, width=PHONE), sky_strip(full(), FIRST),
    ]  # fmt: skip


def classes_in(picture: str) -> set[str]:
    return {name for one in ElementTree.fromstring(picture).iter() for name in one.get("class", "").split()}


def test_every_class_drawn_is_documented_and_every_one_documented_is_drawn() -> None:
    used = set().union(*map(classes_in, drawn())) | classes_in(standalone(drawn()[0], "x"))
    assert used == DOCUMENTED


def test_every_class_that_is_no_mere_name_has_a_look() -> None:
    names = {"year", "targets", "strip", "night", "past", "legend"}
    assert set(re.findall(r"\.([a-z-]+)", STYLE)) == DOCUMENTED - names


def test_a_standalone_picture_has_its_look_its_title_and_white_ground() -> None:
    svg = standalone(year_picture(full(), width=PHONE), "Larkmoor & <friends>")
    root = ElementTree.fromstring(svg.encode())
    assert svg.startswith('<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg"')
    assert root[0].text == "Larkmoor & <friends>"
    assert root[1].text == STYLE
    _, _, ground = pixels_of(png_of(svg))
    assert ground[0] == (255, 255, 255)


def test_there_is_a_margin_round_it_on_every_side() -> None:
    for picture in drawn():
        width, height, pixels = pixels_of(png_of(standalone(picture, "x")))
        assert (width, height) == size_of(standalone(picture, "x"))
        rows = [pixels[row * width : (row + 1) * width] for row in range(height)]
        edges = rows[:6] + rows[-6:] + [row[:6] + row[-6:] for row in rows]
        assert {colour for row in edges for colour in row} == {(255, 255, 255)}


def test_red_is_red_alone_in_every_pixel() -> None:
    assert all(re.fullmatch(r"#[0-9a-f]{2}0000", colour) for colour in colours_in(RED_STYLE))
    assert "rgb" not in RED_STYLE
    for picture in drawn():
        _, _, pixels = pixels_of(png_of(standalone(picture, "x", light="red")))
        assert {colour[1:] for colour in set(pixels)} == {(0, 0)}
        assert len({colour[0] for colour in set(pixels)}) > 2


@pytest.mark.parametrize("name", ["ink", "quiet", "fill", "mark"])
def test_by_day_everything_is_dark_enough_on_white(name: str) -> None:
    """Contrast of 7:1 for text, as in WCAG 2.2 (W3C, 2023), 1.4.6; 4.5:1 for the rest, above its 1.4.11."""
    from scheduler.pictures.style import _DAY

    channels = [int(_DAY[name][place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    assert 1.05 / (luminance + 0.05) >= (7 if name in ("ink", "quiet") else 4.5)


def test_letters_are_drawn_without_any_of_the_systems() -> None:
    picture = standalone(year_picture(full(), width=PHONE), "x")
    bare = re.sub(r"<text[^>]*>[^<]*</text>", "", picture)
    pixels = [pixels_of(png_of(one))[2] for one in (picture, bare)]
    assert sum(a != b for a, b in zip(*pixels, strict=True)) > 1000
