"""The keeper in a real browser: the light of kept pages, what it asks for, and what it never keeps."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from time import time
from typing import Any

import pytest
from playwright.sync_api import Page, Worker, expect

from .conftest import PHONE, OpenPage, Running, RunService, Watched
from .january import FIRST, SECOND
from .log_form import (
    KEEP,
    January,
    choose,
    keep_january,
    kept_pages,
    save,
    told_of,
    until,
    wait_until,
    wait_until_kept,
)
from .looks import check_looks

GONE = """(scenario) => caches.open('duskwright-pages').then((one) => one.keys()).then((all) =>
    !all.some((it) => it.url.includes(scenario)))"""
ASKED_FOR = """() => navigator.serviceWorker.ready.then((one) => one.sync.getTags())
    .then((all) => all.includes('lines'))"""
"""Whether the browser was asked to wake the keeper once there is a network."""
HOUR_S = 3600
LATER = "(ahead_ms) => { self.clock ??= Date.now; Date.now = () => clock() + ahead_ms; }"
"""Lets a clock go ahead of the time by so much."""
FIRST_LIGHT = """addEventListener("readystatechange", () => {
    window.first ??= document.documentElement.dataset.light; }, true);"""
"""Notes how a page was lit before its scripts ran."""
SLOW_YEAR = """() => {
    const ask = fetch, keep = put;
    self.fetch = async (asked) => {
        const answer = await ask(asked);
        if ((asked.url || "").includes("/year/")) await new Promise((come) => { self.come = come; });
        return answer;
    };
    self.put = (...given) => (self.kept = keep(...given));
}"""
"""Lets the keeper have the year's page only once `come` is called; `kept` is what it does with it."""

COUNTED = """() => {
    const ask = fetch, keep = keepNights;
    self.asked = [];
    self.times = 0;
    self.fetch = (what, ...more) => {
        if (typeof what === "string") asked.push(what);
        return ask(what, ...more);
    };
    self.keepNights = async (scenario) => {
        await keep(scenario);
        self.times += 1;
    };
}"""
"""Counts how often the keeper saw to its pages, and what it asked for by then."""


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required")


@pytest.fixture
def january(running: Running, tmp_path: Path) -> January:
    return keep_january(running, tmp_path)


@pytest.fixture
def night_on_hand(january: January, open_page: OpenPage) -> Page:
    """A phone that has kept a night's log."""
    page = open_page(january.running, january.path(), PHONE)
    wait_until_kept(page, january.path())
    keeper_of(page).evaluate("() => keeping")
    return page


def keeper_of(page: Page) -> Worker:
    (worker,) = page.context.service_workers
    return worker


def twilit(*from_to_h: tuple[int, int]) -> str:
    """Return nights as pages know them, by the hours until their dusk and dawn."""
    now = int(time())
    return ".".join(f"{now + dusk * HOUR_S}-{now + dawn * HOUR_S}" for dusk, dawn in from_to_h)


def noted_light(page: Page) -> dict[str, Any]:
    told: dict[str, Any] = page.evaluate("caches.match('/light').then((one) => one.json())")
    return told


def opened_at_dusk(january: January, open_page: OpenPage, nights: str) -> Page:
    """Open a night's log, red at dusk, at a site with such nights; return once it is kept."""
    page = open_page(january.running, "/care", PHONE, "dusk-5")
    page.context.add_cookies([{"name": "duskwright-dusk", "value": nights, "url": january.running.address}])
    page.goto(january.path())
    wait_until_kept(page, january.path())
    until(page, lambda: noted_light(page).get("twilit") == nights, "the keeper never heard of the nights")
    return page


def test_a_copy_is_red_on_a_later_night_and_after_the_last_it_knows(
    january: January, open_page: OpenPage
) -> None:
    page = opened_at_dusk(january, open_page, twilit((2, 10), (26, 34)))
    page.context.set_offline(True)
    page.add_init_script(f"({LATER})(Number(location.hash.slice(1))); {FIRST_LIGHT}")
    seen = {}
    for later_h in (0, 4, 12, 27, 35):
        ahead_ms = later_h * HOUR_S * 1000
        keeper_of(page).evaluate(LATER, ahead_ms)
        page.goto("/")
        expect(page.get_by_role("heading", name="No network")).to_be_visible()
        alone = page.evaluate("document.documentElement.dataset.light")
        page.goto(f"{january.path()}#{ahead_ms}")
        expect(page.get_by_text("Kept copy of")).to_be_visible()
        seen[later_h] = [alone, *page.evaluate("[first, document.documentElement.dataset.light]")]
    lit = {0: "day", 4: "red", 12: "day", 27: "red", 35: "red"}
    assert seen == {later_h: [light] * 3 for later_h, light in lit.items()}


