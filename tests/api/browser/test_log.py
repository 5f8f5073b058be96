"""Logging a night in a real browser: with one hand, in red, and without a network."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Error, Locator, Page, Route, expect

from api.headers import KEY_COOKIE as COOKIE

from .conftest import PHONE, OpenPage, Running, RunService
from .january import FIRST, HOSTILE, NAMES, SECOND, a_club
from .looks import check_in_both_lights, check_looks

NO_KEEPER = {"service_workers": "block"}
"""Where requests are to be interfered with: the driver does not see all of those that pass a worker."""
THIRD = "2026-01-20"
BOXES = """() => [...document.querySelectorAll(`.log .choice, .log button:not(.unseen), .log textarea,
    .log summary, .log input:not([type=hidden], [type=radio], [type=checkbox])`)]
    .filter((one) => one.checkVisibility({ visibilityProperty: true }))
    .map((one) => [one.textContent.trim() || one.name, one.getBoundingClientRect()])
    .map(([name, box]) => [name, box.width, box.height])"""
"""All that is pressed or filled in on the form, and how large it is."""
KEEP = """(addresses) => caches.open('duskwright-pages').then((one) => Promise.all(addresses.map((it) =>
    one.put(it, new Response('A night', { headers: { 'content-type': 'text/html' } })))))"""
GONE = """(scenario) => caches.open('duskwright-pages').then((one) => one.keys()).then((all) =>
    !all.some((it) => it.url.includes(scenario)))"""
ASKED_FOR = """() => navigator.serviceWorker.ready.then((one) => one.sync.getTags())
    .then((all) => all.includes('lines'))"""
"""Whether the browser was asked to wake the keeper once there is a network."""
HAS_ALL = """(path) => caches.open('duskwright-pages').then((one) => one.keys()).then((all) => {
    const there = all.map((it) => new URL(it.url).pathname);
    return [path, '/static/log.js', '/static/pages.css'].every((it) => there.includes(it)); })"""


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required")


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


@pytest.fixture
def january(running: Running, tmp_path: Path) -> January:
    return keep_january(running, tmp_path)


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


def wait_until_sent(page: Page) -> None:
    wait_until(page, "() => waitingLines.all().then((all) => !all.length)")


def test_anybody_can_use_the_form_with_a_thumb_and_red_is_red(
    january: January, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    page: Page = open_page(january.running, january.path(SECOND), PHONE, "red-5")
    check_looks(page, shot, "log")
    lowest = page.get_by_role("button", name="Save only").bounding_box()
    assert lowest is not None
    assert lowest["y"] > PHONE["height"] / 2  # within a thumb's reach
    choose(page, "Part-clear")
    page.get_by_text("Standbys (1)").click()
    page.get_by_text("Sky brightness and notes").click()
    page.get_by_role("radio", name="Seen", exact=True).first.check()
    page.get_by_text("Another target").click()
    page.get_by_label("Find by name").fill("3")
    boxes = page.evaluate(BOXES)
    assert len(boxes) > 15
    assert [box for box in boxes if min(box[1:]) < 44] == []
    check_in_both_lights(page, shot, "log-open")


def test_anybody_can_read_what_changed_and_red_is_red(
    january: January, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    newest = january.running.service.get(f"/scenarios/{january.id}/plans").json()["items"][0]["id"]
    page = open_page(january.running, f"/changes/{newest}", PHONE, "red-5")
    expect(page.get_by_text("Nothing changed.")).to_be_visible()
    check_in_both_lights(page, shot, "changes")


def test_a_clear_night_of_eight_all_seen_takes_three_taps_and_no_typing(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, "red-5", has_touch=True)
    page.evaluate("""() => { window.taps = 0; window.typed = 0;
        addEventListener('touchend', () => { taps += 1; sessionStorage.taps = taps; }, true);
        addEventListener('keydown', () => { sessionStorage.typed = 1; }, true); }""")
    page.get_by_role("radio", name="Clear", exact=True).tap()
    page.get_by_role("checkbox", name="All seen").tap()
    page.get_by_role("button", name="Save and plan on").tap()
    page.wait_for_url(re.compile("/(progress|changes)/"))  # it may be done already
    assert page.evaluate("[sessionStorage.taps, sessionStorage.typed]") == ["3", None]
    (line,) = (one for one in january.log if one["evening"] == FIRST)
    assert (line["outcome"], line["seen"]) == ("clear", list(NAMES))


def test_the_keyboard_alone_is_enough(january: January, open_page: OpenPage) -> None:
    page = open_page(january.running, january.path())

    def until(name: str, value: str = "") -> None:
        for _ in range(80):
            page.keyboard.press("Tab")
            there = page.evaluate("[document.activeElement.name, document.activeElement.value]")
            if there[0] == name and value in (there[1], ""):
                return
        raise AssertionError(f"{name} is never reached")

    until("went")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowUp")  # clear, the first
    until("all")
    page.keyboard.press("Space")
    until("target:M 1")
    page.keyboard.press("ArrowRight")  # from seen to poorly
    until("then", "save")
    page.keyboard.press("Enter")
    page.wait_for_url("**?kept=1")
    (line,) = january.log
    assert (line["outcome"], len(line["seen"]), line["seen_poorly"]) == ("clear", 7, ["M 1"])


def test_without_script_the_form_does_the_same(january: January, open_page: OpenPage) -> None:
    page = open_page(january.running, january.path(), PHONE, java_script_enabled=False)
    choose(page, "Part-clear")
    page.get_by_label("Usable minutes").fill("75")
    page.get_by_role("checkbox", name="All seen").check()
    page.get_by_text("Another target").click()
    page.get_by_label("Find by name").fill("img")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("group", name=HOSTILE).get_by_role("radio", name="Poorly").check()
    save(page)
    page.wait_for_url("**?kept=1")
    expect(page.get_by_text("It is in the log.")).to_be_visible()
    (line,) = january.log
    assert (line["usable_min"], line["seen"], line["seen_poorly"]) == (75, list(NAMES), [HOSTILE])


def test_what_is_saved_without_a_network_waits_and_arrives_once(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, "red-3")
    wait_until_kept(page, january.path())
    page.context.set_offline(True)
    page.reload()
    expect(page.get_by_text("Kept copy of")).to_be_visible()
    choose(page, "Clear")
    page.get_by_role("checkbox", name="All seen").check()
    save(page)
    expect(page.get_by_role("heading", name="One night is not in the log yet")).to_be_visible()
    expect(page.get_by_text("clear, 8 seen")).to_be_visible()
    expect(page.get_by_text("It is kept on this device.")).to_be_visible()
    page.reload()
    expect(page.get_by_role("heading", name="One night is not in the log yet")).to_be_visible()
    expect(page.get_by_role("radio", name="Clear", exact=True)).to_be_checked()
    assert january.log == []
    page.context.set_offline(False)
    page.wait_for_url("**?kept=1")
    page.reload()
    page.goto("/")
    (line,) = january.log
    assert (line["evening"], line["seen"]) == (FIRST, list(NAMES))
    assert page.evaluate("waitingLines.all()") == []


def test_a_line_whose_answer_was_lost_is_sent_again_and_is_there_once(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    lost = losing(page)
    choose(page, "Clouded out")
    save(page)
    expect(told_of(page, "There is no network.")).to_be_visible()
    assert lost.statuses == [201]
    choose(page, "Clear")  # on second thoughts, while nobody knows whether the first arrived
    save(page)
    expect(page.locator(".waiting li")).to_have_count(2)
    lost.wait_for(page, 2)
    assert set(lost.statuses) == {201}
    assert [line["outcome"] for line in january.log] == ["clouded out"]
    lost.over = True
    page.get_by_role("button", name="Send now").first.click()
    wait_until_sent(page)
    assert [line["outcome"] for line in january.log] == ["clouded out", "clear"]


@dataclass
class Lost:
    """Statuses of answers that never came to a page, until it is over."""

    statuses: list[int]
    over: bool = False

    def wait_for(self, page: Page, many: int) -> None:
        """Wait until so many answers are lost."""
        until(page, lambda: len(self.statuses) >= many, "fewer were lost")


def losing(page: Page) -> Lost:
    """Lose every answer to a form from now on, after the service got it."""
    lost = Lost([])

    def lose(route: Route) -> None:
        if lost.over or not is_post(route):
            route.continue_()
            return
        lost.statuses.append(route.fetch().status)
        route.abort()

    page.route("**/log/**", lose)
    return lost


def test_a_line_whose_answer_was_lost_never_comes_back_over_its_correction(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    lost = losing(page)
    choose(page, "Clouded out")
    save(page)
    expect(told_of(page, "There is no network.")).to_be_visible()
    january.logged_elsewhere("clear")
    lost.over = True
    page.get_by_role("button", name="Send now").click()
    wait_until_sent(page)
    expect(page.get_by_text("Somebody logged this night meanwhile.")).to_have_count(0)
    assert [line["outcome"] for line in january.log] == ["clouded out", "clear"]


def test_nights_that_waited_arrive_in_the_order_they_were_written(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(SECOND), PHONE, **NO_KEEPER)
    page.route("**/log/**", no_posts)
    written = [
        (SECOND, "Could not go", True), (FIRST, "Clear", True), (FIRST, "Clouded out", True),
        (THIRD, "Could not go", False),
    ]  # fmt: skip
    for before, waiting, (evening, went, plan_on) in zip((0, 1, 2, 2), (1, 2, 2, 3), written, strict=True):
        page.goto(january.path(evening))
        expect(page.locator(".waiting li")).to_have_count(before)
        choose(page, went)
        save(page, plan_on)
        expect(page.locator(".waiting li")).to_have_count(waiting)
    expect(page.get_by_role("heading", name="3 nights are not in the log yet")).to_be_visible()
    page.unroute("**/log/**")
    page.goto("/")
    wait_until_sent(page)
    assert [(line["evening"], line["outcome"]) for line in january.log] == [
        (SECOND, "could not go"), (FIRST, "clouded out"), (THIRD, "could not go")]  # fmt: skip
    assert january.works == ["plan", "plan", "re-plan"], "one new plan after all"


def no_posts(route: Route) -> None:
    """Let nothing be sent."""
    if is_post(route):
        route.abort()
    else:
        route.continue_()


def is_post(route: Route) -> bool:
    return route.request.method == "POST"


@pytest.mark.parametrize(("answer", "outcomes"), [
    ("Keep the log's", ["clouded out"]), ("Put mine over it", ["clouded out", "clear"]),
])  # fmt: skip
def test_a_night_logged_elsewhere_meanwhile_is_asked_about(
    january: January, open_page: OpenPage, answer: str, outcomes: list[str]
) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    january.logged_elsewhere("clouded out")
    choose(page, "Clear")
    save(page)
    expect(page.get_by_text("Somebody logged this night meanwhile.")).to_be_visible()
    assert [line["outcome"] for line in january.log] == ["clouded out"]
    page.get_by_role("button", name=answer).click()
    expect(page.locator(".waiting")).to_be_hidden()
    assert [line["outcome"] for line in january.log] == outcomes


def test_a_refused_line_stays_with_its_reason_until_it_is_mended_or_dropped(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    choose(page, "Clear")
    page.get_by_text("Sky brightness and notes").click()
    page.get_by_label("Sky brightness, if").fill("99")
    save(page)
    expect(page.locator(".waiting .fault")).to_contain_text("a number from 10 to 24")
    page.goto("/")
    expect(page.locator(".waiting .fault")).to_contain_text("a number from 10 to 24")
    page.get_by_role("link", name="Mend it").click()
    expect(page.get_by_label("Sky brightness, if")).to_have_value("99")
    page.get_by_label("Sky brightness, if").fill("21.4")
    save(page)
    page.wait_for_url("**?kept=1")
    (line,) = january.log
    assert line["sky_brightness"] == 21.4
    page.goto(january.path(SECOND))
    choose(page, "Clear")
    page.get_by_text("Sky brightness and notes").click()
    page.get_by_label("Sky brightness, if").fill("1")
    save(page)
    page.get_by_role("button", name="Drop it", exact=True).click()
    assert page.evaluate("waitingLines.all().then((all) => all.length)") == 1
    page.get_by_role("button", name="Really drop it").click()
    expect(page.locator(".waiting")).to_be_hidden()
    assert len(january.log) == 1


def test_what_is_saved_is_kept_at_once_while_an_earlier_line_is_on_its_way(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    page.route("**/log/**", no_posts)
    choose(page, "Clear")
    save(page)
    expect(told_of(page, "There is no network.")).to_be_visible()
    page.unroute("**/log/**")
    hanging: list[Route] = []
    page.route("**/log/**", lambda route: hanging.append(route) if is_post(route) else route.continue_())
    page.goto(january.path(SECOND))
    until(page, lambda: hanging, "nothing was sent")
    choose(page, "Clouded out")
    save(page)
    expect(page.get_by_role("heading", name="2 nights are not in the log yet")).to_be_visible()
    assert january.log == []
    page.unroute("**/log/**")
    page.goto("/")
    wait_until_sent(page)
    assert {line["evening"]: line["outcome"] for line in january.log} == {
        FIRST: "clear", SECOND: "clouded out"
    }  # fmt: skip


def test_what_arrives_while_its_page_is_still_open_is_told(january: January, open_page: OpenPage) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    page.route("**/log/**", no_posts)
    choose(page, "Clear")
    save(page, plan_on=True)
    expect(told_of(page, "There is no network.")).to_be_visible()
    page.unroute("**/log/**")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.get_by_text("is in the log now.")).to_be_visible()
    page.get_by_role("link", name="See what it changes").click()
    page.wait_for_url("**/progress/**")


def test_a_device_that_can_keep_nothing_sends_at_once_and_without_a_network_leaves_all_as_written(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    page.evaluate("() => { waitingLines.add = () => Promise.reject(new Error('full')); }")
    page.route("**/log/**", no_posts)
    choose(page, "Clear")
    page.get_by_text("Sky brightness and notes").click()
    page.locator("#notes").fill("Much was written.")
    save(page)
    expect(page.get_by_text("nothing is saved yet")).to_be_visible()
    assert page.locator("#notes").input_value() == "Much was written."
    page.unroute("**/log/**")
    save(page)
    page.wait_for_url("**?kept=1")
    assert [line["notes"] for line in january.log] == ["Much was written."]


def test_a_line_sent_under_the_key_of_another_club_waits_for_its_own(
    january: January, open_page: OpenPage
) -> None:
    running = january.running
    club = running.service.ask("POST", "/clubs", json={"name": "Another"}).headers["location"]
    made = running.service.ask("POST", f"{club}/keys", json={"role": "member", "name": "phone"})
    page = open_page(running, january.path(), PHONE, **NO_KEEPER)
    page.route("**/log/**", no_posts)
    choose(page, "Clear")
    save(page)
    expect(told_of(page, "There is no network.")).to_be_visible()
    page.unroute("**/log/**")
    sign_in(page, running, made.json()["token"])
    page.goto("/")
    expect(told_of(page, "Sign in with its club's key")).to_be_visible()
    expect(page.get_by_role("button", name="Drop it", exact=True)).to_be_visible()
    sign_in(page, running, running.key)
    page.goto("/")
    wait_until_sent(page)
    assert [line["outcome"] for line in january.log] == ["clear"]


def sign_in(page: Page, running: Running, key: str) -> None:
    page.context.add_cookies([{"name": COOKIE, "value": key, "url": running.address}])


def test_a_night_whose_follower_is_refused_is_planned_on_by_itself(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    page.route("**/log/**", no_posts)
    choose(page, "Clear")
    save(page, plan_on=True)
    expect(page.locator(".waiting li")).to_have_count(1)
    page.goto(january.path(SECOND))
    expect(page.locator(".waiting li")).to_have_count(1)
    choose(page, "Clear")
    page.get_by_text("Sky brightness and notes").click()
    page.get_by_label("Sky brightness, if").fill("99")
    save(page, plan_on=True)
    expect(page.locator(".waiting li")).to_have_count(2)
    page.unroute("**/log/**")
    page.goto("/")
    expect(page.locator(".waiting .fault")).to_contain_text("a number from 10 to 24")
    expect(page.get_by_role("link", name="See what it changes")).to_be_visible()
    assert january.log[0]["evening"] == FIRST
    assert january.works == ["plan", "plan", "re-plan"]


def test_who_is_signed_out_is_told_so_where_pages_cannot_be_kept(
    january: January, open_page: OpenPage
) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    page.evaluate("Object.defineProperty(window, 'caches', { value: undefined })")  # as over plain http
    page.context.clear_cookies(name=COOKIE)
    choose(page, "Clear")
    save(page)
    expect(told_of(page, "Sign in, and it is sent.")).to_be_visible()


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


def test_hostile_names_are_inert_however_they_come_in(january: January, open_page: OpenPage) -> None:
    page = open_page(january.running, january.path(), PHONE, **NO_KEEPER)
    page.on("dialog", lambda dialog: pytest.fail(dialog.message))
    choose(page, "Clear")
    page.get_by_text("Another target").click()
    page.get_by_label("Find by name").fill("onerror")
    page.get_by_role("button", name=HOSTILE).click()
    page.get_by_role("group", name=HOSTILE).get_by_role("radio", name="Seen", exact=True).check()
    save(page)
    page.wait_for_url("**?kept=1")
    assert page.locator("img").count() == 0
    assert january.log[0]["seen"] == [HOSTILE]
