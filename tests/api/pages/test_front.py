from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import Engine, event

from api.auth import first_key, made_key
from api.page import CONTENT_SECURITY_POLICY
from api.storage import NewKey, Role, Storage

from ..conftest import StartService
from ..journeys import Service

HTML = {"Accept": "text/html,application/xhtml+xml"}
OURS = {"Origin": "http://127.0.0.1:8075"}
LOCKED = {"keys": "required", "requests_per_minute": 0}


def storage_of(service: Service) -> Storage:
    storage: Storage = service.client.app.state.services.storage
    return storage


def signed_in(service: Service, key: str, **form: str) -> Any:
    return service.ask("POST", "/enter", data={"key": key, **form}, headers=OURS, follow_redirects=False)


def test_pages_may_load_nothing_but_our_own(service: Service) -> None:
    policy = service.get("/").headers["content-security-policy"]
    assert policy == CONTENT_SECURITY_POLICY
    sources = {word for part in policy.split(";") for word in part.split()[1:]}
    assert sources == {"'none'", "'self'", "'script'"}
    assert "require-trusted-types-for 'script'" in policy


def test_without_a_key_a_page_asks_for_one_and_leads_back(start_service: StartService) -> None:
    service = start_service(**LOCKED)
    asked = service.ask("GET", f"/year/{'0' * 20}", headers=HTML)
    assert asked.status_code == 401
    assert f'name="to" value="/year/{"0" * 20}"' in asked.text
    assert service.get(f"/year/{'0' * 20}").json()["type"] == "/problems/key-needed"


def test_a_key_signs_in_and_out(start_service: StartService) -> None:
    service = start_service(**LOCKED)
    key = first_key(storage_of(service))
    assert key
    entered = signed_in(service, key, to="/care")
    assert (entered.status_code, entered.headers["location"]) == (303, "/care")
    cookie = entered.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "Max-Age" not in cookie
    assert service.get("/clubs").status_code == 200
    assert "Your years" in service.ask("GET", "/", headers=HTML).text
    service.ask("POST", "/leave", headers=OURS)
    assert service.get("/clubs").status_code == 401


def test_a_device_may_stay_signed_in(start_service: StartService) -> None:
    service = start_service(**LOCKED)
    entered = signed_in(service, first_key(storage_of(service)) or "", stay="yes")
    assert "Max-Age=34560000" in entered.headers["set-cookie"]


def test_behind_tls_the_key_travels_over_tls_alone(start_service: StartService) -> None:
    service = start_service(address="https://plans.example.org", **LOCKED)
    assert "Secure" in signed_in(service, first_key(storage_of(service)) or "").headers["set-cookie"]


@pytest.mark.parametrize("key", ["", "x", "0" * 20 + ".x", "é" * 30, "a" * 200])
def test_what_is_no_key_is_told_so(start_service: StartService, key: str) -> None:
    refused = signed_in(start_service(**LOCKED), key)
    assert refused.status_code in {401, 422}
    assert "set-cookie" not in refused.headers


@pytest.mark.parametrize(
    "to", ["//elsewhere.example/", "https://elsewhere.example/", "/\\elsewhere", "/\r\nx: y"]
)
def test_signing_in_leads_nowhere_else(start_service: StartService, to: str) -> None:
    service = start_service(**LOCKED)
    entered = signed_in(service, first_key(storage_of(service)) or "", to=to)
    assert (entered.status_code, entered.headers["location"]) == (303, "/")


def test_a_revoked_key_opens_no_page_any_more(start_service: StartService) -> None:
    service = start_service(**LOCKED)
    storage = storage_of(service)
    record, key = made_key(storage, NewKey(None, Role.OWNER, "a phone's"))
    signed_in(service, key)
    assert service.get("/clubs").status_code == 200
    service.ask("POST", f"/keys/{record.id}/revoke", headers=OURS)
    assert service.get("/clubs").status_code == 401


def test_a_cookie_alone_changes_nothing(start_service: StartService) -> None:
    """Browsers send cookies unasked: a change must come from a page of ours."""
    service = start_service(**LOCKED)
    signed_in(service, first_key(storage_of(service)) or "")
    wish = {"json": {"name": "Another club"}}
    assert service.ask("POST", "/clubs", **wish).status_code == 403
    foreign = {"Origin": "http://elsewhere.example"}
    assert service.ask("POST", "/clubs", **wish, headers=foreign).status_code == 403
    assert service.ask("POST", "/clubs", **wish, headers={"Origin": "null"}).status_code == 403
    assert service.ask("POST", "/clubs", **wish, headers=OURS).status_code == 201
    site = {"Sec-Fetch-Site": "same-origin"}
    assert service.ask("POST", "/clubs", json={"name": "A third"}, headers=site).status_code == 201


def test_a_bearer_token_goes_before_a_cookie(start_service: StartService) -> None:
    service = start_service(**LOCKED)
    storage = storage_of(service)
    signed_in(service, first_key(storage) or "")
    _, reader = made_key(storage, NewKey(None, Role.READER, "a program's"))
    answer = service.ask("POST", "/clubs", json={"name": "x"}, headers={"Authorization": f"Bearer {reader}"})
    assert answer.status_code == 403


