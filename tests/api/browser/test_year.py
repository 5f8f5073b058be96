"""The year and the wish-list as they are looked at: by mouse, finger, keyboard; short lists and long ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import ViewportSize

from api.storage import NewFeed, Shows, Storage
from tests.small_plan import FIRST, SECOND, plan

from ..pages.stored import Stored, stored
from .conftest import DESK, PHONE, OpenPage, Running, RunService, Watched
from .long_list import long_plan
from .looks import (
    asked_by_now,
    brightest_red,
    check_in_both_lights,
    check_looks,
    sticks_out,
    strongest_not_red,
)

HOSTILE = "M 1\"><img src=x onerror=\"document.title='taken'\"><script>document.title='taken'</script>"
MANY = 1000


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    def furnish(storage: Storage) -> dict[str, Stored]:
        small = plan()
        targets = (replace(one, name=HOSTILE) if one.name == "M 1" else one for one in small.targets)
        visits = (replace(one, target=HOSTILE) if one.target == "M 1" else one for one in small.visits)
        renamed = replace(small, targets=tuple(targets), visits=tuple(visits))
        fifty = stored(storage, long_plan(50))
        for _ in range(2):
            storage.feeds.add(fifty.club, NewFeed(Shows.SCENARIO, fifty.scenario))
        return {
            "small": stored(storage, small), "hostile": stored(storage, renamed, HOSTILE),
            "fifty": fifty, "many": stored(storage, long_plan(MANY)),
        }  # fmt: skip

    return run_service(furnish=furnish)


@pytest.mark.parametrize("shown", ["year", "wishes", "calendar", "more"])
def test_anybody_can_use_them_and_red_is_red(
    running: Running, open_page: OpenPage, shot: Callable[..., Path], shown: str
) -> None:
    path = f"/{shown}/{running.kept['fifty'].scenario}"
    page = open_page(running, path, PHONE, "red-5")
    check_in_both_lights(page, shot, shown)
    page.set_viewport_size(PHONE)
    check_looks(page, shot, f"{shown}-narrow")
    dim = open_page(running, path, DESK, "red-2")
    assert strongest_not_red(shot(dim, f"{shown}-dim")) == 0


def test_a_calendars_addresses_are_whole_and_apart_on_a_phone(running: Running, open_page: OpenPage) -> None:
    page = open_page(running, f"/calendar/{running.kept['fifty'].scenario}", PHONE, is_mobile=True)
    addresses = page.locator("code.once")
    assert addresses.count() == 2
    for one in addresses.all():
        box = one.bounding_box()
        assert box is not None
        assert box["x"] + box["width"] <= PHONE["width"]
        assert one.inner_text().endswith(".ics")
    revoke = page.get_by_text("Revoke this address").first.bounding_box()
    following = page.get_by_text("The nights of this year").nth(1).bounding_box()
    assert revoke is not None
    assert following is not None
    assert following["y"] - (revoke["y"] + revoke["height"]) >= 12


def test_the_mouse_is_told_what_a_night_holds_and_opens_it(running: Running, open_page: OpenPage) -> None:
    page = open_page(running, f"/year/{running.kept['small'].scenario}")
    told = page.locator("[data-told]")
    assert "Point at a night" in told.inner_text()
    page.locator(f".wide-only a[data-evening='{FIRST}']").hover()
    assert "Jupiter" in told.inner_text()
    assert "Friday 8 January 2027" in told.inner_text()
    page.locator(f".wide-only a[data-evening='{SECOND}']").click()
    page.wait_for_url(f"**/night/{running.kept['small'].scenario}/{SECOND}")


def test_a_fingers_first_tap_tells_and_its_second_opens(
    running: Running, open_page: OpenPage, watched: Watched
) -> None:
    page = open_page(
        running, f"/year/{running.kept['small'].scenario}", PHONE, has_touch=True, is_mobile=True,
        service_workers="block",  # the keeper asks for nights too
    )  # fmt: skip
    told = page.locator("[data-told]").inner_text()
    assert "Tap a night" in told
    assert "Point" not in told
    highlights = (
        "[...document.querySelectorAll('body *')].map((one) => getComputedStyle(one).webkitTapHighlightColor)"
    )
    assert set(page.evaluate(highlights)) == {"rgba(0, 0, 0, 0)"}
    night = page.locator(f".narrow-only a[data-evening='{FIRST}']")
    night.tap()
    assert asked_by_now(page, watched, "/night/") == 0
    assert "Jupiter" in page.locator("[data-told]").inner_text()
    night.tap()
    page.wait_for_url(f"**/night/{running.kept['small'].scenario}/{FIRST}")


def test_the_keyboard_walks_from_night_to_night(running: Running, open_page: OpenPage) -> None:
    page = open_page(running, f"/year/{running.kept['fifty'].scenario}")
    here = "document.activeElement.dataset.evening"
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate(here):
            break
    first = page.evaluate(here)
    assert first
    page.keyboard.press("ArrowRight")
    second = page.evaluate(here)
    assert second > first
    page.keyboard.press("ArrowDown")
    below = page.evaluate(here)
    assert (below[:7], abs(int(below[8:]) - int(second[8:])) <= 3) == ("2027-02", True)
    page.keyboard.press("End")
    last = page.evaluate(here)
    assert last[:7] == "2027-12"
    page.keyboard.press("Tab")
    assert not page.evaluate(here), "the many nights are one stop of the Tab key"
    page.keyboard.press("Shift+Tab")
    assert page.evaluate(here) == last
    assert "December" in page.locator("[data-told]").inner_text()
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/night/*/{last}")


def test_light_changes_at_once_and_is_remembered(running: Running, open_page: OpenPage) -> None:
    page = open_page(running, f"/year/{running.kept['small'].scenario}")
    page.get_by_role("button", name="Red", exact=True).click()
    assert page.locator("html").get_attribute("data-light") == "red"
    page.get_by_role("button", name="Dimmer").click()
    page.get_by_role("button", name="Dimmer").click()
    assert page.locator(".bright").inner_text() == "3/5"
    page.goto("/care")
    assert page.locator("html").get_attribute("data-light") == "red"
    assert page.locator("html").get_attribute("data-bright") == "3"


def test_each_step_is_dimmer(running: Running, open_page: OpenPage, shot: Callable[..., Path]) -> None:
    pages = (open_page(running, "/care", DESK, f"red-{step}") for step in range(5, 0, -1))
    found = [brightest_red(shot(page)) for page in pages]
    assert found[0] == 255
    assert found == sorted(set(found), reverse=True)
    assert found[-1] > 40


def test_hostile_names_do_nothing(running: Running, open_page: OpenPage) -> None:
    for shown in ("year", "wishes"):
        page = open_page(running, f"/{shown}/{running.kept['hostile'].scenario}")
        assert page.title() != "taken"
        assert page.locator("img, main script").count() == 0
        link = page.locator(".wide-only a[data-evening], .wide-only a.target").last
        link.hover()
        assert page.locator("[data-told] img").count() == 0


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_thousand_targets_are_no_burden(
    running: Running, open_page: OpenPage, shot: Callable[..., Path], size: ViewportSize
) -> None:
    """Under a megabyte. How soon it can be used is measured by the benchmark `pages`, not here."""
    path = f"/year/{running.kept['many'].scenario}"
    page = open_page(running, path, size)
    assert len(page.content().encode()) < 1_000_000
    assert sticks_out(page) <= 0
    assert page.locator("[data-told]").inner_text() != ""
    shot(page, f"many-year-{size['width']}")
    wishes = f"/wishes/{running.kept['many'].scenario}"
    page.goto(wishes)
    assert len(page.content().encode()) < 1_000_000
    assert sticks_out(page) <= 0
    shot(page, f"many-wishes-{size['width']}")