def test_a_copy_does_not_put_its_old_nights_over_newer_ones(january: January, open_page: OpenPage) -> None:
    page = opened_at_dusk(january, open_page, twilit((-30, -20), (2, 10)).partition(".")[2])
    newer = {"chosen": "dusk", "bright": "4", "twilit": twilit((-1, 8))}
    page.evaluate("""(light) => caches.open('duskwright-light').then((one) =>
        one.put('/light', new Response(light)))""", json.dumps(newer))  # fmt: skip
    page.context.set_offline(True)
    page.goto(january.path())
    page.get_by_role("button", name="Red", exact=True).click()
    until(page, lambda: noted_light(page) == newer | {"chosen": "red"}, "the keeper was told something else")


def test_a_page_that_was_asked_for_before_who_signed_out_is_not_kept(
    january: January, night_on_hand: Page
) -> None:
    page, keeper = night_on_hand, keeper_of(night_on_hand)
    other = page.context.new_page()
    other.goto("/")
    keeper.evaluate(SLOW_YEAR)
    page.evaluate("(path) => { setTimeout(() => location.assign(path)); }", f"/year/{january.id}")
    until(other, lambda: keeper.evaluate("() => Boolean(self.come)"), "the year was never asked for")
    other.get_by_role("button", name="Sign out").click()
    other.wait_for_url("**/")
    until(other, lambda: kept_pages(other) == [], "signing out left pages behind")
    keeper.evaluate("() => come()")
    until(other, lambda: keeper.evaluate("() => Boolean(self.kept)"), "the year never came")
    keeper.evaluate("() => kept")
    assert kept_pages(other) == []


def fetched_for_the_year(page: Page, january: January) -> list[str]:
    """Open the year, and return what the keeper fetched of its own accord."""
    keeper = keeper_of(page)
    before = keeper.evaluate("() => { asked.length = 0; return times; }")
    page.goto(f"/year/{january.id}")
    until(page, lambda: keeper.evaluate("() => times") > before, "the keeper did nothing")
    asked: list[str] = keeper.evaluate("() => asked")
    return asked


def test_pages_are_fetched_again_only_once_they_show_something_else(
    january: January, night_on_hand: Page
) -> None:
    keeper_of(night_on_hand).evaluate(COUNTED)
    asked = [f"/keep/{january.id}"]
    assert fetched_for_the_year(night_on_hand, january) == asked
    january.logged_elsewhere("clear")
    assert {*asked, f"/year/{january.id}", january.path(SECOND)} < {
        *fetched_for_the_year(night_on_hand, january)
    }
    assert fetched_for_the_year(night_on_hand, january) == asked


def test_the_next_night_is_the_one_the_service_told_of(january: January, night_on_hand: Page) -> None:
    """Of four kept nights one is logged, one is over at its site, and one the service said nothing of."""
    page = night_on_hand
    logged, over, coming, other = (f"/night/{january.id}/2099-12-{day}" for day in (11, 12, 13, 14))
    page.evaluate(KEEP, [logged, over, coming, other])
    said = {"pages": [logged, over, coming], "mark": "", "coming": [
        {"page": over, "over": time() - 1}, {"page": coming, "over": time() + HOUR_S}]}  # fmt: skip
    page.evaluate("""([path, said]) => caches.open('duskwright-pages').then((one) =>
        one.put(path, new Response(said)))""", [f"/keep/{january.id}", json.dumps(said)])  # fmt: skip
    page.context.set_offline(True)
    page.goto("/")
    expect(page.get_by_text("Sun 13 Dec: the next night")).to_be_visible()
    page.goto(f"/next/{january.id}")
    assert page.url.endswith(coming)
    keeper_of(page).evaluate(LATER, 2 * HOUR_S * 1000)
    page.goto(f"/next/{january.id}")
    assert page.url.endswith(other)


def test_what_the_keeper_asks_for_is_watched_too(
    january: January, night_on_hand: Page, watched: Watched
) -> None:
    address = f"{january.running.address}/keep/{january.id}"
    until(night_on_hand, lambda: address in watched.asked, "the keeper's requests are not seen")
    assert watched.outside(january.running.address) == []


