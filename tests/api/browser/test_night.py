"""The night's page as it is looked at: on a phone in the dark, at a desk, on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from api.storage import NewOutcome, Storage
from scheduler.domain import Plan
from tests.full_night import full_plan
from tests.small_plan import FIRST, SECOND, plan, utc

from ..pages.stored import Stored, logged, stored, told
from .conftest import DESK, PHONE, OpenPage, Running, RunService
from .looks import check_in_both_lights, sticks_out

HOSTILE = (
    "M 1\"><img src=x onerror=\"document.title='taken'\"><script>document.title='taken'</script>" + "x" * 60
)
LEAST_PT = 8.5
PAPER = {"A4": (210, 297), "Letter": (216, 279)}
"""Width and height of a sheet. [mm]"""


def hostile_plan() -> Plan:
    small = plan()
    targets = tuple(replace(one, name=HOSTILE) if one.name == "M 1" else one for one in small.targets)
    visits = tuple(replace(one, target=HOSTILE) if one.target == "M 1" else one for one in small.visits)
    return replace(small, targets=targets, visits=visits)


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    def furnish(storage: Storage) -> dict[str, Any]:
        past = stored(storage, plan(), "past")
        logged(
            storage, past.scenario, NewOutcome(FIRST, "clear", 90, ("Jupiter",), (), ("M 42",), "Some dew.")
        )
        return {
            "small": stored(storage, plan()), "full": stored(storage, full_plan(), "full"), "past": past,
            "long": stored(storage, full_plan(22), "long"), "hostile": stored(storage, hostile_plan(), "odd"),
        }  # fmt: skip

    return run_service(furnish=furnish)


def night(running: Running, of: str, evening: object = FIRST) -> str:
    kept: Stored = running.kept[of]
    return f"/night/{kept.scenario}/{evening}"


@pytest.mark.parametrize("of", ["full", "past"])
def test_anybody_can_use_it_and_red_is_red(
    running: Running, open_page: OpenPage, shot: Callable[..., Path], of: str
) -> None:
    page: Page = open_page(running, night(running, of), PHONE, "red-5")
    page.clock.set_fixed_time(utc(FIRST, 18, 50))
    page.reload()
    check_in_both_lights(page, shot, f"night-{of}")


@pytest.mark.parametrize(
    ("of", "pages", "light"),
    [("small", 1, "red-2"), ("full", 1, "red-2"), ("full", 1, "day-5"), ("long", 2, "red-2")],
)
def test_it_prints_on_one_sheet_black_on_white(
    running: Running, open_page: OpenPage, shot: Callable[..., Path], of: str, pages: int, light: str
) -> None:
    page: Page = open_page(running, night(running, of), DESK, light)
    assert [pages_of(page.pdf(format=paper)) for paper in PAPER] == [pages] * 2
    for paper in PAPER:
        on_paper(page, paper)
        assert sticks_out(page) <= 0, "what sticks out makes browsers print everything smaller"
        assert smallest_pt(page) > LEAST_PT - 0.01
        assert page.locator(".top, .foot, nav, button, .skip").filter(visible=True).count() == 0
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert page.evaluate("getComputedStyle(document.querySelector('h1')).color") == "rgb(0, 0, 0)"
        shot(page, f"sheet-{of}-{paper}-{light}")


def pages_of(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def on_paper(page: Page, paper: str) -> None:
    """Show a page as it is laid out on paper, within its margins."""
    page.emulate_media(media="print")
    width_mm, height_mm = PAPER[paper]
    page.set_viewport_size(
        {"width": int((width_mm - 14) * 96 / 25.4), "height": int((height_mm - 12) * 96 / 25.4)}
    )


def smallest_pt(page: Page) -> float:
    """Return the size of the smallest letters one sees, those of the picture as they are scaled. [pt]"""
    size_px = page.evaluate("""() => Math.min(...[...document.querySelectorAll(".sheet *")]
      .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
      .filter((one) => one.checkVisibility() && getComputedStyle(one).clipPath === "none"
        && !one.closest(".evening h2, .unseen, desc"))
      .map((one) => {
        const picture = one.closest("svg");
        const scale = picture ? picture.getBoundingClientRect().width / picture.viewBox.baseVal.width : 1;
        return parseFloat(getComputedStyle(one).fontSize) * scale;
      }))""")
    return float(size_px) * 0.75


def test_no_look_is_cut_in_two_by_the_end_of_a_sheet(running: Running, open_page: OpenPage) -> None:
    page: Page = open_page(running, night(running, "long"))
    page.emulate_media(media="print")
    kept = page.eval_on_selector_all(".look", "all => all.map((one) => getComputedStyle(one).breakInside)")
    assert set(kept) == {"avoid"}


def test_boxes_print_empty_whatever_is_ticked(running: Running, open_page: OpenPage) -> None:
    page: Page = open_page(running, night(running, "full"))
    page.locator(".kit input").first.check()
    page.reload()
    assert page.locator(".kit input").first.is_checked(), "a phone that forgets the page forgets no tick"
    page.emulate_media(media="print")
    assert not page.locator(".kit input").first.is_visible()
    drawn = page.locator(".kit label").first.evaluate("(one) => getComputedStyle(one, '::before').content")
    assert "□" in drawn


def test_the_mark_moves_by_itself_and_nothing_scrolls(running: Running, open_page: OpenPage) -> None:
    page: Page = open_page(running, "/care", PHONE)
    page.clock.install(time=utc(FIRST, 18, 30))
    page.goto(night(running, "full"))
    now = page.locator("#now")
    assert "On now: M 105 until 18:40" in now.inner_text()
    assert "Next: M 97 at 18:44" in now.inner_text()
    assert page.locator("[aria-current=time] h3").inner_text().endswith("M 105, NGC 3379 galaxy")
    page.clock.run_for(11 * 60_000)
    assert "On now" not in now.inner_text()
    page.clock.run_for(4 * 60_000)
    assert "On now: M 97 until 19:04" in now.inner_text()
    assert "East-north-east, five and a half fists up" in now.inner_text()
    assert page.locator("[aria-current=time]").get_attribute("id") == "look-2"
    assert page.evaluate("scrollY") == 0
    page.clock.run_for(12 * 3_600_000)
    assert now.inner_text() == "The programme is over."


def test_the_first_screen_of_a_phone_says_what_to_look_at_next(running: Running, open_page: OpenPage) -> None:
    page: Page = open_page(running, "/care", PHONE, "red-5")
    page.clock.set_fixed_time(utc(FIRST, 18, 42))
    page.goto(night(running, "full"))
    box = page.locator("#now").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] < PHONE["height"] / 2 + 100
    assert "East-north-east, five and a half fists up (57°)." in page.locator("#now").inner_text()


def test_keys_alone_lead_to_a_look_and_to_the_ticks(running: Running, open_page: OpenPage) -> None:
    page: Page = open_page(running, night(running, "full"))
    reached: list[str] = []
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.outerHTML.slice(0, 200)"))
        if "checkbox" in reached[-1]:
            break
    whole = "\n".join(reached)
    assert [one for one in ('href="#look-1"', 'class="print"', "?name=M+105", 'type="checkbox"')
            if one not in whole] == []  # fmt: skip
    page.keyboard.press("Space")
    assert page.locator(".kit input").first.is_checked()


def test_hostile_names_do_nothing_and_push_nothing_out(running: Running, open_page: OpenPage) -> None:
    page: Page = open_page(running, "/care", PHONE)
    page.clock.set_fixed_time(utc(SECOND, 20, 5))
    page.goto(night(running, "hostile", SECOND))
    assert page.locator("#now .on a").inner_text() == HOSTILE
    assert "taken" not in page.title()
    assert page.locator("main img, main script").count() == 0
    assert sticks_out(page) <= 0


def test_without_script_it_is_all_there(running: Running, open_page: OpenPage) -> None:
    page: Page = open_page(running, night(running, "full"), PHONE, java_script_enabled=False)
    assert page.locator(".look:not(.standby)").count() == 12
    assert page.get_by_text("use your browser's Print").is_visible()
    assert not page.locator("button.print").is_visible()


@pytest.fixture(scope="module")
def public(run_service: RunService) -> Running:
    """A service that asks for keys, with a feed that tells of a full night; no key is sent."""

    def furnish(storage: Storage) -> str:
        return told(storage, stored(storage, full_plan()), full_plan())

    return replace(run_service(furnish=furnish, keys="required"), key="")


def test_a_night_of_a_feed_can_be_read_by_anybody(
    public: Running, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    page: Page = open_page(public, f"/nights/{public.kept}/{FIRST}", PHONE, "red-5")
    assert "M 105 (galaxy)" in page.locator("main").inner_text()
    check_in_both_lights(page, shot, "told")
    page.get_by_role("button", name="Red", exact=True).click()
    assert page.locator("html").get_attribute("data-light") == "red"
    assert pages_of(page.pdf(format="A4")) == 1
