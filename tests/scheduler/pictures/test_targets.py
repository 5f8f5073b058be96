"""The picture of the wish-list: each season where it is in the year, each visit on its night."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from scheduler.domain import Outcome, Plan, Reason, Showing, Unplaced, Went
from scheduler.pictures import STYLE, standalone, targets_picture
from scheduler.pictures.letters import width_of
from scheduler.pictures.png import png_of
from scheduler.pictures.style import MARGIN
from tests.scheduler.planted_odds import ODDS, target_odds
from tests.scheduler.planted_showing import with_showing
from tests.small_plan import FIRST, SECOND, plan, visit

from .drawn import (
    DESK,
    PHONE,
    SVG,
    Element,
    faults_of,
    of_class,
    pixels_of,
    read,
    season,
    text_boxes,
    texts_in,
)

WIDTHS = pytest.mark.parametrize("width", [PHONE, DESK])
HOSTILE = '</text><script>alert("1")</script>&\'">'


def rows(picture: str) -> list[str]:
    """Return the names of the rows, from above."""
    return [texts_in(row)[0] for row in of_class(read(picture), "target")]


def row_of(picture: str, name: str) -> Element:
    (found,) = (row for row in of_class(read(picture), "target") if texts_in(row)[0] == name)
    return found


def stretches(row: Element, level: str) -> list[tuple[float, float]]:
    """Return from where to where the lines of a level go."""
    paths = " ".join(one.get("d", "") for one in of_class(row, level))
    found = [(float(left), float(long)) for left, long in re.findall(r"M(\d+) \d+h(\d+)", paths)]
    return [(left, left + long) for left, long in found]


FEW = "0" * 9 + "1" * 20 + "0" * 3 + "2" * 9 + "0" * 12, "0" * 14 + "1" * 10 + "0" * 29
"""Weeks of a usual season: it shows in two pieces, well in one."""
MANY = "0012" * 13 + "1", "0002" * 13 + "0"


def long_list(count: int, pieces: tuple[str, str] = FEW) -> Plan:
    """Return a plan of so many targets, each with such a season, a visit and low odds."""
    made = season(date(2027, 1, 1), 365)
    names = [f"NGC {1000 + place}" for place in range(count)]
    first = plan().targets[0]
    free = [one.evening for one in made.nights]
    visits = (
        replace(visit("M 42", free[n % 100], 1, 19, 0, 20), target=name) for n, name in enumerate(names)
    )
    odds = replace(ODDS, targets=tuple(target_odds(name, 20, FIRST) for name in names), expected=count / 2)
    return replace(
        made, targets=tuple(replace(first, name=name) for name in names), visits=tuple(visits), odds=odds,
        showing=tuple(Showing(name, *pieces) for name in names),
    )  # fmt: skip


@WIDTHS
def test_every_target_has_a_row_what_ends_first_comes_first(width: float) -> None:
    made = replace(with_showing(), odds=ODDS)
    assert rows(targets_picture(made, width=width)) == ["Jupiter", "M 42", "M 1", "NGC 5139"]
    assert rows(targets_picture(made, width=width, order="wish-list")) == [
        "M 42", "M 1", "Jupiter", "NGC 5139",
    ]  # fmt: skip


@WIDTHS
def test_a_season_lies_where_its_weeks_are(width: float) -> None:
    told = Showing("M 42", "01221", "00120")
    made = with_showing(told, *with_showing().showing[1:])
    row = row_of(targets_picture(made, width=width), "M 42")
    left, right = {PHONE: (4.0, 340.0), DESK: (170.0, 832.0)}[width]
    day = (right - left) / 31
    ((good_from, good_to),) = stretches(row, "good")
    assert (good_from, good_to) == pytest.approx((left + 14 * day, left + 28 * day), abs=0.6)
    only_shown = stretches(row, "shown")
    assert [x for pair in only_shown for x in pair] == pytest.approx(
        [left + 7 * day, left + 14 * day, left + 28 * day, right], abs=0.6  # the last week has three days
    )  # fmt: skip


@WIDTHS
def test_visits_are_diamonds_on_their_nights_hollow_when_planned_solid_when_made(width: float) -> None:
    earlier = date(2027, 1, 2)
    made = replace(with_showing(), log=(Outcome(earlier, Went.CLEAR, seen=("Jupiter",)),))
    row = row_of(targets_picture(made, width=width), "Jupiter")
    (planned,), (seen,) = of_class(row, "visit"), of_class(row, "seen")
    left, right = {PHONE: (4.0, 340.0), DESK: (170.0, 832.0)}[width]
    places = [float(one.get("d", "").split()[0].removeprefix("M")) for one in (seen, planned)]
    day = (right - left) / 31
    assert places == pytest.approx([left + 1.5 * day, left + 7.5 * day], abs=0.1)


def test_what_was_seen_before_the_season_is_not_drawn_on_it() -> None:
    made = replace(with_showing(), log=(Outcome(date(2026, 12, 24), Went.CLEAR, seen=("M 1",)),))
    row = row_of(targets_picture(made), "M 1")
    assert of_class(row, "seen") == []
    assert texts_in(row) == ["M 1", "done"]


@WIDTHS
def test_odds_are_a_figure_and_a_bar_and_a_word_where_they_are_low(width: float) -> None:
    picture = targets_picture(replace(with_showing(), odds=ODDS), width=width)
    words = {name: texts_in(row_of(picture, name))[1:] for name in rows(picture)}
    assert words == {
        "M 42": ["90 %"], "M 1": ["50 %", "at risk"], "Jupiter": ["25 %", "at risk"],
        "NGC 5139": ["never shows"],
    }  # fmt: skip
    for name, share in (("M 42", 0.9), ("M 1", 0.5)):
        (frame,), (part,) = (of_class(row_of(picture, name), kind) for kind in ("odds", "odds-share"))
        long, filled = (float(one.get("d", "").split("h")[1].split("v")[0]) for one in (frame, part))
        assert filled == pytest.approx(share * long, abs=0.1)
    assert of_class(row_of(picture, "NGC 5139"), "odds") == []


def test_what_is_done_comes_last_and_without_odds_a_word_tells() -> None:
    made = replace(with_showing(), log=(Outcome(date(2027, 1, 2), Went.CLEAR, seen=("M 42",)),))
    picture = targets_picture(made)
    assert rows(picture) == ["Jupiter", "M 1", "NGC 5139", "M 42"]
    assert [texts_in(row_of(picture, name))[1] for name in rows(picture)] == [
        "planned", "planned", "never shows", "done",
    ]  # fmt: skip


@pytest.mark.parametrize("reason", Reason)
def test_never_is_said_only_where_the_sky_or_the_kit_forbids_it(reason: Reason) -> None:
    certain = {Reason.NEVER_HIGH, Reason.NOT_IN_SEASON, Reason.NEAR_SUN, Reason.NO_INSTRUMENT}
    unplaced = (Unplaced("NGC 5139", 1, reason, "as it is"),)
    row = row_of(targets_picture(replace(with_showing(), unplaced=unplaced)), "NGC 5139")
    assert texts_in(row) == ["NGC 5139", "never shows" if reason in certain else "on no free night"]


def test_a_word_that_stands_for_the_odds_keeps_clear_of_the_season() -> None:
    unplaced = (Unplaced("NGC 5139", 1, Reason.NOT_WHEN_FREE, "as it is"),)
    made = replace(with_showing(), unplaced=unplaced)
    picture = standalone(targets_picture(made, width=DESK), "x")
    bare = standalone(targets_picture(replace(made, unplaced=()), width=DESK), "x").replace(
        "on no free night", ""
    )
    width, _, pixels = pixels_of(png_of(picture))
    _, _, without = pixels_of(png_of(bare))
    inked = [
        place % width for place, (one, other) in enumerate(zip(pixels, without, strict=True)) if one != other
    ]
    assert DESK - 168.0 + MARGIN < min(inked) < max(inked) < DESK + MARGIN


@pytest.mark.parametrize("haloed", [True, False])
def test_lines_do_not_run_through_letters(haloed: bool) -> None:
    made = season(date(2027, 1, 1), 365)
    wished = replace(made.targets[0], name="The Cluster of the Owl in Cassiopeia")
    picture = standalone(targets_picture(replace(made, targets=(wished,)), width=PHONE), "x")
    rule = next(line for line in STYLE.splitlines() if line.startswith(".target text"))
    red = picture.replace("#c3c8d0", "#ff0000").replace(rule, rule if haloed else "")
    width, height, pixels = pixels_of(png_of(red))

    def ink(x: int, y: int) -> bool:
        return sum(pixels[y * width + x]) < 200

    touched = [
        (x, y)
        for y in range(2, height - 2)
        for x in range(2, width - 2)
        if pixels[y * width + x][0] > pixels[y * width + x][1] + 60
        and any(ink(x + right, y + down) for right in (-1, 0, 1) for down in (-1, 0, 1))
    ]
    assert bool(touched) is not haloed


def test_a_plan_that_does_not_tell_seasons_is_drawn_without_them() -> None:
    picture = targets_picture(plan())
    assert rows(picture) == ["M 42", "Jupiter", "M 1", "NGC 5139"]
    assert of_class(read(picture), "good") + of_class(read(picture), "shown") == []
    assert "good nights" not in texts_in(read(picture))
    assert texts_in(row_of(picture, "NGC 5139")) == ["NGC 5139", "no place"]


@WIDTHS
def test_months_are_named_again_down_a_long_list(width: float) -> None:
    root = read(targets_picture(long_list(60), width=width))
    assert texts_in(root).count("Jan") == texts_in(root).count("Dec") == 3
    assert len(of_class(root, "target")) == 60


def test_a_short_season_names_the_months_it_has_room_for() -> None:
    root = read(targets_picture(season(date(2027, 1, 30), 10), width=PHONE))
    assert [one.text for one in of_class(root, "quiet")] == ["Jan", "Feb"]
    root = read(targets_picture(season(date(2027, 1, 31), 300), width=PHONE))
    assert next(one.text for one in of_class(root, "quiet")) == "Feb"


@pytest.mark.parametrize(("pieces", "most"), [(FEW, 700_000), (MANY, 900_000)])
@WIDTHS
def test_a_thousand_targets_stay_small(width: float, pieces: tuple[str, str], most: int) -> None:
    def links(name: str) -> str:
        return f"/target/{'a' * 20}?name={name}"

    picture = targets_picture(long_list(1000, pieces), width=width, links=links)
    assert len(of_class(read(picture), "target")) == 1000
    assert len(picture) < most


@pytest.mark.parametrize("links", [None, lambda name: f"/target?name={name}"])
@WIDTHS
def test_names_that_mean_harm_stay_text(width: float, links: Callable[[str], str] | None) -> None:
    made = with_showing()
    targets = (replace(made.targets[0], name=HOSTILE), *made.targets[1:])
    showing = (replace(made.showing[0], target=HOSTILE), *made.showing[1:])
    made = replace(made, targets=targets, showing=showing, scenario=HOSTILE)
    picture = targets_picture(made, width=width, links=links)
    assert faults_of(picture) == []
    assert "<script" not in picture
    assert HOSTILE in (read(picture).get("aria-label") or "")
    assert any(HOSTILE in one for row in of_class(read(picture), "target") for one in _told(row))


def _told(row: Element) -> list[str]:
    return [row.get("aria-label") or "", row.findtext(f"{SVG}title") or ""]


@WIDTHS
def test_text_is_large_enough_stays_inside_and_a_long_name_is_cut(width: float) -> None:
    made = with_showing()
    long = "The Great and Glorious Nebula of the Hunter's Sword, by Lantern"
    targets = (replace(made.targets[0], name=long), *made.targets[1:])
    showing = (replace(made.showing[0], target=long), *made.showing[1:])
    odds = replace(ODDS, targets=(replace(ODDS.targets[1], target=long), *ODDS.targets[1:]))
    root = read(targets_picture(replace(made, targets=targets, showing=showing, odds=odds), width=width))
    boxes = list(text_boxes(root))
    assert min(size for _, size, _, _ in boxes) >= 10
    assert min(left for _, _, left, _ in boxes) >= 0
    assert max(right for _, _, _, right in boxes) <= width
    (row,) = (one for one in of_class(root, "target") if texts_in(one)[0].startswith("The Great"))
    assert texts_in(row)[0].endswith("…")
    assert long in (row.findtext(f"{SVG}title") or "")


def test_rows_lead_on_and_tell_themselves() -> None:
    made = replace(with_showing(), odds=ODDS)
    row = row_of(targets_picture(made, links=lambda name: f"/target?name={name}"), "M 42")
    assert (row.tag, row.get("href")) == (f"{SVG}a", "/target?name=M 42")
    assert row.get("aria-label") == "M 42: planned for 8 Jan; good nights in 2 weeks; 90 %."
    assert read(targets_picture(made, links=lambda name: None)).get("role") == "group"
    assert read(targets_picture(made)).get("role") == "img"


def test_today_is_marked_in_every_block() -> None:
    root = read(targets_picture(long_list(60), today=SECOND))
    assert len(of_class(root, "now")) == 4  # three blocks and the legend
    assert of_class(read(targets_picture(long_list(60))), "now") == []


@WIDTHS
@pytest.mark.parametrize("done", [40, 20, 0])
def test_odds_stand_in_a_place_of_their_own(width: float, done: int) -> None:
    made = long_list(12, ("2" * 53, "1" * 53))  # to the end of the year
    told = replace(ODDS, targets=tuple(target_odds(one.name, done, FIRST) for one in made.targets))
    root = read(targets_picture(replace(made, odds=told), width=width))
    size = float(root.attrib["font-size"])
    for row in of_class(root, "target"):
        (_, left), *others = sorted(_extents(row, size))
        for begin, end in others:
            assert begin > left, texts_in(row)
            left = end
        season_ends = max(end for level in ("shown", "good") for _, end in stretches(row, level))
        if width == DESK:
            assert min(begin for begin, _ in others) > season_ends


def _extents(row: Element, size: float) -> list[tuple[float, float]]:
    """Return where each text of a row begins and ends, by the width of its letters."""
    found = []
    for one in row.iter(f"{SVG}text"):
        long, x = width_of(one.text or "", size), float(one.get("x", 0))
        left = x - long if one.get("text-anchor") == "end" else x
        found.append((left, left + long))
    return found
