"""What is saved without a network, in a real browser: it waits, and arrives once, whatever comes between."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from api.headers import KEY_COOKIE as COOKIE

from .conftest import PHONE, OpenPage, Running, RunService
from .january import FIRST, NAMES, SECOND
from .log_form import (
    NO_KEEPER,
    January,
    choose,
    is_post,
    keep_january,
    no_posts,
    save,
    told_of,
    until,
    wait_until_kept,
    wait_until_sent,
)

THIRD = "2026-01-20"


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required")


@pytest.fixture
def january(running: Running, tmp_path: Path) -> January:
    return keep_january(running, tmp_path)


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
    save_in_vain(page, "Clouded out")
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


def save_in_vain(page: Page, went: str, plan_on: bool = False) -> None:
    """Save a line whose answer does not come."""
    choose(page, went)
    save(page, plan_on)
    expect(told_of(page, "There is no network.")).to_be_visible()


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
    save_in_vain(page, "Clouded out")
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
    save_in_vain(page, "Clear")
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
    save_in_vain(page, "Clear", plan_on=True)
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
    save_in_vain(page, "Clear")
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
