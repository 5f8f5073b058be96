"""The page of a night: what terminal and calendar say of it, in the order of the evening."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from api.auth import made_key
from api.page import CONTENT_SECURITY_POLICY
from api.storage import NewKey, NewOutcome, NewScenario, Role
from scheduler.domain import Availability, Club, Darkness, FreeNight, Guests, Plan, Span
from scheduler.domain.outcome import COUNTED_AS_PAST
from scheduler.evening_words import company_words, expect_words, view_in_words
from scheduler.practice import Reminder, briefing_of
from tests.full_night import full_plan
from tests.scheduler.planted_trips import trip_plan
from tests.small_plan import FIRST, SECOND, night, plan, utc, with_nights

from ..journeys import Service, assert_is_problem
from .desk import FRIDAY, a_desk
from .stored import NO_FILES, Stored, kept, logged, stored
from .test_front import HTML, storage_of

HOSTILE = '"><img src=x onerror=alert(1)><script>alert(2)</script>'


def asked(service: Service, of: Stored, evening: date = FIRST) -> Any:
    return service.ask("GET", f"/night/{of.scenario}/{evening}", headers=HTML, follow_redirects=False)


def page_of(service: Service, made: Plan, evening: date = FIRST) -> str:
    answer = asked(service, stored(storage_of(service), made), evening)
    assert answer.status_code == 200, answer.text
    return str(answer.text)


def said(text: str) -> str:
    """What is read on a page, between single spaces."""
    main = text[text.index("<main") : text.index("</main>")]
    return " ".join(unescape(re.sub(r"<[^>]*>", "", main)).split())


def at(service: Service, monkeypatch: pytest.MonkeyPatch, moment: datetime) -> None:
    monkeypatch.setattr(storage_of(service), "now", lambda: moment)


def with_night(one: FreeNight, made: Plan) -> Plan:
    return replace(made, nights=tuple(one if n.evening == one.evening else n for n in made.nights))


@pytest.mark.parametrize("made", [plan(), full_plan(), trip_plan()], ids=["small", "full", "trip"])
def test_it_says_all_that_the_terminal_says(service: Service, made: Plan) -> None:
    targets = {target.name: target for target in made.targets}
    for evening in {visit.evening for visit in made.visits}:
        read, briefing = said(page_of(service, made, evening)), briefing_of(made, evening)
        whole = [*(one.words for one in briefing.reminders), *briefing.kit, briefing.dew, *briefing.cautions]
        for visit in (one for one in made.visits if one.evening == evening):
            whole += [visit.pointing.words, view_in_words(visit.view)]
            whole += expect_words(targets[visit.target], visit.sight).split("; ")
            whole += visit.why.split("; ")
        missing = [words for words in whole if words.casefold() not in read.casefold()]
        assert missing == []


def test_visits_and_reminders_stand_in_the_order_of_the_evening(service: Service) -> None:
    text = page_of(service, full_plan())
    programme = text[text.index('<ol class="programme">') : text.index("</ol>")]
    first = re.findall(r'<p class="when"><time datetime="([^"]+)">', programme)
    briefing = briefing_of(full_plan(), FIRST)
    assert len(first) == 12 + len(briefing.reminders)
    assert [datetime.fromisoformat(one) for one in first] == sorted(map(datetime.fromisoformat, first))
    assert first[-1].endswith("+00:00")


def test_each_look_leads_to_why_then_by_its_name(service: Service) -> None:
    text = page_of(service, full_plan())
    names = re.findall(r'href="/target/[0-9a-f]{20}\?name=([^"]+)"', text)
    assert names[:2] == ["M+105", "M+97"]
    assert len(names) == 12 + 3


def test_a_night_in_hand_tells_what_shows(service: Service) -> None:
    made = replace(plan(), visits=plan().visits[:2])
    read = said(page_of(service, made, SECOND))
    assert "Nothing is planned: a night in hand" in read
    assert "What to look at, most useful first" in read
    assert "best about 21:00" in read
    assert "First:" not in read


def test_a_night_on_which_nothing_shows_still_has_its_moon_and_its_care(service: Service) -> None:
    made = replace(plan(), visits=plan().visits[:2], standbys=())
    read = said(page_of(service, made, SECOND))
    assert "Out from 18:00 to 00:00" in read
    assert "Moon:" in read
    assert "never aim near the Sun" in read


def test_guests_have_their_minutes_and_a_club_night_its_members(service: Service) -> None:
    invited = with_night(
        replace(night(FIRST), guests=5), replace(plan(), guests=Guests(frozenset({FIRST}), 5))
    )
    read = said(page_of(service, invited))
    assert "Night with guests" in read
    assert "Minutes for each of 5 guests Jupiter 3.0, M 42 4.0" in read
    club = with_night(replace(night(FIRST), club=True), replace(plan(), club=Club(frozenset({FIRST}))))
    read = said(page_of(service, club))
    assert "Club night" in read
    assert company_words(club, club.nights[0])[1:] in read


def test_a_trip_tells_when_to_leave_and_of_the_drive_home(service: Service) -> None:
    read = said(page_of(service, trip_plan(), SECOND))
    assert "Trip to Moss" in read
    assert re.search(r"Leave home at \d\d:\d\d, back about \d\d:\d\d\.", read)
    assert "Driving tired: local law and your own limits go first." in read


def test_a_night_that_is_logged_tells_how_it_went(service: Service) -> None:
    of = stored(storage_of(service), plan())
    line = NewOutcome(FIRST, "clear", 120, ("Jupiter",), (), ("M 42",), "Dew <b>late</b>")
    logged(storage_of(service), of.scenario, line)
    text = asked(service, of).text
    read = said(text)
    assert "How it went: clear, 120 minutes usable. Seen: Jupiter. Not seen: M 42." in read
    assert "Dew <b>late</b>" in read
    for went in ("seen", "not seen"):
        assert f'<strong class="went">{went}</strong>' in text
    assert f"/log/{of.scenario}/{FIRST}" in text


def test_a_past_night_is_told_by_the_plan_that_knew_it(service: Service) -> None:
    storage = storage_of(service)
    of = stored(storage, plan())
    logged(storage, of.scenario, NewOutcome(FIRST, "clouded out"))
    later = replace(plan(), version=2, nights=plan().nights[1:], visits=plan().visits[2:])
    kept(storage, of.scenario, later, of.plan)
    read = said(asked(service, of).text)
    assert "How it went: clouded out." in read
    assert "Jupiter" in read
    assert "White lamps and screens off" in read


def test_a_logged_night_no_plan_knew_still_tells_how_it_went(service: Service) -> None:
    of = stored(storage_of(service), plan())
    logged(storage_of(service), of.scenario, NewOutcome(date(2027, 1, 4), "part-clear", 40))
    answer = asked(service, of, date(2027, 1, 4))
    assert answer.status_code == 200
    assert "How it went: part-clear, 40 minutes usable. " in said(answer.text)
    assert "No plan tells of this night." in said(answer.text)


@pytest.mark.parametrize("evening", ["2027-01-09", "2031-01-01"])
def test_a_night_that_is_not_free_has_no_page(service: Service, evening: str) -> None:
    of = stored(storage_of(service), plan())
    assert_is_problem(service.get(f"/night/{of.scenario}/{evening}"), 404, "no-such-thing")
    answer = asked(service, of, date.fromisoformat(evening))
    assert answer.status_code == 404
    assert "This evening is not among the free ones of the season" in said(answer.text)
    assert f'href="/year/{of.scenario}">The year and its free nights' in answer.text
    assert "Nothing is kept" not in answer.text
    assert "/log/" not in answer.text, "it is still to come, or no evening of the season"


def test_an_evening_that_was_not_free_can_be_logged_all_the_same(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    of = stored(storage_of(service), plan())
    monkeypatch.setattr(storage_of(service), "now", lambda: utc(date(2027, 1, 20), 14))
    answer = asked(service, of, date(2027, 1, 9))
    assert f'href="/log/{of.scenario}/2027-01-09">Log the evening</a>' in answer.text
    assert service.get(f"/log/{of.scenario}/2027-01-09").status_code == 200


def test_without_a_plan_it_leads_to_the_year(service: Service) -> None:
    storage = storage_of(service)
    club = storage.clubs.add("Hendra Stargazers").id
    season = plan().season
    bare = storage.scenarios.add(
        club, NewScenario("bare", "bare", 4, season.start, season.nights, NO_FILES)
    ).id
    answer = asked(service, Stored(club, bare, ""))
    assert (answer.status_code, answer.headers["location"]) == (303, f"/year/{bare}")


@pytest.mark.parametrize(
    ("hour", "minute", "on", "following"),
    [
        (12, 0, None, "First: M 105 at 18:20."), (18, 25, "M 105 until 18:40.", "Next: M 97 at 18:44."),
        (18, 42, None, "Next: M 97 at 18:44."), (22, 50, "M 91 until 23:04.", None), (23, 30, None, None),
    ],
)  # fmt: skip
def test_what_is_on_and_what_comes_next_is_marked(
    service: Service, monkeypatch: pytest.MonkeyPatch, hour: int, minute: int, on: str | None,
    following: str | None,
) -> None:  # fmt: skip
    at(service, monkeypatch, utc(FIRST, hour, minute))
    text = page_of(service, full_plan())
    shown = said(re.sub(r'<span class="(on|following|over)" hidden>.*?</span></span>', "",
                        re.sub(r"\s*</span>\s*", "</span>", text), flags=re.DOTALL))  # fmt: skip
    assert (f"On now: {on}" in shown) == (on is not None)
    if following:
        assert following in shown
    assert text.count('aria-current="time"') == (on is not None)


def test_it_is_logged_from_dusk_on(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    of = stored(storage_of(service), plan())
    for moment, may_log in ((utc(FIRST, 12), False), (utc(FIRST, 17), True), (utc(SECOND, 12), True)):
        at(service, monkeypatch, moment)
        assert (f"/log/{of.scenario}/{FIRST}" in asked(service, of).text) == may_log


def test_it_leads_to_the_planned_nights_beside_it(service: Service) -> None:
    of = stored(storage_of(service), plan())
    first, second = asked(service, of).text, asked(service, of, SECOND).text
    assert f'href="/night/{of.scenario}/{SECOND}" rel="next"' in first
    assert 'rel="prev"' not in first
    assert f'href="/night/{of.scenario}/{FIRST}" rel="prev"' in second


def test_it_says_that_an_announced_night_stands(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    at(service, monkeypatch, utc(FIRST, 12))
    announced = replace(plan(), availability=Availability(announced=frozenset({FIRST})))
    assert "Announced: this night stands." in said(page_of(service, announced))
    assert "Announced" not in said(page_of(service, plan()))


def test_a_night_that_does_not_get_dark_says_so_once(service: Service) -> None:
    bright = replace(night(FIRST).night, darkness=Darkness.DAYLIGHT, dark=None, twilit=None, moonless_min=0.0)
    made = with_night(replace(night(FIRST), night=bright), plan())
    assert "It does not get dark. " in said(page_of(service, made))


def test_hostile_names_are_only_text(service: Service) -> None:
    small = plan()
    targets = tuple(replace(one, name=HOSTILE) if one.name == "M 42" else one for one in small.targets)
    visits = tuple(replace(one, target=HOSTILE) if one.target == "M 42" else one for one in small.visits)
    standbys = tuple(replace(one, target=HOSTILE) for one in small.standbys)
    made = replace(small, targets=targets, visits=visits, standbys=standbys)
    for evening in (FIRST, SECOND):
        text = page_of(service, made, evening)
        assert HOSTILE in said(text)
        assert "<img" not in text
        assert "<script>" not in text


def test_it_has_the_policy_of_pages_and_no_style_or_script_of_its_own(service: Service) -> None:
    answer = asked(service, stored(storage_of(service), full_plan()))
    assert answer.headers["content-security-policy"] == CONTENT_SECURITY_POLICY
    assert re.findall(r"\s(?:style|on\w+)=|<style|<script(?! src=)", answer.text) == []


def test_a_reminder_is_no_look(service: Service) -> None:
    text = page_of(service, plan())
    reminders = [one for one in briefing_of(plan(), FIRST).reminders if isinstance(one, Reminder)]
    assert text.count('<li class="reminder">') == len(reminders)
    assert text.count('<li class="look"') == 2


@pytest.mark.parametrize("evening", [FIRST, SECOND], ids=["before the line", "the line's own"])
def test_a_night_counted_as_past_is_told_as_that_and_nags_no_more(
    service: Service, monkeypatch: pytest.MonkeyPatch, evening: date
) -> None:
    storage = storage_of(service)
    of = stored(storage, plan())
    at(service, monkeypatch, utc(date(2027, 1, 20), 14))
    before = said(asked(service, of, evening).text)
    assert "The programme is over." in before
    assert "counted as past" not in before
    logged(storage, of.scenario, NewOutcome(SECOND, "could not go", notes=COUNTED_AS_PAST))
    kept(storage, of.scenario, replace(plan(), version=2, nights=(), visits=(), standbys=()), of.plan)
    text = asked(service, of, evening).text
    read = said(text)
    assert "How it went: not told; counted as past." in read
    assert "Planned: night out" in read
    for words in ("could not go", "The programme is over.", "Correct the log"):
        assert words not in read
    assert "Log this night" in read


def test_dates_in_reasons_are_told_as_days(service: Service) -> None:
    visits = tuple(replace(one, why="seen poorly on 2026-12-30; Moon down") for one in plan().visits)
    read = said(page_of(service, replace(plan(), visits=visits)))
    assert "een poorly on Wed 30 Dec" in read
    assert "2026-12-30" not in read


def test_the_night_on_which_the_clocks_change_says_so_and_which_hour_is_meant(service: Service) -> None:
    autumn = date(2027, 10, 30)
    one = replace(plan().visits[0], evening=autumn, time=Span(utc(autumn, 24, 30), utc(autumn, 25, 10)))
    season = replace(plan().season, start=date(2027, 10, 1))
    made = with_nights(night(autumn), visits=(one,), standbys=(), season=season)
    text = page_of(service, made, autumn)
    assert "The clocks go back from 02:00 BST to 01:00 GMT: all later times are GMT." in said(text)
    assert '<time datetime="2027-10-31T01:30+01:00">01:30 BST</time>' in text
    assert '<time datetime="2027-10-31T01:10+00:00">01:10 GMT</time>' in text
    assert "The clocks" not in said(page_of(service, plan()))


def test_only_who_may_log_is_offered_it(tmp_path: Path) -> None:
    with a_desk(tmp_path, keys="required") as desk:
        club = desk.storage.scenarios.get(desk.scenario).club
        for role, offered in ((Role.READER, False), (Role.MEMBER, True)):
            token = made_key(desk.storage, NewKey(club, role, "a phone"))[1]
            desk.headers = {"Authorization": f"Bearer {token}"}
            text = desk.get(f"/night/{desk.scenario}/{FRIDAY}").text
            assert (f'href="/log/{desk.scenario}/{FRIDAY}"' in text) == offered
            assert (desk.page().status_code == 200) == offered
