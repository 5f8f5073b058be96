from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import expect

from .conftest import PHONE, OpenPage, Running, RunService
from .looks import check_in_both_lights, check_looks

FIXED = ["/", "/care", "/enter-nowhere"]


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required")


def test_a_club_lets_somebody_in(running: Running, open_page: OpenPage, shot: Callable[..., Path]) -> None:
    page = open_page(running, "/", PHONE, "red-5")
    page.get_by_role("link", name="Name and keys of the club").click()
    page.get_by_label("Whose it is").fill("Jory")
    page.get_by_role("button", name="Make the key").click()
    token = page.locator("#token").inner_text()
    check_in_both_lights(page, shot, "entry")
    came = open_page(replace(running, key=""), "/")
    came.get_by_label("Key", exact=True).fill(token)
    came.get_by_role("button", name="Sign in").click()
    expect(came.get_by_role("heading", name="Your years")).to_be_visible()
    page.get_by_text("Revoke the key of Jory", exact=True).click()
    check_looks(page, shot, "entry-revoking")
    page.get_by_role("button", name="Yes, revoke the key of Jory").click()
    expect(page.get_by_text("None of its own yet.")).to_be_visible()
    came.reload()
    expect(came.get_by_role("heading", name="Sign in")).to_be_visible()


@pytest.mark.parametrize("path", FIXED)
def test_anybody_can_use_every_page_and_red_is_red(
    running: Running, open_page: OpenPage, shot: Callable[..., Path], path: str
) -> None:
    check_in_both_lights(open_page(running, path, PHONE, "red-5"), shot, path.strip("/") or "front")
