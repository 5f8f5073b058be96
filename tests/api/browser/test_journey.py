"""The whole way, from an empty database to a year planned anew after a lost night, as one person walks it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from .conftest import PHONE, OpenPage, Running, RunService
from .looks import faults_of_access, sticks_out, strongest_not_red

BEGUN_D = 12
"""So long ago the season began: else one would have to wait for nights to be behind one. [d]"""
WISHES = "M 31 5\nM 13\nM 45 4\nM 42 5\nM 27\nM 57\nM 15\nM 2\nAlbireo\nM 35"


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required", plan_seconds=1, plan_years=20)


def test_from_nothing_to_a_year_planned_anew(
    running: Running, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    key, running.key = running.key, ""  # a browser that has never been here
    page = open_page(running, "/", PHONE, light="red-5")
    _sign_in(page, key)
    _plan_from_nothing(page)
    checked = [_checked(page, shot, "1-year")]
    planned = page.locator("details table tbody tr")
    assert planned.count() >= 1

    evening = _a_night_behind(page)
    page.goto(f"{page.url.replace('/year/', '/night/')}/{evening}")
    assert page.locator("li.look:not(.standby)").count() >= 1
    checked.append(_checked(page, shot, "2-night"))

    page.goto(page.url.replace("/night/", "/log/"))
    checked.append(_checked(page, shot, "3-log"))
    page.get_by_role("radio", name="Clouded out").check()
    page.get_by_role("button", name="Save and plan on").click()
    page.wait_for_url("**/changes/*", timeout=120_000)
    expect(page.get_by_role("heading", level=1)).to_have_text("What changed, and why")
    assert page.locator("main li").count() >= 1
    assert "clouded out" in page.inner_text("main").casefold()
    checked.append(_checked(page, shot, "4-changes"))

    page.get_by_role("link", name="The year").click()
    page.wait_for_url("**/year/*")
    assert "Version 2" in page.inner_text("main")
    assert page.locator(f".narrow-only [data-evening='{evening}'][aria-label*='Clouded out']").count() == 1
    checked.append(_checked(page, shot, "5-year-again"))
    assert checked == [([], 0, 0)] * 5

    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_label("Key")).to_be_visible()


def _sign_in(page: Page, key: str) -> None:
    page.get_by_label("Key").fill(key)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Your years").wait_for()


def _plan_from_nothing(page: Page) -> None:
    page.get_by_role("link", name="Plan a year from nothing").click()
    page.locator("#search").press_sequentially("Kathm")
    page.get_by_role("option", name="Kathmandu").click()
    page.fill("#aperture", "200")
    page.fill("#focal_length", "1200")
    page.fill("#eyepiece_1", "25")
    page.fill("#start", f"{(datetime.now(UTC) - timedelta(days=BEGUN_D)).date()}")
    page.fill("#nights", "40")
    page.fill("#wishes", WISHES)
    page.get_by_role("button", name="Make the plan").click()
    page.wait_for_url("**/year/*", timeout=120_000)


def _a_night_behind(page: Page) -> str:
    """Return the newest planned evening that has no line in the log yet, by the year page."""
    link = page.locator("main a[href*='/log/']").first
    found = re.search(r"\d{4}-\d\d-\d\d$", link.get_attribute("href") or "")
    assert found, page.inner_text("main")
    return found[0]


def _checked(page: Page, shot: Callable[..., Path], name: str) -> tuple[list[str], float, int]:
    """Return what is wrong with a page: its faults of access, how far it sticks out, what is not red."""
    return faults_of_access(page), max(0.0, sticks_out(page)), strongest_not_red(shot(page, f"way-{name}"))
