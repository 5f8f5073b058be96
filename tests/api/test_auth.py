"""Who may do what: every role at every address, each cell asserted."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.routing import APIRoute, APIRouter
from sqlalchemy import text

from api.auth import first_key, made_key
from api.pages import PAGES
from api.routes import ROUTERS
from api.storage import NewCollection, NewFeed, NewKey, NewScenario, Role, Shows, Storage

from .conftest import StartService
from .journeys import Service, assert_is_problem, files_of

COLLECTION = NewCollection("https://calendar.example.org/a/", "jory", b"sealed", "report")
ANYBODY, ANY_KEY = "anybody", "any key"
READER, MEMBER, PLANNER, OWNER = "reader", "member", "planner", "owner"
SERVICE_READER, SERVICE_OWNER = "service reader", "service owner"

LOWEST = {
    ANYBODY: ["GET /", "GET /care", "POST /enter", "POST /leave", "POST /light", "GET /static/{file}",
              "GET /keeper.js", "GET /docs", "GET /livez", "GET /readyz", "GET /problems/{kind}",
              "GET /calendars/{secret}.ics", "GET /nights/{secret}/{evening}"],
    ANY_KEY: ["GET /clubs", "GET /begin/places", "GET /begin/zone"],
    READER: [
        "GET /clubs/{club}", "GET /clubs/{club}/scenarios", "GET /clubs/{club}/jobs",
        "GET /clubs/{club}/members", "GET /clubs/{club}/sites", "GET /clubs/{club}/telescopes",
        "GET /members/{member}", "GET /sites/{site}", "GET /telescopes/{telescope}",
        "GET /scenarios/{scenario}", "GET /scenarios/{scenario}/scenario.toml",
        "GET /scenarios/{scenario}/wish-list.csv", "GET /scenarios/{scenario}/targets",
        "GET /scenarios/{scenario}/forecast.csv", "GET /scenarios/{scenario}/availability",
        "GET /scenarios/{scenario}/uses", "GET /scenarios/{scenario}/outcomes",
        "GET /scenarios/{scenario}/outcomes.csv", "GET /scenarios/{scenario}/plans",
        "GET /scenarios/{scenario}/calendar", "GET /plans/{plan}", "GET /plans/{plan}/schedule.csv",
        "GET /plans/{plan}/nights.csv", "GET /plans/{plan}/unplaced.csv", "GET /plans/{plan}/moon.csv",
        "GET /plans/{plan}/odds.csv", "GET /plans/{plan}/changes.csv", "GET /plans/{plan}/changes",
        "GET /jobs/{job}", "GET /jobs/{job}/answer", "GET /scenarios/{scenario}/up",
        "GET /scenarios/{scenario}/planets", "GET /scenarios/{scenario}/moon",
        "GET /scenarios/{scenario}/moon.csv", "GET /scenarios/{scenario}/weather",
        "GET /scenarios/{scenario}/dates",
        "GET /scenarios/{scenario}/calendar/nights",
        "GET /year/{scenario}", "GET /wishes/{scenario}", "GET /next/{scenario}", "GET /keep/{scenario}",
        "GET /changes/{plan}", "GET /progress/{job}",
        "GET /target/{scenario}", "GET /ask/{scenario}", "GET /answer/{job}",
        "GET /night/{scenario}/{evening}",
    ],
    MEMBER: [
        "POST /progress/{job}/cancel", "GET /log/{scenario}/{evening}", "POST /log/{scenario}/{evening}",
        "POST /scenarios/{scenario}/outcomes", "POST /scenarios/{scenario}/outcomes.csv",
        "PUT /scenarios/{scenario}/forecast.csv", "POST /plans/{plan}/odds", "POST /plans/{plan}/reasons",
        "POST /scenarios/{scenario}/prices", "POST /scenarios/{scenario}/what-ifs",
        "POST /target/{scenario}", "POST /ask/{scenario}/prices", "POST /ask/{scenario}/what-if",
        "POST /answer/{job}/cancel", "POST /answer/{job}/again", "POST /answer/{job}/surer",
        "POST /jobs/{job}/cancel", "POST /members/{member}/engagements",
        "GET /members/{member}/engagements", "GET /engagements/{engagement}",
        "PUT /engagements/{engagement}/calendar.ics", "POST /engagements/{engagement}/refresh",
        "GET /engagements/{engagement}/busy", "DELETE /engagements/{engagement}",
        "GET /scenarios/{scenario}/free-nights",
    ],
    PLANNER: [
        "POST /year/{scenario}/plan", "POST /year/{scenario}/past", "GET /calendar/{scenario}",
        "POST /calendar/{scenario}", "POST /calendar/{scenario}/publish", "POST /calendar/{scenario}/address",
        "POST /calendar/{scenario}/revoke",
        "GET /begin/{club}", "POST /begin/{club}", "POST /begin/{club}/sample",
        "GET /files/{scenario}", "POST /files/{scenario}", "GET /more/{scenario}", "POST /more/{scenario}",
        "POST /files/{scenario}/remove",
        "POST /clubs/{club}/scenarios", "PUT /scenarios/{scenario}", "DELETE /scenarios/{scenario}",
        "PUT /scenarios/{scenario}/scenario.toml", "PUT /scenarios/{scenario}/wish-list.csv",
        "POST /scenarios/{scenario}/targets", "PUT /scenarios/{scenario}/availability",
        "PUT /scenarios/{scenario}/uses", "POST /scenarios/{scenario}/plans", "POST /plans/{plan}/publish",
        "PUT /scenarios/{scenario}/calendar",
        "POST /clubs/{club}/feeds", "GET /clubs/{club}/feeds", "GET /feeds/{feed}",
        "POST /feeds/{feed}/rotate", "DELETE /feeds/{feed}",
        "POST /feeds/{feed}/collections", "GET /feeds/{feed}/collections", "GET /collections/{collection}",
        "PUT /collections/{collection}", "DELETE /collections/{collection}",
        "POST /collections/{collection}/push", "GET /collections/{collection}/last-push",
        "POST /clubs/{club}/members", "PUT /members/{member}", "DELETE /members/{member}",
        "POST /clubs/{club}/sites", "PUT /sites/{site}", "DELETE /sites/{site}",
        "POST /clubs/{club}/telescopes", "PUT /telescopes/{telescope}", "DELETE /telescopes/{telescope}",
    ],
    OWNER: [
        "PUT /clubs/{club}", "DELETE /clubs/{club}", "GET /clubs/{club}/export", "GET /clubs/{club}/keys",
        "POST /clubs/{club}/keys", "GET /keys/{key}", "POST /keys/{key}/revoke",
        "GET /entry/{club}", "POST /entry/{club}", "POST /entry/{club}/name", "POST /entry/{club}/revoke",
    ],
    SERVICE_READER: ["GET /metrics"],
    SERVICE_OWNER: ["POST /clubs", "POST /clubs/import", "GET /keys", "POST /keys"],
}  # fmt: skip
NEEDED = {operation: lowest for lowest, operations in LOWEST.items() for operation in operations}
RANKS = {READER: 0, MEMBER: 1, PLANNER: 2, OWNER: 3, SERVICE_READER: 0, SERVICE_OWNER: 3}
STRANGERS = ("nobody", "wrong secret", "no such key", "expired", "revoked", "no bearer")
BEARERS = (*RANKS, "other club's owner", *STRANGERS)


def operations(routers: Sequence[APIRouter] = (*ROUTERS, *PAGES)) -> list[str]:
    routes = [route for router in routers for route in router.routes if isinstance(route, APIRoute)]
    return sorted(f"{method} {route.path}" for route in routes for method in route.methods or ())


def expected(bearer: str, operation: str) -> set[int]:
    """Return the statuses of a refusal that must come; nothing where the bearer is let in."""
    needed = NEEDED[operation]
    if needed == ANYBODY:
        return set()
    if bearer in STRANGERS:
        return {401}
    if needed == ANY_KEY:
        return set()
    if needed in (SERVICE_OWNER, SERVICE_READER):
        enough = bearer.startswith("service") and RANKS[bearer] >= RANKS[needed]
        return set() if enough else {403}
    if bearer == "other club's owner":
        return {404}
    return set() if RANKS[bearer] >= RANKS[needed] else {403}


@dataclass(frozen=True)
class House:
    """A service with one club that has one of everything, and a key of every sort."""

    service: Service
    ids: dict[str, str]
    tokens: dict[str, str | None]

    def ask(self, bearer: str, operation: str) -> Any:
        method, path = operation.split()
        for noun, one in self.ids.items():
            path = path.replace(f"{{{noun}}}", one)
        token = self.tokens[bearer]
        headers = {} if token is None else {"Authorization": token}
        return self.service.ask(method, path, headers=headers, follow_redirects=False)


@pytest.fixture
def house(start_service: StartService) -> House:
    return furnished(start_service(keys="required", requests_per_minute=0))


def furnished(service: Service) -> House:
    storage: Storage = service.client.app.state.services.storage
    owner = first_key(storage)
    service.client.headers["Authorization"] = f"Bearer {owner}"
    club, other = service.club.rpartition("/")[2], storage.clubs.add("Another club").id
    ids = {"club": club, "kind": "stale", "file": "pages.css"}
    for noun, settings in (("member", {"age": 27}), ("site", {}), ("telescope", {})):
        made = service.ask("POST", f"/clubs/{club}/{noun}s", json={"name": noun, "settings": settings})
        ids[noun] = made.json()["id"]
    engaged = service.ask("POST", f"/members/{ids['member']}/engagements", json={
        "name": "work", "zone": "Europe/London"})  # fmt: skip
    ids["engagement"] = engaged.json()["id"]
    scenario = service.kept()
    job = service.ended(service.started(scenario))
    assert job["state"] == "done", job
    ids |= {"scenario": scenario.rpartition("/")[2], "job": job["id"]}
    ids["plan"] = job["links"]["plan"].rpartition("/")[2]
    feed = storage.feeds.add(club, NewFeed(Shows.CLUB))
    ids |= {"feed": feed.id, "secret": feed.secret, "evening": "2026-09-12"}
    ids["collection"] = storage.collections.add(feed.id, COLLECTION).id
    del service.client.headers["Authorization"]
    return House(service, ids, _tokens(storage, club, other) | {SERVICE_OWNER: f"Bearer {owner}"})


def _tokens(storage: Storage, club: str, other: str) -> dict[str, str | None]:
    def made(role: Role, of: str | None, expires: datetime | None = None) -> str:
        return made_key(storage, NewKey(of, role, "for a test", expires))[1]

    revoked = made(Role.OWNER, None)
    storage.keys.revoke(revoked.partition(".")[0])
    late = datetime.now(UTC) - timedelta(seconds=1)
    tokens = {role.value: made(role, club) for role in Role}
    wrong = f"{tokens[OWNER].partition('.')[0]}.{tokens[PLANNER].partition('.')[2]}"
    bearers: dict[str, str | None] = {
        **tokens, SERVICE_READER: made(Role.READER, None), "other club's owner": made(Role.OWNER, other),
        "wrong secret": wrong, "no such key": f"{'0' * 20}.{wrong[21:]}", "revoked": revoked,
        "expired": made(Role.OWNER, None, late),
    }  # fmt: skip
    return {name: f"Bearer {token}" for name, token in bearers.items()} | {
        "nobody": None, "no bearer": f"Basic {tokens[OWNER]}",
    }  # fmt: skip


@pytest.fixture(scope="module")
def shared_house(tmp_path_factory: pytest.TempPathFactory) -> Any:
    from fastapi.testclient import TestClient

    from api.app import create_app
    from api.settings import Settings

    from .stand_ins import StandInFetch, StandInPlanner, a_seal, jobs_here, no_work

    kept: Path = tmp_path_factory.mktemp("house") / "kept.sqlite3"
    settings = Settings(database=kept, keys="required", requests_per_minute=0)
    door, base = StandInPlanner(kept.parent).door, "http://127.0.0.1:8075"
    with TestClient(create_app(settings, door, jobs_here, StandInFetch, a_seal), base_url=base) as client:
        house = furnished(Service(client))
    # Only one service of a process can work on jobs, and other tests of this module have one of their own.
    app = create_app(settings, door, no_work, StandInFetch, a_seal)
    with TestClient(app, base_url=base, raise_server_exceptions=False) as client:
        yield replace(house, service=Service(client))


def test_every_operation_stands_in_the_matrix() -> None:
    assert operations() == sorted(NEEDED)
    assert len(NEEDED) == sum(len(listed) for listed in LOWEST.values())


@pytest.mark.parametrize("bearer", BEARERS)
@pytest.mark.parametrize("operation", sorted(NEEDED))
def test_a_cell_of_the_matrix(shared_house: House, operation: str, bearer: str) -> None:
    key = {"key": (shared_house.tokens["expired"] or "").split()[1].partition(".")[0]}
    if operation.startswith(("GET /keys/", "POST /keys/")):
        key = {"key": _spare_key(shared_house)}
    if any(f"/{one}/" in operation for one in ("feeds", "calendars", "nights")):
        key = _spare_feed(shared_house)
    if "/collections/" in operation:
        key = _spare_collection(shared_house)
    if operation == "POST /files/{scenario}/remove":
        key = _spare_scenario(shared_house)
    answer = House(shared_house.service, shared_house.ids | key, shared_house.tokens).ask(bearer, operation)
    refused = expected(bearer, operation)
    if refused:
        assert {answer.status_code} == refused, answer.text
    else:
        assert answer.status_code not in {401, 403, 500}, answer.text
        absent = {"GET /jobs/{job}/answer", "GET /nights/{secret}/{evening}", "GET /target/{scenario}"}
        absent |= {"POST /collections/{collection}/push", "GET /collections/{collection}/last-push"}
        absent |= {name for name in NEEDED if "/scenarios/{scenario}/calendar" in name}
        absent |= {"POST /calendar/{scenario}"}  # nothing has been published
        assert answer.status_code != 404 or operation in absent, answer.text


def _spare_key(house: House) -> str:
    storage: Storage = house.service.client.app.state.services.storage
    return made_key(storage, NewKey(house.ids["club"], Role.READER, "to be revoked"))[0].id


def _spare_feed(house: House) -> dict[str, str]:
    storage: Storage = house.service.client.app.state.services.storage
    feed = storage.feeds.add(house.ids["club"], NewFeed(Shows.CLUB))
    return {"feed": feed.id, "secret": feed.secret}


def _spare_scenario(house: House) -> dict[str, str]:
    storage: Storage = house.service.client.app.state.services.storage
    kept = storage.scenarios.get(house.ids["scenario"])
    files, _ = storage.scenarios.files(kept.id)
    season = kept.season_start, kept.season_nights
    return {"scenario": storage.scenarios.add(kept.club, NewScenario("spare", "", 1, *season, files)).id}


def _spare_collection(house: House) -> dict[str, str]:
    storage: Storage = house.service.client.app.state.services.storage
    return {"collection": storage.collections.add(house.ids["feed"], COLLECTION).id}


def test_a_refusal_of_a_stranger_says_how_to_ask(house: House) -> None:
    answer = house.ask("nobody", "GET /clubs")
    problem = assert_is_problem(answer, 401, "key-needed")
    assert problem["reason"] == "no key was sent"
    assert answer.headers["www-authenticate"] == "Bearer"
    reasons = {
        one: house.ask(one, "GET /clubs").json()["reason"] for one in ("expired", "revoked", "wrong secret")
    }
    assert reasons == {
        "expired": "this key has expired", "revoked": "this key has been revoked",
        "wrong secret": "this is no key of this service",
    }  # fmt: skip


def test_too_low_a_role_is_told_the_one_it_needs(house: House) -> None:
    problem = assert_is_problem(house.ask(READER, "POST /scenarios/{scenario}/plans"), 403, "not-allowed")
    assert (problem["role"], problem["needed"]) == ("reader", "planner")


def test_another_clubs_thing_answers_like_none(house: House) -> None:
    theirs = house.ask("other club's owner", "GET /scenarios/{scenario}")
    nothing = House(house.service, {"scenario": "0" * 20}, house.tokens).ask(
        OWNER, "GET /scenarios/{scenario}"
    )
    assert theirs.status_code == nothing.status_code == 404
    blank = {house.ids["scenario"]: "ID", "0" * 20: "ID"}
    told = [answer.json() for answer in (theirs, nothing)]
    for problem in told:
        problem.pop("request", None)
        problem["id"] = blank[problem["id"]]
        problem["detail"] = problem["detail"].replace(house.ids["scenario"], "ID").replace("0" * 20, "ID")
    assert told[0] == told[1]


def test_a_key_sees_its_own_club_alone(house: House) -> None:
    listed = house.ask(READER, "GET /clubs").json()["items"]
    assert [club["id"] for club in listed] == [house.ids["club"]]
    assert len(house.ask(SERVICE_READER, "GET /clubs").json()["items"]) == 2


def test_a_digest_of_a_token_is_no_keys_id(house: House) -> None:
    token = (house.tokens[READER] or "").split()[1]
    digest = hashlib.sha256(token.encode()).hexdigest()
    headers = {"Authorization": f"Bearer {token}"}
    assert_is_problem(house.service.ask("GET", f"/keys/{digest}", headers=headers), 404, "no-such-thing")


@pytest.mark.parametrize("expires", ["9999-12-31T23:59:59-12:00", "0001-01-01T00:00:00+12:00"])
def test_an_end_that_is_no_time_in_utc_is_refused(house: House, expires: str) -> None:
    wish = {"role": "reader", "name": "tablet", "expires": expires}
    headers = {"Authorization": str(house.tokens[OWNER])}
    answer = house.service.ask("POST", f"/clubs/{house.ids['club']}/keys", json=wish, headers=headers)
    problem = assert_is_problem(answer, 422, "invalid-request")
    assert [entry["pointer"] for entry in problem["errors"]] == ["#/expires"]


def test_a_key_made_by_an_owner_opens_until_it_is_revoked(house: House) -> None:
    owner = {"Authorization": house.tokens[OWNER]}
    made = house.service.ask(
        "POST", f"/clubs/{house.ids['club']}/keys", json={"role": "reader", "name": "tablet"}, headers=owner
    )
    assert made.status_code == 201
    token = made.json()["token"]
    mine = {"Authorization": f"Bearer {token}"}
    assert house.service.ask("GET", "/clubs", headers=mine).status_code == 200
    listed = house.service.ask("GET", f"/clubs/{house.ids['club']}/keys", headers=owner)
    assert token.partition(".")[2] not in listed.text
    assert made.json()["id"] in listed.text
    revoked = house.service.ask("POST", f"/keys/{made.json()['id']}/revoke", headers=owner)
    assert revoked.json()["revoked"] is not None
    assert house.service.ask("GET", "/clubs", headers=mine).status_code == 401


def test_an_owner_of_one_club_makes_no_key_of_another_or_of_the_service(house: House) -> None:
    storage: Storage = house.service.client.app.state.services.storage
    other = next(club.id for club in storage.clubs.page(None, 9).items if club.id != house.ids["club"])
    for path, status in ((f"/clubs/{other}/keys", 404), ("/keys", 403)):
        wish = {"role": "owner", "name": "mine"}
        asked = house.service.ask("POST", path, json=wish, headers={"Authorization": house.tokens[OWNER]})
        assert asked.status_code == status
    service_key = (house.tokens[SERVICE_OWNER] or "").split()[1].partition(".")[0]
    taken = house.service.ask(
        "POST", f"/keys/{service_key}/revoke", headers={"Authorization": house.tokens[OWNER]}
    )
    assert taken.status_code == 404


def test_only_a_digest_of_a_secret_is_kept(house: House) -> None:
    storage: Storage = house.service.client.app.state.services.storage
    token = (house.tokens[PLANNER] or "").split()[1]
    key, _, secret = token.partition(".")
    with storage._database.reading() as connection:
        kept = connection.execute(text("SELECT * FROM keys")).all()
    assert not any(secret in str(cell) for row in kept for cell in row)
    assert storage.keys.get(key).digest == hashlib.sha256(secret.encode()).hexdigest()
    assert len(secret) >= 43  # 32 random bytes


def test_the_first_owner_key_is_made_once(tmp_path: Path) -> None:
    storage = Storage(tmp_path / "kept.sqlite3")
    token = first_key(storage)
    assert token is not None
    assert first_key(storage) is None
    storage.keys.revoke(token.partition(".")[0])
    assert first_key(storage) is not None, "a service without an owner would be lost"
    storage.close()


def test_without_keys_everybody_owns_the_service(start_service: StartService) -> None:
    service = start_service(keys="none")
    assert service.ask("POST", "/clubs", json={"name": "Ours"}).status_code == 201
    assert service.get("/keys").status_code == 200


def test_the_multipart_of_a_stranger_is_refused(house: House) -> None:
    path = f"/clubs/{house.ids['club']}/scenarios"
    answer = house.service.ask("POST", path, data={"name": "x"}, files=files_of())
    assert_is_problem(answer, 401, "key-needed")


def test_the_description_names_the_role_each_operation_needs(house: House) -> None:
    told = {
        f"{method.upper()} {path}": operation.get("x-role", ANYBODY)
        for path, methods in house.service.get("/openapi.json").json()["paths"].items()
        for method, operation in methods.items()
    }
    words = {
        ANY_KEY: "reader",
        SERVICE_READER: "reader of the service",
        SERVICE_OWNER: "owner of the service",
    }
    hidden = {"GET /docs", *operations(PAGES)}
    assert told == {one: words.get(needed, needed) for one, needed in NEEDED.items() if one not in hidden}
