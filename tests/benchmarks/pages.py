"""How large the pages of a long list are, and how soon they can be used: `python -m tests.benchmarks.pages`.

A page can be used once its script has told below the picture what to do; until then its links work already.
Told are the best, the middle and the worst of some loads, as a browser on this machine has them; where it
plays a phone, its processor does a quarter of its work.
"""

from __future__ import annotations

import shutil
import statistics
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from api.storage import Storage
from tests.api.browser.conftest import DESK, PHONE, QUIET
from tests.api.browser.long_list import long_plan
from tests.api.pages.stored import stored
from tests.api.served import served

LOADS = 7


def main() -> None:
    """Print a line for each page, list and screen."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        kept = Path(folder) / "kept.sqlite3"
        storage = Storage(kept)
        lists = {many: stored(storage, long_plan(many)).scenario for many in (50, 400, 1000)}
        storage.close()
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=[*QUIET])
        with served(str(kept)) as (_, address, client):
            for many, scenario in lists.items():
                for shown in ("year", "wishes"):
                    path = f"{address}/{shown}/{scenario}"
                    _measure(browser, path, f"Bearer {client.token}", f"{shown:6} {many:5}")
        browser.close()


def _measure(browser: Browser, address: str, key: str, what: str) -> None:
    for screen, size, slower in (("desk", DESK, 1), ("phone", PHONE, 4)):
        context = browser.new_context(viewport=size, extra_http_headers={"Authorization": key})
        page = context.new_page()
        if slower > 1:
            context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slower})
        took_s = sorted(_loaded_s(page, address) for _ in range(LOADS))
        size_kb = len(page.content().encode()) / 1000
        print(f"{what} targets, {screen:5}: {size_kb:4.0f} kB, usable after {took_s[0]:.2f}, "
              f"{statistics.median(took_s):.2f}, {took_s[-1]:.2f} s", flush=True)  # fmt: skip
        context.close()


def _loaded_s(page: Page, address: str) -> float:
    begun_s = time.perf_counter()
    page.goto(address)
    page.wait_for_function("document.querySelector('[data-told]').textContent !== ''")
    return time.perf_counter() - begun_s


if __name__ == "__main__":
    main()
