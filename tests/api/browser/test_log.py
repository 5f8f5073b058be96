"""Logging a night in a real browser: with one hand, and in red."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from .conftest import PHONE, OpenPage, Running, RunService
from .january import FIRST, HOSTILE, NAMES, SECOND
from .log_form import NO_KEEPER, January, choose, keep_january, save
from .looks import check_in_both_lights, check_looks

BOXES = """() => [...document.querySelectorAll(`.log .choice, .log button:not(.unseen), .log textarea,
    .log summary, .log input:not([type=hidden], [type=radio], [type=checkbox])`)]
    .filter((one) => one.checkVisibility({ visibilityProperty: true }))
    .map((one) => [one.textContent.trim() || one.name, one.getBoundingClientRect()])
    .map(([name, box]) => [name, box.width, box.height])"""
"""All that is pressed or filled in on the form, and how large it is."""


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required")


@pytest.fixture
def january(running: Running, tmp_path: Path) -> January:
    return keep_january(running, tmp_path)


def test_anybody_can_use_the_form_with_a_thumb_and_red_is_red(
    january: January, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    page: Page = open_page(january.running, january.path(SECOND), PHONE, "red-5")
    check_looks(page, shot, "log")
    lowest = page.get_by_role("button", name="Save only").bounding_box()
    assert lowest is not None
    assert lowest["y"] > PHONE["height"] / 2  # within a thumb's reach
    choose(page, "Part-clear")
    page.get_by_text("Standbys (1)").click()
    page.get_by_text("Sky brightness and notes").click()
    page.get_by_role("radio", name="Seen", exact=True).first.check()
    page.get_by_text("Another target").click()
    page.get_by_label("Find by name").fill("3")
    boxes = page.evaluate(BOXES)
    assert len(boxes) > 15
    assert [box for box in boxes if min(box[1:]) < 44] == []
    check_in_both_lights(page, shot, "log-open")


def test_anybody_can_read_what_changed_and_red_is_red(
    january: January, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    newest = january.running.service.get(f"/scenarios/{january.id}/plans").json()["items"][0]["id"]
    page = open_page(january.running, f"/changes/{newest}", PHONE, "red-5")
    expect(page.get_by_text("Nothing changed.")).to_be_visible()
    check_in_both_lights(page, shot, "changes")


def test_a_clear_night_of_eight_all_seen_takes_three_taps_and_no_typing(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, "red-5", has_touch=True)
    page.evaluate("""() => { window.taps = 0; window.typed = 0;
        addEventListener('touchend', () => { taps += 1; sessionStorage.taps = taps; }, true);
        addEventListener('keydown', () => { sessionStorage.typed = 1; }, true); }""")
    page.get_by_role("radio", name="Clear", exact=True).tap()
    page.get_by_role("checkbox", name="All seen").tap()
    page.get_by_role("button", name="Save and plan on").tap()
    page.wait_for_url(re.compile("/(progress|changes)/"))  # it may be done already
    assert page.evaluate("[sessionStorage.taps, sessionStorage.typed]") == ["3", None]
    (line,) = (one for one in january.log if one["evening"] == FIRST)
    assert (line["outcome"], line["seen"]) == ("clear", list(NAMES))


def test_the_keyboard_alone_is_enough(january: January, open_page: OpenPage) -> None:
    page = open_page(january.running, january.path())

    def until(name: str, value: str = "") -> None:
        for _ in range(80):
            page.keyboard.press("Tab")
            there = page.evaluate("[document.activeElement.name, document.activeElement.value]")
            if there[0] == name and value in (there[1], ""):
                return
        raise AssertionError(f"{name} is never reached")

    until("went")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")  # clear, the first
    until("all")
    page.keyboard.press("Space")
    until("target:M 1")
    page.keyboard.press("ArrowRight")  # from seen to poorly
    until("then", "save")
    page.keyboard.press("Enter")
    page.wait_for_url("**?kept=1")
    (line,) = january.log
    assert (line["outcome"], len(line["seen"]), line["seen_poorly"]) == ("clear", 7, ["M 1"])


def test_without_script_the_form_does_the_same(january: January, open_page: OpenPage) -> None:
    page = open_page(january.running, january.path(), PHONE, java_script_enabled=False)
    choose(page, "Part-clear")
    page.get_by_label("Usable minutes").fill("75")
    page.get_by_role("checkbox", name="All seen").check()
    page.get_by_text("Another target").click()
    page.get_by_label("Find by name").fill("img")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("group", name=HOSTILE).get_by_role("radio", name="Poorly").check()
    save(page)
    page.wait_for_url("**?kept=1")
    expect(page.get_by_text("It is in the log.")).to_be_visible()
    (line,) = january.log
    assert (line["usable_min"], line["seen"], line["seen_poorly"]) == (75, list(NAMES), [HOSTILE])


def test_hostile_names_are_inert_however_they_come_in(january: January, open_page: OpenPage) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    page.on("dialog", lambda dialog: pytest.fail(dialog.message))
    choose(page, "Clear")
    page.get_by_text("Another target").click()
    page.get_by_label("Find by name").fill("onerror")
    page.get_by_role("button", name=HOSTILE).click()
    page.get_by_role("group", name=HOSTILE).get_by_role("radio", name="Seen", exact=True).check()
    save(page)
    page.wait_for_url("**?kept=1")
    assert page.locator("img").count() == 0
    assert january.log[0]["seen"] == [HOSTILE]