def tell_the_keeper_of_the_network(page: Page) -> None:
    """Let the browser tell the keeper that there is a network, as it does when no page of ours is open.

    The driver's own "no network" is unknown to the part of the browser that does so.
    """
    found: list[str] = []
    session = page.context.new_cdp_session(page)
    session.on(
        "ServiceWorker.workerRegistrationUpdated",
        lambda told: found.extend(one["registrationId"] for one in told["registrations"]),
    )
    session.send("ServiceWorker.enable")
    until(page, lambda: found, "no keeper")
    address = page.evaluate("location.origin")
    session.send("ServiceWorker.dispatchSyncEvent", {
        "origin": address, "registrationId": found[0], "tag": "lines", "lastChance": False,
    })  # fmt: skip


def test_a_kept_page_has_the_light_of_now_and_its_worker_sends_what_waits(
    january: January, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    page = open_page(january.running, january.path(), PHONE, "day-5")
    wait_until_kept(page, january.path())
    page.context.set_offline(True)
    page.get_by_role("button", name="Red", exact=True).click()
    page.reload()
    expect(page.get_by_text("Kept copy of")).to_be_visible()
    assert page.evaluate("document.documentElement.dataset.light") == "red"
    choose(page, "Could not go")
    save(page)
    expect(told_of(page, "There is no network.")).to_be_visible()
    wait_until(page, ASKED_FOR)
    check_looks(page, shot, "log-kept")
    page.goto("/")
    expect(page.get_by_role("heading", name="No network")).to_be_visible()
    check_looks(page, shot, "no-network")
    page.context.set_offline(False)
    tell_the_keeper_of_the_network(page)
    until(page, lambda: january.log, "nothing was sent")
    assert [line["outcome"] for line in january.log] == ["could not go"]


def test_without_a_network_the_year_is_there_and_the_next_night_is_led_to(
    january: January, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    page = open_page(january.running, january.path(), PHONE, "red-2")
    wait_until_kept(page, january.path())
    wait_until_kept(page, f"/year/{january.id}")
    page.evaluate(KEEP, [f"/night/{january.id}/{evening}" for evening in ("2099-12-13", "2099-12-12", FIRST)])
    page.context.set_offline(True)
    page.goto(f"/year/{january.id}")
    expect(page.get_by_text("Kept copy of")).to_be_visible()
    page.goto(f"/next/{january.id}")
    assert page.url.endswith(f"/night/{january.id}/2099-12-12")
    page.goto("/")
    expect(page.get_by_role("heading", name="No network")).to_be_visible()
    told = page.locator("main").inner_text()
    assert told.index("Fri 9 Jan") < told.index("Sat 12 Dec: the next night") < told.index("Sun 13 Dec")
    assert told.index("Sun 13 Dec") < told.index("The year") < told.index("The log")
    assert page.evaluate("({...document.documentElement.dataset})") == {
        "light": "red", "chosen": "red", "bright": "2"
    }  # fmt: skip
    check_looks(page, shot, "no-network-list")


def test_pages_of_one_scenario_are_kept_at_a_time(
    january: January, open_page: OpenPage, tmp_path: Path
) -> None:
    page = open_page(january.running, january.path(), PHONE)
    wait_until_kept(page, january.path())
    (tmp_path / "other").mkdir()
    other = keep_january(january.running, tmp_path / "other")
    page.goto(other.path())
    wait_until_kept(page, other.path())
    wait_until(page, GONE, january.id)


def test_who_signs_out_leaves_no_page_behind(january: January, open_page: OpenPage) -> None:
    page = open_page(january.running, january.path(), PHONE)
    wait_until_kept(page, january.path())
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/")
    assert kept_pages(page) == []
    page.context.set_offline(True)
    page.goto(january.path())
    expect(page.get_by_role("heading", name="No network")).to_be_visible()


def test_a_key_that_counts_no_more_leaves_no_page_behind(january: January, open_page: OpenPage) -> None:
    club = january.running.service.get(f"/scenarios/{january.id}").json()["club"]
    made = january.running.service.ask(
        "POST", f"/clubs/{club}/keys", json={"role": "member", "name": "phone"}
    )
    page = open_page(Running(january.running.address, made.json()["token"], january.running.service),
                     january.path(), PHONE)  # fmt: skip
    expect(page.get_by_role("button", name="Save and plan on")).to_have_count(0)
    wait_until_kept(page, january.path())
    assert january.running.service.ask("POST", f"/keys/{made.json()['id']}/revoke").status_code == 200
    page.goto(january.path(SECOND))
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert kept_pages(page) == []