def test_a_key_of_one_club_sees_no_other(start_service: StartService) -> None:
    service = start_service(**LOCKED)
    storage = storage_of(service)
    club, _ = storage.clubs.add("Hendra Stargazers"), storage.clubs.add("Another club")
    signed_in(service, made_key(storage, NewKey(club.id, Role.READER, "Jory's"))[1])
    front = service.ask("GET", "/", headers=HTML).text
    assert "Hendra Stargazers" in front
    assert "Another club" not in front
    assert "Plan a year from nothing" not in front


def test_many_clubs_are_asked_for_at_once(service: Service) -> None:
    storage, asked = storage_of(service), list[str]()

    def statement(*given: Any) -> None:
        if "FROM clubs" in given[2] or "FROM scenarios" in given[2]:
            asked.append(given[2])

    def statements(clubs: int) -> int:
        asked.clear()
        assert service.ask("GET", "/", headers=HTML).text.count('<section aria-labelledby="club-') == clubs
        return len(asked)

    event.listen(Engine, "before_cursor_execute", statement)
    try:
        storage.clubs.add("Hendra Stargazers")
        assert statements(1) == 2
        for _ in range(11):
            storage.clubs.add("Another club")
        assert statements(12) == 2
    finally:
        event.remove(Engine, "before_cursor_execute", statement)


def test_hostile_names_are_only_names(service: Service) -> None:
    storage_of(service).clubs.add("<script>alert(1)</script>")
    front = service.ask("GET", "/", headers=HTML).text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in front
    assert "<script>alert" not in front


@pytest.mark.parametrize(
    ("form", "kept"),
    [
        ({"light": "red"}, "red-5"), ({"light": "dusk"}, "dusk-5"), ({"bright": "-"}, "day-4"),
        ({"bright": "+"}, "day-5"), ({"light": "violet"}, "day-5"),
    ],
)  # fmt: skip
def test_light_is_kept_without_script(service: Service, form: dict[str, str], kept: str) -> None:
    answer = service.ask("POST", "/light", data={**form, "to": "/care"}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/care")
    assert answer.headers["set-cookie"].startswith(f"duskwright-light={kept};")


@pytest.mark.parametrize(
    ("cookie", "lit"),
    [("red-2", "red"), ("day-5", "day"), ("dusk-5", "day"), ("", "day"), ("<b>-9", "day"), ("red-77", "red")],
)
def test_a_page_is_lit_from_its_first_moment(service: Service, cookie: str, lit: str) -> None:
    shown = service.ask("GET", "/care", headers={"Cookie": f"duskwright-light={cookie}"}).text
    assert f'data-light="{lit}"' in shown


@pytest.mark.parametrize(
    ("dusk", "lit"), [("1-99999999999", "red"), ("1-2", "day"), ("x-y", "day"), ("9", "day")]
)
def test_after_dusk_it_is_red_if_wished(service: Service, dusk: str, lit: str) -> None:
    cookies = f"duskwright-light=dusk-5; duskwright-dusk={dusk}"
    assert f'data-light="{lit}"' in service.ask("GET", "/care", headers={"Cookie": cookies}).text


def test_fixed_files_are_kept_for_good_by_their_content(service: Service) -> None:
    front = service.get("/care").text
    address = next(word.split('"')[1] for word in front.split("href=") if "pages.css" in word)
    sheet = service.get(address)
    assert sheet.headers["content-type"].startswith("text/css")
    assert "immutable" in sheet.headers["cache-control"]
    assert sheet.headers["etag"].strip('"') in address
    assert service.get("/static/../app.py").status_code == 404
    assert service.get("/static/nothing.css").status_code == 404


def test_problems_are_pages_for_readers_and_problems_for_programs(service: Service) -> None:
    read = service.ask("GET", "/nowhere", headers=HTML)
    assert read.status_code == 404
    assert read.headers["content-type"].startswith("text/html")
    assert read.headers["content-security-policy"] == CONTENT_SECURITY_POLICY
    assert service.get("/nowhere").headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("path", ["/", f"/year/{'0' * 20}"])
def test_a_key_that_counts_no_more_is_told_and_offers_no_way_out(
    start_service: StartService, path: str
) -> None:
    service = start_service(**LOCKED)
    storage = storage_of(service)
    assert 'role="alert"' not in service.ask("GET", path, headers=HTML).text, "nobody sent a key"
    record, key = made_key(storage, NewKey(None, Role.OWNER, "a phone's"))
    signed_in(service, key)
    assert "Sign out" in service.ask("GET", "/", headers=HTML).text
    service.ask("POST", f"/keys/{record.id}/revoke", headers=OURS)
    shown = service.ask("GET", path, headers=HTML).text
    assert '<p class="note" role="alert">This key has been revoked.</p>' in shown
    assert "Sign out" not in shown
