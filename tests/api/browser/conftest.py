"""The pages in a real browser: Debian's Chromium, without a screen, against a real service."""

from __future__ import annotations

import os
import re
import secrets
import shutil
import subprocess
import sys
from collections.abc import Callable, Generator, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

import httpx2 as httpx
import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, ViewportSize, expect, sync_playwright

from api.storage import Storage

from ..journeys import Service
from ..servers import ROOT

QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--disable-quic", "--no-first-run", "--force-color-profile=srgb",
)  # fmt: skip
"""No sandbox: as root, as in CI, Chromium has none. The rest keeps it from asking the outside by itself."""
PHONE, DESK = ViewportSize(width=360, height=740), ViewportSize(width=1280, height=900)
expect.set_options(timeout=30_000)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """A running Chromium; without one on the machine the test is skipped.

    One for each module: left open, it would take a quarter of a core from all the tests that follow.
    """
    found = shutil.which("chromium")
    if found is None:
        pytest.skip("no Chromium on this machine: install your system's package chromium")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=found, args=[*QUIET])
        yield browser
        browser.close()


@dataclass
class Running:
    """A running service with the real scheduler.

    Attributes
    ----------
    address : Where it listens.
    key : Its owner's, empty where nobody needs one.
    service : A client of it.
    kept : What was put into its database before it started.
    """

    address: str
    key: str
    service: Service
    kept: Any = None


RunService: TypeAlias = Callable[..., Running]


@pytest.fixture(scope="module")
def run_service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunService]:
    """Start real services, each with a database of its own; all are killed at the end.

    `furnish` puts into the database what is to be there before.
    """
    with ExitStack() as running:

        def run(
            keys: str = "none", furnish: Callable[[Storage], object] | None = None, **settings: object
        ) -> Running:
            folder = tmp_path_factory.mktemp("served")
            kept = furnished(folder / "kept.sqlite3", furnish) if furnish else None
            words = [f"--{name.replace('_', '-')}={value}" for name, value in
                     {"port": 0, "keys": keys, "requests_per_minute": 0, **settings}.items()]  # fmt: skip
            log = running.enter_context((folder / "log").open("w"))
            words.append(f"--database={folder / 'kept.sqlite3'}")
            process = running.enter_context(subprocess.Popen(
                [sys.executable, "-m", "scheduler", "serve", *words], cwd=folder, text=True,
                stdout=subprocess.PIPE, stderr=log,
                env={**os.environ, "PYTHONPATH": str(ROOT), "DUSKWRIGHT_TEST_MARK": secrets.token_hex(8)},
            ))  # fmt: skip
            running.callback(process.kill)
            assert process.stdout is not None
            found = re.search(r"http://127\.0\.0\.1:\d+", process.stdout.readline())
            assert found, (folder / "log").read_text()
            key = "" if keys == "none" else process.stdout.readline().rpartition(" ")[2].strip()
            headers = {"Authorization": f"Bearer {key}"} if key else {}
            client = httpx.Client(base_url=found[0], timeout=60, trust_env=False, headers=headers)
            return Running(found[0], key, Service(running.enter_context(client)), kept)

        yield run


def furnished(database: Path, furnish: Callable[[Storage], object]) -> object:
    """Put things into a new database."""
    storage = Storage(database)
    try:
        return furnish(storage)
    finally:
        storage.close()


@dataclass
class Watched:
    """What a browser did while a test ran: where it asked, what it complained of."""

    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def over(self, page: Page) -> Page:
        """Watch a page, and the keeper behind it, and return the page."""
        page.context.on("request", lambda request: self.asked.append(request.url))
        page.on("pageerror", lambda error: self.complaints.append(f"error: {error}"))
        page.on("console", self._told)
        return page

    def _told(self, message: Any) -> None:
        # A page that answers 401 or 404 is told of by the browser as an error; that is no fault of the page.
        # Nor is it one that a test lets no service worker in.
        fine = "Failed to load resource", "Service Worker registration blocked by Playwright"
        if message.type in {"error", "warning"} and not any(words in message.text for words in fine):
            self.complaints.append(f"{message.type}: {message.text}")

    def outside(self, address: str) -> list[str]:
        """Return every address asked for that is not the service's own."""
        return [one for one in self.asked if not one.startswith((f"{address}/", "data:", "blob:"))]


OpenPage: TypeAlias = Callable[..., Page]


PAGES = pytest.StashKey[list[Page]]()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Add to a failure where the test's pages are and what they say."""
    report = yield
    if report.when == "call" and report.failed:
        for page in item.stash.get(PAGES, []):
            report.sections.append((f"the page at {page.url}", what_it_says(page)))
    return report


def what_it_says(page: Page) -> str:
    """Return a page's text, or why it has none."""
    try:
        return page.locator("main").inner_text(timeout=2_000)
    except Error as gone:
        return gone.message


@pytest.fixture
def watched() -> Watched:
    return Watched()


@pytest.fixture
def open_page(chromium: Browser, watched: Watched, request: pytest.FixtureRequest) -> Iterator[OpenPage]:
    """Open addresses in fresh windows; afterwards nothing outside was asked and nothing complained of.

    `size` is `PHONE` or `DESK`; `light` as the cookie keeps it, "red-5" say; what else there is goes to the
    browser's context.
    """
    contexts: list[tuple[BrowserContext, str]] = []

    def opened(
        running: Running, path: str = "/", size: ViewportSize = DESK, light: str = "day-5", **more: Any
    ) -> Page:  # fmt: skip
        context = chromium.new_context(viewport=size, locale="en-GB", base_url=running.address, **more)
        contexts.append((context, running.address))
        context.set_default_timeout(30_000)
        context.add_cookies([{"name": "duskwright-light", "value": light, "url": running.address}])
        if running.key:
            context.add_cookies([
                {"name": "duskwright-key", "value": running.key, "url": running.address, "httpOnly": True,
                 "sameSite": "Strict"},
            ])  # fmt: skip
        page = watched.over(context.new_page())
        request.node.stash.setdefault(PAGES, []).append(page)
        page.goto(path)
        return page

    yield opened
    for context, _ in contexts:
        context.close()
    assert watched.complaints == []
    assert [one for _, address in contexts for one in watched.outside(address)] == []


@pytest.fixture
def shot(tmp_path: Path) -> Callable[[Page], Path]:
    """Take a picture of a whole page; `DUSKWRIGHT_TEST_SHOTS` names a folder to keep them in."""
    kept = Path(os.environ.get("DUSKWRIGHT_TEST_SHOTS", tmp_path))

    def take(page: Page, name: str = "page") -> Path:
        kept.mkdir(parents=True, exist_ok=True)
        path = kept / f"{name}.png"
        page.screenshot(path=path, full_page=True)
        return path

    return take
