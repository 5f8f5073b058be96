"""The public page of a night: what its event tells, for a browser, and no more."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from typing import Any

import pytest

from api.auth import first_key
from api.ics import lines_of, night_told, title_of
from api.page import CONTENT_SECURITY_POLICY
from api.storage import EntryState, NewOutcome
from tests.small_plan import FIRST, SECOND, plan

from ..conftest import StartService
from ..journeys import Service, assert_is_problem
from ..test_ics import entry
from .stored import logged, stored, told
from .test_front import HTML, storage_of

HOSTILE = '"><img src=x onerror=alert(1)><script>alert(2)</script>'
AMENDS = [{"on": "2027-01-03", "words": ["M 48 moved to 30 Jan: made room"]}]


def lines_in(text: str) -> list[str]:
    """What each heading, paragraph and item of a page's middle says."""
    main = text[text.index("<article") : text.index("</article>")]
    parts = re.findall(r"<(h\d|p|li|button)\b[^>]*>(.*?)</\1>", main, flags=re.DOTALL)
    return [unescape(re.sub(r"<[^>]*>", "", words)).strip() for _, words in parts]


def both(service: Service, secret: str, evening: object = FIRST) -> tuple[Any, Any]:
    path = f"/nights/{secret}/{evening}"
    return service.ask("GET", path, headers=HTML), service.get(path)


def test_a_browser_is_told_the_same_as_everybody_else_and_no_more(service: Service) -> None:
    secret = told(storage_of(service), stored(storage_of(service), plan()), plan())
    page, text = both(service, secret)
    assert page.headers["content-type"].startswith("text/html")
    assert text.headers["content-type"] == "text/plain; charset=utf-8"
    lines = [line for line in text.text.splitlines() if line]
    shown = lines_in(page.text)
    assert [line for line in lines if line not in shown] == []
    own = {"Friday 8 January 2027", "Larkmoor", "Take care", "Print the sheet",
           "To print the sheet, use your browser's Print."}  # fmt: skip
    assert set(shown) - set(lines) == own


def test_it_is_a_page_like_others_that_caches_ask_again_for(service: Service) -> None:
    secret = told(storage_of(service), stored(storage_of(service), plan()), plan())
    page, text = both(service, secret)
    for answer in (page, text):
        assert (answer.headers["cache-control"], answer.headers["vary"]) == ("private, no-cache", "Accept")
    assert page.headers["content-security-policy"] == CONTENT_SECURITY_POLICY
    assert '<meta name="robots" content="noindex">' in page.text
    assert_is_problem(service.get(f"/nights/{secret}/2027-01-09"), 404, "no-such-thing")
    assert service.ask("GET", f"/nights/{secret}/2027-01-09", headers=HTML).status_code == 404


@pytest.mark.parametrize("signed_in", [False, True])
def test_it_leads_nowhere_into_the_club(start_service: StartService, signed_in: bool) -> None:
    service = start_service(keys="required")
    storage = storage_of(service)
    key, secret = first_key(storage), told(storage, stored(storage, plan()), plan())
    headers = HTML | ({"Cookie": f"duskwright-key={key}"} if signed_in else {})
    page = service.ask("GET", f"/nights/{secret}/{FIRST}", headers=headers)
    assert page.status_code == 200
    assert set(re.findall(r'(?:href|action)="(?!/static/|#)([^"]*)"', page.text)) == {"/care", "/light"}
    assert "Sign out" not in page.text


def test_it_says_how_the_night_went(service: Service) -> None:
    storage = storage_of(service)
    of = stored(storage, plan())
    secret = told(storage, of, plan())
    logged(storage, of.scenario, NewOutcome(FIRST, "clouded out"))
    page, _ = both(service, secret)
    assert "Night out: Jupiter, M 42 (clouded out)" in lines_in(page.text)
    assert "How it went: clouded out." in lines_in(page.text)


def test_two_scenarios_of_a_club_stand_below_each_other(service: Service) -> None:
    storage = storage_of(service)
    for name in ("one", "two"):
        secret = told(storage, stored(storage, plan(), name), plan())
    page, _ = both(service, secret, SECOND)
    assert lines_in(page.text).count("Night out: M 1") == 2
    assert page.text.count("<h1>") == 1


def test_hostile_words_are_only_text(service: Service) -> None:
    small = plan()
    targets = tuple(replace(one, name=HOSTILE) if one.name == "M 1" else one for one in small.targets)
    visits = tuple(replace(one, target=HOSTILE) if one.target == "M 1" else one for one in small.visits)
    odd = replace(small, targets=targets, visits=visits)
    page, _ = both(service, told(storage_of(service), stored(storage_of(service), odd), odd), SECOND)
    assert f"Night out: {HOSTILE}" in lines_in(page.text)
    assert "<img" not in page.text
    assert "<script>" not in page.text


@pytest.mark.parametrize(
    ("other", "first", "with_care"),
    [
        ({}, "Provisional: it may still move until it is announced.", True),
        ({"state": EntryState.WITHDRAWN}, "This night is no longer planned.", False),
        ({"outcome": "clear"}, "How it went: clear.", False),
    ],
)
def test_every_state_of_a_night_is_told(other: dict[str, Any], first: str, with_care: bool) -> None:
    one = entry(amends=AMENDS, **other)
    shown = night_told(one)
    assert shown.title == title_of(one)
    assert shown.parts[0][0] == first
    assert "Changed on 2027-01-03: M 48 moved to 30 Jan: made room." in shown.parts[0]
    assert [line for part in shown.parts for line in part] == [line for line in lines_of(one) if line]
    assert shown.care == (("Mind the owl.",) if with_care else ())
