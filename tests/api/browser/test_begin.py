"""A newcomer's way from nothing to a year: with script and without, by keyboard, on a phone, in red."""

from __future__ import annotations

import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlencode

import pytest
from playwright.sync_api import Page, expect

from api.beginning.lists import SAMPLE

from .conftest import DESK, PHONE, OpenPage, Running, RunService, Watched
from .looks import asked_by_now, check_in_both_lights, check_looks, faults_of_access

HOSTILE = "<img src=x onerror=\"document.title='taken'\">"
TOML = b"""
site = {latitude_deg = 47.3, longitude_deg = 11.4, zone = "Europe/Vienna"}
binoculars = {magnification = 10, aperture_mm = 50}
"""
SEASON = b"[season]\nstart = 2027-01-01\nnights = 20\n"
KEPT = "Object.keys(sessionStorage)"
"""What was typed and is kept by the browser, by club."""
WRONG = f"M 31\nGalxy\n{HOSTILE}"


@pytest.fixture(scope="module")
def running(run_service: RunService) -> Running:
    return run_service(keys="required", plan_seconds=1, plan_years=0)


@pytest.fixture(scope="module")
def begin(running: Running) -> str:
    """The address of the form."""
    return f"/begin/{running.service.club.rpartition('/')[2]}"


def filled(page: Page, **other: str) -> None:
    """Fill the form in as the made-up observer would."""
    for name, text in {**SAMPLE, "start": "2027-01-01", "nights": "30", **other}.items():
        if name.startswith("weekdays"):
            for day in text.split(", "):
                page.check(f"input[name={name}][value={day}]")
        elif name in ("sky", "odds", "telescope_type"):
            page.select_option(f"#{name}", text)
        elif not name.startswith("odds_"):
            page.fill(f"#{name}", text)


def blank(page: Page) -> None:
    """Leave the form as it is."""


def with_faults(page: Page) -> None:
    filled(page, latitude="91", wishes=WRONG, eyepiece_5_field="50")
    page.get_by_role("button", name="Make the plan").click()
    page.wait_for_selector("#put-right")


def with_towns_open(page: Page) -> None:
    page.locator("#search").press_sequentially("spring")
    page.wait_for_selector("#towns [role=option]")
    page.keyboard.press("ArrowDown")


def with_towns_found(page: Page) -> None:
    page.fill("#search", "york")
    page.get_by_role("button", name="Find").click()
    page.wait_for_selector(".places button[value^=place]")


def with_a_list(page: Page) -> None:
    page.get_by_role("button", name="All of Messier").click()
    page.get_by_text("110 lines, all understood").click()


STATES = {"blank": blank, "faults": with_faults, "typing": with_towns_open, "found": with_towns_found,
          "list": with_a_list}  # fmt: skip


@pytest.mark.parametrize("state", STATES)
def test_anybody_can_use_the_form_and_red_is_red(
    running: Running, begin: str, open_page: OpenPage, shot: Callable[..., Path], state: str
) -> None:
    page = open_page(running, begin, PHONE, "red-5")
    STATES[state](page)
    check_in_both_lights(page, shot, f"begin-{state}")


def test_a_newcomer_gets_to_a_year(running: Running, begin: str, open_page: OpenPage) -> None:
    page = open_page(running, "/", PHONE)
    page.evaluate("sessionStorage.setItem('duskwright-begin-elsewhere', '[]')")
    page.get_by_role("link", name="Plan a year from nothing").click()
    page.locator("#search").press_sequentially("Kathm")
    page.get_by_role("option", name="Kathmandu").click()
    expect(page.locator("#zone")).to_have_value("Asia/Kathmandu")
    page.fill("#aperture", "200")
    page.fill("#focal_length", "1200")
    for number, length_mm in enumerate(("32", "17", "9"), 1):
        page.fill(f"#eyepiece_{number}", length_mm)
    page.fill("#nights", "20")
    page.get_by_role("button", name="A first year, north").click()
    page.get_by_text("42 lines, all understood").wait_for()
    assert page.input_value("#eyepiece_3") == "9"
    page.get_by_role("button", name="Make the plan").click()
    page.wait_for_url("**/year/*", timeout=120_000)
    assert page.get_by_role("heading", level=1).inner_text() == "A year at Kathmandu"
    assert page.evaluate(KEPT) == ["duskwright-begin-elsewhere"], "only what was typed here became a plan"


def test_a_plan_made_anew_leaves_what_was_typed(running: Running, begin: str, open_page: OpenPage) -> None:
    scenario = running.service.keep("anew", TOML + SEASON, b"target\nM 31\n").headers["location"]
    running.service.planned(scenario)
    page = open_page(running, begin)
    page.fill("#wishes", "M 42")
    page.goto("/care")
    kept = page.evaluate(KEPT)
    page.goto(running.service.started(scenario, after="newest").replace("/jobs/", "/progress/"))
    assert "/progress/" in page.url
    page.wait_for_url("**/changes/*", timeout=120_000)
    assert page.evaluate(KEPT) == kept == [f"duskwright-begin-{begin.rpartition('/')[2]}"]


