from __future__ import annotations

import re

import pytest

from api.auth import first_key
from api.storage import NewKey, Role

from ..conftest import StartService
from ..journeys import Service
from .test_front import HTML, LOCKED, OURS, signed_in, storage_of

HOSTILE = "<script>alert(1)</script>\" autofocus onfocus='x'"


@pytest.fixture
def service(start_service: StartService) -> Service:
    """A service that asks for keys, its owner signed in as a browser is."""
    service = start_service(**LOCKED)
    storage_of(service).clubs.add("Hendra Stargazers")
    assert signed_in(service, first_key(storage_of(service)) or "").status_code == 303
    return service


def path(service: Service) -> str:
    return f"/entry/{service.club.rpartition('/')[2]}"


def shown(service: Service) -> str:
    answer = service.ask("GET", path(service), headers=HTML)
    assert answer.status_code == 200, answer.text
    return answer.text


def made(service: Service, name: str = "Jory", role: str = "member") -> str:
    """Make a key by the form and return the token the page tells."""
    answer = service.ask("POST", path(service), data={"name": name, "role": role}, headers=HTML | OURS)
    assert answer.status_code == 201, answer.text
    assert answer.headers["cache-control"] == "no-store"
    (token,) = re.findall(r'id="token" class="once">([^<]+)<', answer.text)
    return str(token)


def status_with(service: Service, token: str, asked: str = "/clubs") -> int:
    service.client.cookies.clear()
    return service.ask("GET", asked, headers={"Authorization": f"Bearer {token}"}).status_code


def test_the_front_page_leads_owners_there_and_nobody_else(service: Service) -> None:
    assert f'href="{path(service)}"' in service.ask("GET", "/", headers=HTML).text
    planner = made(service, role="planner")
    there = path(service)
    service.client.cookies.clear()
    bearer = {"Authorization": f"Bearer {planner}"}
    front = service.ask("GET", "/", headers=HTML | bearer)
    assert "Plan a year from nothing" in front.text
    assert there not in front.text
    refused = service.ask("GET", there, headers=HTML | bearer)
    assert refused.status_code == 403
    assert "Ask an owner of the club for a key of the role owner." in refused.text


def test_a_key_made_here_opens_what_its_role_may(service: Service) -> None:
    there, token = path(service), made(service)
    assert status_with(service, token) == 200
    assert status_with(service, token, there) == 403


def test_an_owner_calls_the_club_something_else(service: Service) -> None:
    led = service.ask("POST", f"{path(service)}/name", data={"name": "Lantern Club"}, headers=OURS,
                      follow_redirects=False)  # fmt: skip
    assert (led.status_code, led.headers["location"]) == (303, path(service))
    assert "<h1>Lantern Club</h1>" in shown(service)
    assert "Lantern Club" in service.ask("GET", "/", headers=HTML).text
    refused = service.ask("POST", f"{path(service)}/name", data={"name": " "}, headers=HTML | OURS)
    assert refused.status_code == 422
    assert "<h1>Lantern Club</h1>" in shown(service)


def test_a_token_is_told_once(service: Service) -> None:
    token = made(service)
    assert token not in shown(service)
    assert token.partition(".")[2] not in shown(service)
    assert "<strong>Jory</strong>, member" in shown(service)


def test_a_revoked_key_opens_nothing_and_is_told_so(service: Service) -> None:
    token = made(service)
    key = token.partition(".")[0]
    led = service.ask("POST", f"{path(service)}/revoke", data={"key": key}, headers=OURS,
                      follow_redirects=False)  # fmt: skip
    assert (led.status_code, led.headers["location"]) == (303, path(service))
    assert "1 that opens nothing any more" in shown(service)
    assert f'value="{key}"' not in shown(service)
    assert status_with(service, token) == 401


def test_a_key_of_another_club_is_not_revoked_here(service: Service) -> None:
    storage = storage_of(service)
    other = storage.clubs.add("Elsewhere").id
    key = storage.keys.add(NewKey(other, Role.MEMBER, "theirs"), "0" * 64)
    answer = service.ask("POST", f"{path(service)}/revoke", data={"key": key.id}, headers=OURS)
    assert answer.status_code == 404
    assert storage.keys.get(key.id).revoked is None


def test_the_key_one_came_in_with_is_not_offered_to_be_revoked(service: Service) -> None:
    owner = made(service, "the chair", "owner")
    there = path(service)
    signed_in(service, owner)
    text = service.ask("GET", there, headers=HTML).text
    assert "This browser is signed in with it." in text
    assert f'name="key" value="{owner.partition(".")[0]}"' not in text


def test_a_key_for_nobody_or_for_no_role_is_refused(service: Service) -> None:
    before = shown(service)
    for form in ({"name": "", "role": "member"}, {"name": "Jory", "role": "king"}, {"role": "member"}):
        assert service.ask("POST", path(service), data=form, headers=HTML | OURS).status_code == 422
    assert shown(service) == before


def test_a_hostile_name_stays_text(service: Service) -> None:
    answer = service.ask("POST", path(service), data={"name": HOSTILE, "role": "reader"}, headers=HTML | OURS)
    assert "alert(1)" in answer.text
    assert "<script>alert" not in answer.text
    assert '" autofocus' not in answer.text


def test_without_keys_the_page_says_that_none_is_needed(start_service: StartService) -> None:
    assert "started without keys" in shown(start_service())


@pytest.mark.parametrize(("address", "told"), [("", True), ("https://plans.example.org", False)])
def test_a_key_for_an_address_nobody_else_reaches_says_so(
    start_service: StartService, address: str, told: bool
) -> None:
    service = start_service(**LOCKED, address=address)
    owner = {"Authorization": f"Bearer {first_key(storage_of(service))}"}
    club = storage_of(service).clubs.add("Hendra Stargazers").id
    answer = service.ask(
        "POST", f"/entry/{club}", data={"name": "Jory", "role": "member"}, headers=HTML | owner
    )
    assert ("only this machine can open it" in answer.text) is told
    assert f"They open {address or 'http://127.0.0.1'}" in answer.text
