from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from .conftest import PHONE, OpenPage, Running, RunService
from .looks import check_in_both_lights

FIXED = ["/", "/care", "/enter-nowhere"]


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required")


@pytest.mark.parametrize("path", FIXED)
def test_anybody_can_use_every_page_and_red_is_red(
    running: Running, open_page: OpenPage, shot: Callable[..., Path], path: str
) -> None:
    check_in_both_lights(open_page(running, path, PHONE, "red-5"), shot, path.strip("/") or "front")