def test_without_script_it_goes_as_well(running: Running, begin: str, open_page: OpenPage) -> None:
    page = open_page(running, begin, PHONE, java_script_enabled=False)
    page.fill("#wishes", "M 31\n")
    page.fill("#search", "Kathm")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("button", name="Kathmandu, Nepal").click()
    expect(page.locator("#zone")).to_have_value("Asia/Kathmandu")
    page.fill("#binoculars_power", "10")
    page.fill("#binoculars_aperture", "50")
    page.fill("#nights", "20")
    page.get_by_role("button", name="A first year, north").click()
    expect(page.locator("#wishes")).to_have_value(re.compile("^M 31\nVenus\n"))
    page.get_by_role("button", name="Make the plan").click()
    page.wait_for_url("**/progress/*")
    running.service.ended(page.url.replace(running.address, "").replace("/progress/", "/jobs/"), 120)
    page.reload()
    page.wait_for_url("**/year/*")


def test_faults_are_led_to_by_keyboard(running: Running, begin: str, open_page: OpenPage) -> None:
    page = open_page(running, begin)
    with_faults(page)
    expect(page.locator("#put-right")).to_be_focused()
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent").startswith("Latitude: read “91”")
    page.keyboard.press("Enter")
    expect(page.locator("#latitude")).to_be_focused()
    page.keyboard.press("Control+A")
    page.keyboard.type("55.2")
    assert page.input_value("#latitude") == "55.2"
    assert page.title() != "taken"
    assert page.locator("main img, main script").count() == 0


def test_fields_of_a_row_stand_in_line_and_faults_below_them(
    running: Running, begin: str, open_page: OpenPage
) -> None:
    page = open_page(running, begin, DESK)
    filled(page, latitude="91", barlow="nine", nights="500")
    page.get_by_role("button", name="Make the plan").click()
    page.wait_for_selector("#put-right")
    top = "(name) => document.getElementById(name).getBoundingClientRect().top"
    for row in (("site_name", "latitude", "longitude"), ("aperture", "focal_length", "barlow"),
                ("start", "nights", "nights_per_month"), ("eyepiece_1", "eyepiece_1_field")):  # fmt: skip
        assert len({round(page.evaluate(top, name)) for name in row}) == 1, row
    for name in ("latitude", "barlow", "nights"):
        assert page.evaluate(top, f"{name}-fault") > page.evaluate(top, name)
        assert f"{name}-fault" in (page.locator(f"#{name}").get_attribute("aria-describedby") or "")


def test_a_zone_asked_about_is_sent_again_without_script(
    running: Running, begin: str, open_page: OpenPage
) -> None:
    page = open_page(running, begin, java_script_enabled=False)
    filled(page, latitude="49.9", longitude="-8.15", zone="Europe/Berlin", title="At sea")
    page.get_by_role("button", name="Make the plan").click()
    expect(page.locator("#zone-fault")).to_contain_text("the nearest town, Penzance")
    page.get_by_role("button", name="Make the plan").click()
    page.wait_for_url(re.compile("/(progress|year)/"))


def test_what_was_typed_is_given_back_after_a_question_too(
    running: Running, begin: str, open_page: OpenPage
) -> None:
    page = open_page(running, begin)
    filled(page, latitude="49.9", longitude="-8.15", zone="Europe/Berlin")
    page.get_by_role("button", name="Make the plan").click()
    page.wait_for_selector("#zone-fault")
    page.goto("/care")
    page.goto(begin)
    assert page.input_value("#longitude") == "-8.15"


def test_a_town_is_chosen_by_keyboard_alone(
    running: Running, begin: str, open_page: OpenPage, watched: Watched
) -> None:
    page = open_page(running, begin)
    search = page.locator("#search")
    search.focus()
    page.keyboard.type("york")
    page.wait_for_selector("#towns [role=option]")
    assert search.get_attribute("aria-expanded") == "true"
    page.keyboard.press("Escape")
    assert search.get_attribute("aria-expanded") == "false"
    assert page.locator("#towns").is_hidden()
    page.keyboard.press("Backspace")
    page.wait_for_selector("#towns [role=option]")
    page.keyboard.press("ArrowUp")
    last = page.locator("#towns [role=option]").last
    assert search.get_attribute("aria-activedescendant") == last.get_attribute("id")
    assert last.get_attribute("aria-selected") == "true"
    page.keyboard.press("ArrowDown")
    first = page.locator("#towns [role=option]").first
    assert first.get_attribute("aria-selected") == "true"
    name = first.inner_text()
    page.keyboard.press("Enter")
    assert asked_by_now(page, watched, begin) == 1, "Enter chose a town and sent nothing"
    assert page.input_value("#site_name") == name.partition(",")[0]
    assert name in page.locator("#town-told").inner_text()


