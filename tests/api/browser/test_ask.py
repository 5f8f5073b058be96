"""Why and what-if in a browser: asked, waited for and read, by mouse, by keyboard and without script."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Dialog, Page, expect

from ..pages.real_year import FILES, HOSTILE
from .conftest import PHONE, OpenPage, Running, RunService
from .looks import check_in_both_lights

SLOW_MS = 60_000
WHY, GIVE = "What would another night cost?", "What would give it a visit?"


@dataclass
class Planned:
    """A small year on a real service, planned by the real scheduler, with a few questions answered."""

    running: Running
    scenario: str
    plan: str

    def target(self, name: str) -> str:
        return f"/target/{self.scenario}?{urlencode({'name': name})}"

    def asked(self, path: str, **wish: object) -> str:
        """Start a question's job and return its id."""
        answer = self.running.service.ask("POST", path, json=wish)
        assert answer.status_code == 202, answer.text
        return str(answer.json()["id"])

    def answered(self, path: str, **wish: object) -> str:
        job = self.asked(path, **wish)
        assert self.running.service.ended(f"/jobs/{job}")["state"] == "done"
        return job


@pytest.fixture(scope="module")
def planned(run_service: RunService) -> Planned:
    running = run_service(plan_years=30, workers=1)
    service = running.service
    kept = service.keep("fenwold", FILES.scenario_toml, FILES.wish_list_csv)
    scenario = str(kept.headers["location"])
    plan = service.planned(scenario, seconds=0.3, seed=1)
    return Planned(running, scenario.rpartition("/")[2], plan.rpartition("/")[2])


def answer_read(page: Page, words: str) -> None:
    expect(page.get_by_text(words).first).to_be_visible(timeout=SLOW_MS)


def test_what_another_night_would_cost_is_asked_waited_for_and_read(
    planned: Planned, open_page: OpenPage
) -> None:
    page = open_page(planned.running, planned.target("M 1"))
    page.get_by_role("button", name=WHY).click()
    page.wait_for_url("**/answer/*")
    answer_read(page, "This visit is worth")
    assert page.get_by_text("Why it is on").is_visible()
    page.get_by_role("link", name="All about M 1").click()
    page.wait_for_url("**/target/*")
    assert page.get_by_role("button", name=WHY).count() == 0, "asked already"
    assert page.get_by_text("This visit is worth").is_visible()


def test_by_keyboard_alone_a_missing_visit_is_asked_about(planned: Planned, open_page: OpenPage) -> None:
    page = open_page(planned.running, planned.target("M 79"))
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent").strip() == GIVE:
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/answer/*")
    answer_read(page, "From 12° up for M 79")


def test_without_script_one_asks_looks_again_and_reads(planned: Planned, open_page: OpenPage) -> None:
    page = open_page(planned.running, planned.target("Rigel"), java_script_enabled=False)
    page.get_by_role("button", name=WHY).click()
    page.wait_for_url("**/answer/*")
    with page.expect_navigation():
        page.get_by_role("link", name="Look again").click()
    answer_read(page, "This visit is worth")  # the browser looks again by itself until then


def test_one_tap_asks_what_one_more_weekday_would_do(planned: Planned, open_page: OpenPage) -> None:
    page = open_page(planned.running, f"/ask/{planned.scenario}", PHONE)
    page.get_by_role("button", name="Thursdays").click()
    page.wait_for_url("**/answer/*")
    answer_read(page, "In the mean of the same 50 weather years for both")
    page.goto(f"/ask/{planned.scenario}#before")
    assert page.get_by_role("link", name="What if: Thursdays free too (50 weather years)").is_visible()


def test_a_question_at_work_shows_how_far_it_is_and_can_be_stopped(
    planned: Planned, open_page: OpenPage
) -> None:
    job = planned.asked(f"/scenarios/{planned.scenario}/what-ifs", weekdays=["tue"], years=2000, seconds=60)
    page = open_page(planned.running, f"/answer/{job}")
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.locator("#stage")).to_contain_text("As it is: ", timeout=SLOW_MS)
    page.get_by_role("button", name="Stop it").click()
    answer_read(page, "It was stopped")


def test_a_hostile_name_in_the_address_and_on_the_wish_list_stays_text(
    planned: Planned, open_page: OpenPage
) -> None:
    for name in (HOSTILE, "<script>document.title='taken'</script>", '"><svg onload=alert(1)>'):
        page = open_page(planned.running, "/care")
        run: list[str] = []

        def is_run(dialog: Dialog, run: list[str] = run) -> None:
            run.append(dialog.message)
            dialog.dismiss()

        page.on("dialog", is_run)
        page.goto(planned.target(name))
        main = page.locator("main")
        assert name in main.inner_text()
        assert page.evaluate("document.querySelectorAll('main script, main img, main svg').length") == 0
        assert page.title() != "taken"
        assert run == []


@pytest.fixture(scope="module")
def addresses(planned: Planned) -> dict[str, str]:
    """Pages to be looked at, with answers on them."""
    reasons = f"/plans/{planned.plan}/reasons"
    planned.answered(reasons, target="M 42")
    planned.answered(reasons, target="M 79")
    scenario = f"/scenarios/{planned.scenario}"
    planned.answered(f"{scenario}/prices")
    what_if = planned.answered(
        f"{scenario}/what-ifs", weekdays=["thu"], finish="23:30", years=20, seconds=0.3
    )
    unsure = planned.answered(f"{scenario}/what-ifs", nights_per_week=2, years=10, seconds=0.3)
    return {
        "target": planned.target("M 42"), "lacking": planned.target("M 79"),
        "hostile": planned.target(HOSTILE), "unknown": planned.target("M 4"),
        "ask": f"/ask/{planned.scenario}", "what-if": f"/answer/{what_if}", "unsure": f"/answer/{unsure}",
    }  # fmt: skip


def test_anybody_can_use_every_page_and_red_is_red(
    planned: Planned, addresses: dict[str, str], open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    for name, path in addresses.items():
        page = open_page(planned.running, path, PHONE, "red-5")
        check_in_both_lights(page, shot, name)
    page = open_page(planned.running, f"/ask/{planned.scenario}", PHONE, "red-5")
    page.get_by_text("Something else", exact=True).click()
    page.get_by_label("Nights out a week, at most").fill("nine")
    page.get_by_label("Out until").fill("late")
    page.get_by_role("button", name="Ask", exact=True).click()
    expect(page.get_by_text("A whole number from 1 to 7.")).to_be_visible()
    check_in_both_lights(page, shot, "faults")
    job = planned.asked(f"/scenarios/{planned.scenario}/what-ifs", weekdays=["mon"], years=2000, seconds=60)
    page = open_page(planned.running, f"/answer/{job}", PHONE, "red-5")
    expect(page.get_by_role("progressbar")).to_be_visible()
    check_in_both_lights(page, shot, "waiting")
    page.get_by_role("button", name="Stop it").click()
    answer_read(page, "It was stopped")
