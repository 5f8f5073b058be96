"""The picture of a year: every free night is there, and every length says what it stands for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from scheduler.domain import Club, Outcome, Plan, Site, Trip, Went
from scheduler.pictures import summaries_of, year_picture
from tests.small_plan import FIRST, SECOND, night, plan, visit, with_nights

from .drawn import (
    DESK,
    PHONE,
    SVG,
    dark_for,
    faults_of,
    nights_in,
    number,
    of_class,
    read,
    season,
    text_boxes,
    texts_in,
)

WIDTHS = pytest.mark.parametrize("width", [PHONE, DESK])
HOSTILE = '</text><script>alert("1")</script>&\'"> onload=x'


def heights(plan: Plan, kind: str, width: float = DESK) -> list[float]:
    """Return how high the bars of a class are, night by night; 0 without one."""
    nights = nights_in(read(year_picture(plan, width=width)))
    bars = [of_class(nights[one.evening.isoformat()], kind) for one in plan.nights]
    return [number(bar[0], "height") if bar else 0.0 for bar in bars]


@WIDTHS
def test_every_free_night_is_there_once_in_order(width: float) -> None:
    made = season(date(2027, 1, 1), 365)
    nights = nights_in(read(year_picture(made, width=width)))
    assert list(nights) == [one.evening.isoformat() for one in made.nights]
    assert len(of_class(read(year_picture(made, width=width)), "night")) == len(made.nights) > 100


@WIDTHS
def test_a_bar_is_as_high_as_the_usable_hours_are_dark(width: float) -> None:
    hours = (2.0, 4.0, 6.0)
    days = [date(2027, 1, day) for day in (8, 15, 22)]
    made = with_nights(*(dark_for(night(day), long, 0.0) for day, long in zip(days, hours, strict=True)))
    made = replace(made, visits=())
    two, four, six = heights(made, "dark", width)
    assert two > 10
    assert four == pytest.approx(2 * two, abs=0.15)
    assert six == pytest.approx(3 * two, abs=0.15)


def test_the_moonless_part_is_solid_up_from_the_foot_of_the_bar() -> None:
    made = replace(
        with_nights(dark_for(night(FIRST), 6.0, 1.5), dark_for(night(SECOND), 6.0, 0.0)), visits=()
    )
    first, second = nights_in(read(year_picture(made))).values()
    (dark,), (solid,) = of_class(first, "dark"), of_class(first, "moonless")
    assert number(solid, "height") == pytest.approx(number(dark, "height") / 4, abs=0.1)
    feet = [number(one, "y") + number(one, "height") for one in (dark, solid)]
    assert feet[0] == pytest.approx(feet[1], abs=0.15)
    assert of_class(second, "moonless") == []


@WIDTHS
def test_a_pin_is_as_high_as_the_visits_are_long_on_the_scale_of_the_bars(width: float) -> None:
    made = replace(
        with_nights(dark_for(night(FIRST), 6.0, 6.0), dark_for(night(SECOND), 6.0, 6.0)),
        visits=(visit("M 42", FIRST, 1, 19, 0, 90), visit("M 1", FIRST, 2, 21, 0, 30)),
    )
    first, second = nights_in(read(year_picture(made, width=width))).values()
    (stem,), (head,), (dark,) = (of_class(first, name) for name in ("planned", "planned-head", "dark"))
    assert number(stem, "y1") - number(stem, "y2") == pytest.approx(number(dark, "height") / 3, abs=0.15)
    assert number(head, "cy") == number(stem, "y2")
    left = number(head, "cx") - number(head, "r")
    assert left > number(dark, "x") + number(dark, "width") + 0.8  # beside the bar, in one hue too
    assert of_class(second, "planned") == []


def test_a_night_of_twilight_is_dashed_and_a_white_one_has_no_bar() -> None:
    made = season(date(2027, 1, 1), 365)
    assert heights(made, "dark")[0] > 0 == heights(made, "dusk")[0]
    summer = next(place for place, one in enumerate(made.nights) if one.evening >= date(2027, 6, 18))
    assert heights(made, "dark")[summer] == 0 < heights(made, "dusk")[summer]
    legend = [*texts_in(read(year_picture(made))), *texts_in(read(year_picture(plan())))]
    assert legend.count("twilight all night") == 1


def test_a_season_has_as_many_months_as_it_has() -> None:
    made = season(date(2027, 7, 10), 400)
    root = read(year_picture(made, width=PHONE))
    names = [one.text for one in of_class(root, "strong")]
    assert names[:3] == ["July 2027", "August 2027", "September 2027"]
    assert names[-1] == "August 2028"
    assert len(names) == 14
    assert len(of_class(root, "base")) == 14
    short = read(year_picture(season(date(2027, 7, 10), 3)))
    assert [one.text for one in of_class(short, "strong")] == ["July"]


OUTCOMES = [went.value for went in Went]


@pytest.mark.parametrize("went", list(Went))
@WIDTHS
def test_a_logged_night_has_the_sign_of_how_it_went(went: Went, width: float) -> None:
    made = replace(with_nights(night(SECOND)), visits=(), log=(Outcome(FIRST, went),))
    root = read(year_picture(made, width=width))
    _, first, second = nights_in(root).values()  # the first of January was free too
    assert len(of_class(first, "sign") + of_class(first, "sign-open")) == 1
    assert of_class(second, "sign") + of_class(second, "sign-open") == []
    words = {"clear": "was clear"}.get(went.value, went.value)
    assert words in texts_in(root)
    assert not set(texts_in(root)) & {*OUTCOMES, "was clear"} - {words}


def test_nights_behind_us_keep_their_bars_but_are_drawn_narrow() -> None:
    outcome = Outcome(FIRST, Went.CLOUDED_OUT)
    made = replace(with_nights(night(SECOND)), visits=(), log=(outcome,))
    _, first, second = nights_in(read(year_picture(made))).values()
    past, ahead = of_class(first, "dark")[0], of_class(second, "dark")[0]
    assert number(past, "height") == number(ahead, "height")
    assert number(past, "width") == pytest.approx(number(ahead, "width") / 2, abs=0.1)
    assert (first.get("class"), second.get("class")) == ("night past", "night")


def test_an_unplanned_night_out_is_there_too() -> None:
    sunday = date(2027, 1, 10)
    made = replace(plan(), log=(Outcome(sunday, Went.CLEAR, seen=("M 1",)),))
    (lone,) = (one for day, one in nights_in(read(year_picture(made))).items() if day == "2027-01-10")
    assert of_class(lone, "dark") == []
    assert len(of_class(lone, "sign")) == 1


def test_announced_club_and_away_are_signs_and_only_what_is_there_is_in_the_legend() -> None:
    away = Trip(Site("Ridge", 55.0, -2.0, 300.0, "Europe/London", 21.5, 0.2), 40, 0.5)
    nights = replace(night(FIRST), club=True), replace(night(SECOND), trip=away)
    made = replace(with_nights(*nights), announced=(FIRST,), trips=(away,), club=Club(frozenset({FIRST})))
    root = read(year_picture(made))
    first, second = nights_in(root).values()
    assert [one.tag for one in of_class(first, "sign")] == [f"{SVG}path", f"{SVG}rect"]
    assert len(of_class(second, "sign-open")) == 1
    assert {"announced", "club night", "at a site away"} <= set(texts_in(root))
    assert not {"announced", "club night", "at a site away"} & set(texts_in(read(year_picture(plan()))))


def test_the_phases_of_the_moon_stand_over_their_nights_lit_as_the_site_sees_them() -> None:
    """Phases of January 2027 (UT, from memory): 7th 20:24, 15th 20:34, 22nd 12:17, 29th 10:55.

    Each belongs to the night whose middle is nearest, the last to that of the 28th.
    """
    made = season(date(2027, 1, 1), 31)
    root = read(year_picture(made))
    discs = [one for one in root if one.tag == f"{SVG}circle"]
    column = (DESK - 116) / 31
    assert [int((number(one, "cx") - 114) / column) + 1 for one in discs] == [7, 15, 22, 28]
    assert [one.get("class") for one in discs] == ["moon-dark", "moon-dark", "moon-lit", "moon-dark"]
    south = replace(made, site=replace(made.site, latitude_deg=-30.0))
    halves, turned = (
        [one.get("d") for one in read(year_picture(of)) if one.get("class") == "moon-lit" and one.get("d")]
        for of in (made, south)
    )
    assert len(halves) == 2
    assert all(half != other for half, other in zip(halves, turned, strict=True))


def test_today_is_marked_and_what_lies_before_recedes() -> None:
    root = read(year_picture(plan(), today=SECOND))
    first, second = nights_in(root).values()
    assert (first.get("class"), second.get("class")) == ("night past", "night")
    assert len(of_class(root, "now")) == 2  # in the month and in the legend
    assert of_class(read(year_picture(plan())), "now") == []
    assert len(of_class(read(year_picture(plan(), today=date(2026, 5, 1))), "now")) == 1


def test_nights_lead_on_where_they_have_an_address_and_have_a_title_where_not() -> None:
    made = plan()
    root = read(year_picture(made, links=lambda day: f"/night/x/{day}?a=1&b=2" if day == FIRST else None))
    first, second = nights_in(root).values()
    assert root.get("role") == "group"
    assert first.tag == f"{SVG}a"
    assert first.get("href") == "/night/x/2027-01-08?a=1&b=2"
    assert first.get("aria-label") == summaries_of(made)[made.nights[0].evening]
    assert second.tag == f"{SVG}g"
    assert second.findtext(f"{SVG}title") == summaries_of(made)[made.nights[1].evening]
    alone = read(year_picture(made))
    assert alone.get("role") == "img"
    assert alone.get("aria-label") == (
        "larkmoor, 1 January 2027 to 31 January 2027: 2 of 2 free nights planned"
    )
    assert alone.findtext(f"{SVG}desc")


@WIDTHS
def test_text_is_large_enough_and_stays_inside(width: float) -> None:
    log = tuple(Outcome(date(2027, 7, 10) + timedelta(days=n), went) for n, went in enumerate(Went))
    made = season(date(2027, 7, 10), 400, log=log)
    boxes = list(text_boxes(read(year_picture(made, width=width, today=date(2027, 9, 1)))))
    assert min(size for _, size, _, _ in boxes) >= 10
    assert min(left for _, _, left, _ in boxes) >= 0
    assert max(right for _, _, _, right in boxes) <= width


@WIDTHS
def test_names_that_mean_harm_stay_text(width: float) -> None:
    made = replace(plan(), scenario=HOSTILE, site=replace(plan().site, name=HOSTILE))
    made = replace(made, visits=tuple(replace(one, target=HOSTILE) for one in made.visits))
    for links in (None, lambda day: f"/night/{HOSTILE}"):
        picture = year_picture(made, width=width, links=links)
        assert faults_of(picture) == []
        assert "<script" not in picture
        assert HOSTILE in (read(picture).get("aria-label") or "")


@WIDTHS
def test_the_same_plan_gives_the_same_bytes_and_no_look_but_classes(width: float) -> None:
    made = season(date(2027, 1, 1), 365)
    assert year_picture(made, width=width) == year_picture(made, width=width)
    assert faults_of(year_picture(made, width=width)) == []
    assert len(year_picture(made, width=width, links=lambda day: f"/night/{'a' * 20}/{day}")) < 150_000
