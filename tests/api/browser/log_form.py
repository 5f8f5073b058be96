"""The form of the log in a real browser: filled in, saved, and what waits on the device."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Error, Locator, Page, Route

from .conftest import Running
from .january import FIRST, HOSTILE, a_club

NO_KEEPER = {"service_workers": "block"}
"""Where requests are to be interfered with: the driver does not see all of those that pass a worker."""
KEEP = """(addresses) => caches.open('duskwright-pages').then((one) => Promise.all(addresses.map((it) =>
    one.put(it, new Response('A night', { headers: { 'content-type': 'text/html' } })))))"""
HAS_ALL = """(path) => caches.open('duskwright-pages').then((one) => one.keys()).then((all) => {
    const there = all.map((it) => new URL(it.url).pathname);
    return [path, '/static/log.js', '/static/pages.css'].every((it) => there.includes(it)); })"""


@dataclass(frozen=True)
class January:
    """A planned January a service keeps."""

    running: Running
    id: str

    def path(self, evening: str = FIRST) -> str:
        return f"/log/{self.id}/{evening}"

    @property
    def log(self) -> list[dict[str, Any]]:
        items: list[dict[str, Any]] = self.running.service.get(f"/scenarios/{self.id}/outcomes").json()[
            "items"
        ]
        return items

    @property
    def works(self) -> list[str]:
        """What was begun for it, oldest first."""
        club = self.running.service.get(f"/scenarios/{self.id}").json()["club"]
        return [
            job["work"] for job in reversed(self.running.service.get(f"/clubs/{club}/jobs").json()["items"])
        ]

    def logged_elsewhere(self, outcome: str, evening: str = FIRST) -> None:
        line = {"evening": evening, "outcome": outcome}
        answer = self.running.service.ask("POST", f"/scenarios/{self.id}/outcomes", json=line)
        assert answer.status_code == 201, answer.text


def keep_january(running: Running, folder: Path) -> January:
    """Keep a January of a club of its own."""
    told, scenario = a_club(folder, HOSTILE)
    taken = running.service.ask("POST", "/clubs/import", content=told.encode(),
                                headers={"Content-Type": "application/json"})  # fmt: skip
    assert taken.status_code == 201, taken.text
    return January(running, scenario)


def choose(page: Page, name: str) -> None:
    page.get_by_role("radio", name=name, exact=True).check()


def save(page: Page, plan_on: bool = False) -> None:
    page.get_by_role("button", name="Save and plan on" if plan_on else "Save only").click()


def told_of(page: Page, words: str) -> Locator:
    """Return what is told of lines that wait."""
    return page.locator(".waiting").get_by_text(words)


def kept_pages(page: Page) -> list[str]:
    told: list[str] = page.evaluate(
        "caches.has('duskwright-pages').then((has) => has ? caches.open('duskwright-pages')"
        ".then((one) => one.keys()).then((all) => all.map((one) => new URL(one.url).pathname)) : [])"
    )
    return told


def until(page: Page, done: Callable[[], object], told: str) -> None:
    """Wait until something is so, while the page goes on."""
    for _ in range(300):
        if done():
            return
        page.wait_for_timeout(50)
    raise AssertionError(told)


def wait_until(page: Page, promised: str, told: str | None = None) -> None:
    """Wait until what a page promises is true; the driver's own waiting takes a promise itself for true."""

    def is_true() -> object:
        try:
            return page.evaluate(promised, told)
        except Error as gone:
            if "navigation" not in gone.message:  # another page has come meanwhile: ask that one
                raise
            return False

    until(page, is_true, promised)


def wait_until_kept(page: Page, path: str) -> None:
    """Wait until the keeper has a page, and all it is made of."""
    wait_until(page, HAS_ALL, path)


def wait_until_sent(page: Page) -> None:
    wait_until(page, "() => waitingLines.all().then((all) => !all.length)")


def no_posts(route: Route) -> None:
    """Let nothing be sent."""
    if is_post(route):
        route.abort()
    else:
        route.continue_()


def is_post(route: Route) -> bool:
    return route.request.method == "POST"
