from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page

from .conftest import DESK, PHONE, OpenPage, Running, RunService
from .looks import faults_of_access, sticks_out, strongest_not_red

FIXED = ["/", "/care", "/enter-nowhere"]


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required")


@pytest.mark.parametrize(("light", "size"), [("red-5", PHONE), ("day-5", DESK)], ids=["phone", "desk"])
@pytest.mark.parametrize("path", FIXED)
def test_anybody_can_use_every_page_and_red_is_red(
    running: Running, open_page: OpenPage, shot: Callable[..., Path], path: str, light: str,
    size: dict[str, int],
) -> None:  # fmt: skip
    page: Page = open_page(running, path, size, light)
    assert faults_of_access(page) == []
    assert sticks_out(page) <= 0
    if light == "red-5":
        assert strongest_not_red(shot(page, f"{path.strip('/') or 'front'}-{size['width']}-red")) == 0
    else:
        shot(page, f"{path.strip('/') or 'front'}-{size['width']}")
