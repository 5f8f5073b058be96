"""What is asked of every page: that anybody can use it, and that red is red."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from axe_playwright_python.sync_playwright import Axe
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Page

from .conftest import DESK, Watched


def faults_of_access(page: Page) -> list[str]:
    """Return what axe-core finds wrong with a page (Deque Systems, MPL 2.0): rule, and where."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {node['target']}" for one in found for node in one["nodes"]]


def check_looks(page: Page, shot: Callable[..., Path], name: str) -> None:
    """Check that anybody can use a page as it is now, that it fits its window, and that red is red."""
    assert (name, faults_of_access(page)) == (name, [])
    assert (name, sticks_out(page)) == (name, 0.0)
    light = page.locator("html").get_attribute("data-light")
    picture = shot(page, f"{name}-{light}")
    assert (name, light, strongest_not_red(picture) == 0) == (name, light, light == "red")


def check_in_both_lights(page: Page, shot: Callable[..., Path], name: str) -> None:
    """Check a page that is open in red on a phone, then the same at a desk by day."""
    assert page.locator("html").get_attribute("data-light") == "red"
    check_looks(page, shot, f"{name}-phone")
    at_a_desk_by_day(page)
    check_looks(page, shot, f"{name}-desk")


def at_a_desk_by_day(page: Page) -> None:
    """Widen a page's window, and press its button for daylight without taking the focus there."""
    page.evaluate("document.querySelector('.light button[value=day]').click()")
    page.set_viewport_size(DESK)


def asked_by_now(page: Page, watched: Watched, part: str) -> int:
    """Return how often anything with `part` in its address was asked for, by all the page has done so far.

    A request of our own goes out after those the page has begun; one that led away would fail it.
    """
    page.evaluate("fetch('/static/pages.css').then((answer) => answer.text())")
    return sum(part in one for one in watched.asked)


def sticks_out(page: Page) -> float:
    """Return by how much a page is wider than its window. [px]"""
    return float(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def strongest_not_red(picture: Path) -> int:
    """Return the largest value of green or blue anywhere in a picture. [0..255]"""
    return int(_colours(picture)[..., 1:].max())


def brightest_red(picture: Path) -> int:
    """Return the largest value of red anywhere in a picture. [0..255]"""
    return int(_colours(picture)[..., 0].max())


def _colours(picture: Path) -> NDArray[np.uint8]:
    with Image.open(picture) as seen:
        return np.asarray(seen.convert("RGB"))
