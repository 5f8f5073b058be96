"""What is asked of every page: that anybody can use it, and that red is red."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from axe_playwright_python.sync_playwright import Axe
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Page


def faults_of_access(page: Page) -> list[str]:
    """Return what axe-core finds wrong with a page (Deque Systems, MPL 2.0): rule, and where."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {node['target']}" for one in found for node in one["nodes"]]


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