def test_a_zone_is_proposed_and_one_of_ones_own_is_left_alone(
    running: Running, begin: str, open_page: OpenPage, watched: Watched
) -> None:
    page = open_page(running, begin)
    page.fill("#latitude", "27.7")
    page.fill("#longitude", "85,3")
    page.locator("#longitude").blur()
    expect(page.locator("#zone")).to_have_value("Asia/Kathmandu")
    page.fill("#longitude", "151.2")
    page.fill("#latitude", "-33.9")
    page.locator("#latitude").blur()
    expect(page.locator("#zone")).to_have_value("Australia/Sydney")
    page.fill("#zone", "Australia/Hobart")
    before = asked_by_now(page, watched, "/begin/zone")
    page.fill("#latitude", "27.7")
    page.locator("#latitude").blur()
    assert asked_by_now(page, watched, "/begin/zone") == before > 0
    assert page.input_value("#zone") == "Australia/Hobart"


@pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])
def test_going_away_and_back_loses_nothing(
    running: Running, begin: str, open_page: OpenPage, script: bool
) -> None:
    page = open_page(running, begin, java_script_enabled=script)
    filled(page, site_name="Half-way")
    page.get_by_role("link", name="Take care").click()
    page.wait_for_url("**/care")
    page.go_back()
    assert page.input_value("#site_name") == "Half-way"
    assert page.input_value("#wishes") == SAMPLE["wishes"]
    assert page.is_checked("input[name=weekdays_2][value=Sat]")


def test_opening_the_form_anew_gives_back_what_was_typed_until_one_starts_afresh(
    running: Running, begin: str, open_page: OpenPage
) -> None:
    page = open_page(running, begin)
    assert page.locator("#given-back").is_hidden()
    with_faults(page)
    page.goto("/care")
    page.goto(begin)
    assert page.locator("#given-back").is_visible()
    assert page.input_value("#wishes") == WRONG
    assert page.input_value("#latitude") == "91"
    page.get_by_role("button", name="Start afresh").click()
    assert page.input_value("#wishes") == ""
    page.goto(begin)
    assert page.locator("#given-back").is_hidden()


def test_the_files_can_be_changed_later(
    running: Running, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    answer = running.service.keep("fenwold", TOML, b"target\nM 31\n")
    scenario = answer.headers["location"].rpartition("/")[2]
    page = open_page(running, f"/year/{scenario}", PHONE, "red-5")
    page.get_by_role("link", name="Change place, instruments, evenings or wish-list").click()
    page.fill("#wish_list_csv", "target\nM 31\nGalxy\n")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#put-right")).to_be_focused()
    check_in_both_lights(page, shot, "files")
    page.fill("#wish_list_csv", "target\nM 31\nM 13\n")
    page.get_by_role("button", name="Keep").click()
    page.wait_for_url(f"**/year/{scenario}")
    assert "2 targets" in page.locator("main").inner_text()


def test_pressing_twice_makes_one_scenario(running: Running, begin: str, open_page: OpenPage) -> None:
    before = len(running.service.scenarios)
    page = open_page(running, begin)
    filled(page, title="Pressed twice")
    page.get_by_role("button", name="Make the plan").dblclick()
    page.wait_for_url(re.compile("/(progress|year)/"))  # it may be done already
    assert len(running.service.scenarios) == before + 1


def test_sent_twice_at_once_without_script_it_is_one_scenario(running: Running, begin: str) -> None:
    before = len(running.service.scenarios)
    form = [("deed", "plan"), ("title", "Sent twice at once"), ("start", "2027-01-01"), ("nights", "30")]
    for name, text in SAMPLE.items():
        if name not in dict(form):
            form += [(name, one) for one in (text.split(", ") if name.startswith("weekdays") else [text])]
    body = urlencode(form)

    def sent(_: int) -> str:
        answer = running.service.ask(
            "POST", begin, content=body, follow_redirects=False,
            headers={"Content-Type": "application/x-www-form-urlencoded", "Accept": "text/html"},
        )  # fmt: skip
        return str(answer.headers["location"])

    with ThreadPoolExecutor(4) as several:
        assert len(set(several.map(sent, range(4)))) == 1
    assert len(running.service.scenarios) == before + 1


def test_work_is_told_of_and_cancelled(
    run_service: RunService, open_page: OpenPage, shot: Callable[..., Path]
) -> None:
    running = run_service()  # whose plans take their time
    page = open_page(running, f"/begin/{running.service.club.rpartition('/')[2]}", PHONE, "red-5")
    page.fill("#wishes", "M 42")
    page.goto("/")
    page.get_by_role("button", name="Look at a made-up year").click()
    page.wait_for_url("**/progress/*")
    expect(page.locator("#stage")).not_to_have_text("Waiting for its turn.")
    check_looks(page, shot, "work")
    expect(page.locator("#worth")).to_be_visible(timeout=60_000)
    shot(page, "work-360-red-later")
    page.get_by_role("button", name="Cancel").click()
    page.get_by_text("Cancelled. Nothing of it was kept.").wait_for()
    assert len(page.evaluate(KEPT)) == 1, "what was typed has not become a plan"
    assert faults_of_access(page) == []
    shot(page, "work-cancelled-360-red")
