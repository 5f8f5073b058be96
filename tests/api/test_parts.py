"""The parts of a scenario, with the real reader behind the service."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.door import scheduler_door
from api.ports import Door
from api.settings import Settings
from api.storage import NewOutcome, Noun, Storage

from .journeys import Answer, Service, assert_is_problem
from .stand_ins import StandInPlanner, jobs_here
from .test_real_scheduler import TOML, WISH_LIST

CSV, JSON = "text/csv", "application/json"
NIGHT = NewOutcome(date(2027, 2, 20), "clouded out")


@pytest.fixture
def reader(tmp_path: Path) -> Iterator[Service]:
    """A service that reads with the real scheduler and plans with the stand-in."""
    door = partial(real_reader, StandInPlanner(tmp_path / "planner"))
    settings = Settings(database=tmp_path / "kept.sqlite3", keys="none", requests_per_minute=0)
    app = create_app(settings, door, jobs_here)
    with TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False) as client:
        yield Service(client)


def real_reader(planner: StandInPlanner) -> Door:
    real = scheduler_door()
    return replace(planner.door(), read_scenario=real.read_scenario, targets_json=real.targets_json)


def kept(service: Service) -> str:
    answer = service.keep("fenwold", TOML, WISH_LIST)
    assert answer.status_code == 201, answer.text
    return str(answer.headers["location"])


def send(
    service: Service, method: str, path: str, body: bytes | dict[str, Any], kind: str = CSV,
    if_match: str | None = None,
) -> Answer:  # fmt: skip
    headers = {} if if_match is None else {"If-Match": if_match}
    if isinstance(body, dict):
        return service.ask(method, path, json=body, headers=headers)
    return service.ask(method, path, content=body, headers={"Content-Type": kind, **headers})


@pytest.mark.parametrize(
    ("part", "body", "kind"),
    [
        ("wish-list.csv", b"target,priority\r\nM 31,2\r\n", CSV),
        ("scenario.toml", TOML + b"# once more\n", "application/toml"),
        ("forecast.csv", b"evening,clear_odds,made_on\r\n2027-02-21,0.7,2027-02-20\r\n", CSV),
    ],
)
def test_a_file_is_replaced_alone_byte_for_byte(reader: Service, part: str, body: bytes, kind: str) -> None:
    scenario = kept(reader)
    before = {name: reader.get(f"{scenario}/{name}").content for name in ("scenario.toml", "wish-list.csv")}
    answer = send(reader, "PUT", f"{scenario}/{part}", body, kind, '"r1"')
    assert answer.status_code == 200, answer.text
    assert answer.headers["etag"] == '"r2"'
    fetched = reader.get(f"{scenario}/{part}")
    assert (fetched.content, fetched.headers["etag"]) == (body, '"r2"')
    for name, content in before.items():
        if name != part:
            assert reader.get(f"{scenario}/{name}").content == content


@pytest.mark.parametrize("part", ["wish-list.csv", "scenario.toml", "forecast.csv", "availability", "uses"])
def test_a_part_is_changed_only_as_it_was_read(reader: Service, part: str) -> None:
    scenario = kept(reader)
    kind = "application/toml" if part.endswith("toml") else CSV
    body: bytes | dict[str, Any] = {} if part in ("availability", "uses") else WISH_LIST
    assert_is_problem(send(reader, "PUT", f"{scenario}/{part}", body, kind), 428, "precondition-missing")
    assert_is_problem(send(reader, "PUT", f"{scenario}/{part}", body, kind, '"r7"'), 412, "stale")
    assert reader.get(scenario).json()["revision"] == 1


def test_faults_of_a_part_are_all_told_and_nothing_is_changed(reader: Service) -> None:
    scenario = kept(reader)
    bad = b"target,priority\r\nM 42,9\r\nNebula of Nowhere,3\r\n"
    problem = assert_is_problem(
        send(reader, "PUT", f"{scenario}/wish-list.csv", bad, if_match='"r1"'), 422, "scenario-faults"
    )
    assert [entry["pointer"] for entry in problem["errors"]] == [
        "#/wish_list_csv/2/priority", "#/wish_list_csv/3/target",
    ]  # fmt: skip
    assert reader.get(f"{scenario}/wish-list.csv").content == WISH_LIST
    assert reader.get(scenario).headers["etag"] == '"r1"'


def test_a_body_of_another_type_is_refused(reader: Service) -> None:
    scenario = kept(reader)
    answer = send(reader, "PUT", f"{scenario}/wish-list.csv", WISH_LIST, "text/html", '"r1"')
    assert_is_problem(answer, 415, "wrong-media-type")


def test_targets_are_read_as_they_are_understood(reader: Service) -> None:
    targets = reader.get(f"{kept(reader)}/targets").json()["targets"]
    assert [target["name"] for target in targets] == ["M 42", "M 35", "M 44", "M 7"]
    assert targets[0]["priority"] == 5


def test_targets_are_added_below_the_others(reader: Service) -> None:
    scenario = kept(reader)
    more = b"target,visits\r\nM 31,2\r\n"
    answer = send(reader, "POST", f"{scenario}/targets", more, if_match='"r1"')
    assert answer.json()["targets"] == 5
    assert reader.get(f"{scenario}/wish-list.csv").text.splitlines() == [
        "target,priority,visits", "M 42,5,", "M 35,3,", "M 44,2,", "M 7,4,", "M 31,,2",
    ]  # fmt: skip
    again = send(reader, "POST", f"{scenario}/targets", more, if_match='"r2"')
    assert_is_problem(again, 422, "scenario-faults")
    other = send(reader, "POST", f"{scenario}/targets", b"target;priority\r\nM 1;2\r\n", if_match='"r2"')
    assert "between the cells" in assert_is_problem(other, 422, "scenario-faults")["errors"][0]["expected"]


def test_availability_is_a_view_of_the_file(reader: Service) -> None:
    scenario = kept(reader)
    wish = {"evenings": [{"weekdays": "Fri, Sat", "start": "20:00"}], "away": ["2027-02-26..2027-02-28"],
            "nights_per_week": 2, "announced": ["2027-03-05"]}  # fmt: skip
    answer = send(reader, "PUT", f"{scenario}/availability", wish, if_match='"r1"')
    assert answer.status_code == 200, answer.text
    shown = reader.get(f"{scenario}/availability").json()
    assert {name: shown[name] for name in wish if name != "evenings"} == {
        name: wish[name] for name in wish if name != "evenings"
    }
    assert shown["evenings"] == [{"weekdays": "Fri, Sat", "start": "20:00", "finish": None}]
    toml = reader.get(f"{scenario}/scenario.toml").text
    assert 'title = "Three weeks of late winter"' in toml
    wrong = send(reader, "PUT", f"{scenario}/availability", {"away": ["some day"]}, if_match='"r2"')
    problem = assert_is_problem(wrong, 422, "scenario-faults")
    assert problem["errors"][0]["pointer"].startswith("#/scenario_toml/availability/away")


def test_what_the_club_has_is_taken_over_and_followed(reader: Service) -> None:
    scenario, club = kept(reader), reader.club
    member = reader.ask("POST", f"{club}/members", json={"name": "Jory", "settings": {"age": 27}}).json()
    site = {"name": "Far Carn", "settings": {"latitude_deg": 50.75, "longitude_deg": -3.95, "travel_min": 95}}
    away = reader.ask("POST", f"{club}/sites", json=site).json()
    scope = {"name": "Big one", "settings": {"aperture_mm": 300, "focal_length_mm": 1500}}
    telescope = reader.ask("POST", f"{club}/telescopes", json=scope).json()
    uses = {"members": [member["id"]], "sites": [away["id"]], "telescopes": [telescope["id"]]}
    answer = send(reader, "PUT", f"{scenario}/uses", uses, if_match='"r1"')
    assert answer.status_code == 200, answer.text
    toml = reader.get(f"{scenario}/scenario.toml").text
    assert all(name in toml for name in ("Jory", "Far Carn", "Big one"))
    assert reader.get(f"{scenario}/uses").json() == {"home": None, **uses, "need": None}

    assert reader.ended(reader.started(scenario))["revision"] == 2, "nothing has changed in the club"
    older = {"name": "Jory", "settings": {"age": 28}}
    changed = send(reader, "PUT", member["links"]["self"], older, if_match='"r1"')
    assert changed.status_code == 200
    assert reader.ended(reader.started(scenario))["revision"] == 3
    assert "age = 28" in reader.get(f"{scenario}/scenario.toml").text
    gone = reader.ask("DELETE", member["links"]["self"], headers={"If-Match": "*"})
    assert gone.status_code == 204
    assert reader.ended(reader.started(scenario))["revision"] == 3, "it keeps what it took over"


@pytest.mark.parametrize("if_match", ['"r1"', "*"])
def test_a_line_logged_meanwhile_makes_taking_over_no_stale_change(
    reader: Service, monkeypatch: pytest.MonkeyPatch, if_match: str
) -> None:
    scenario = kept(reader)
    member = reader.ask(
        "POST", f"{reader.club}/members", json={"name": "Jory", "settings": {"age": 27}}
    ).json()
    storage: Storage = reader.client.app.state.services.storage
    several = type(storage.shared[Noun.MEMBER]).several
    logged: list[object] = []

    def and_log(*asked: Any, **more: Any) -> Any:
        if not logged:
            logged.append(storage.outcomes.add(scenario.rpartition("/")[2], [NIGHT], None))
        return several(*asked, **more)

    monkeypatch.setattr(type(storage.shared[Noun.MEMBER]), "several", and_log)
    answer = send(reader, "PUT", f"{scenario}/uses", {"members": [member["id"]]}, if_match=if_match)
    assert (answer.status_code, answer.headers.get("etag")) == (200, '"r2"'), answer.text


def test_what_another_club_has_is_not_taken_over(reader: Service) -> None:
    scenario = kept(reader)
    other = reader.ask("POST", "/clubs", json={"name": "Others"}).headers["location"]
    member = reader.ask("POST", f"{other}/members", json={"name": "Jory", "settings": {"age": 27}}).json()
    answer = send(reader, "PUT", f"{scenario}/uses", {"members": [member["id"]]}, if_match='"r1"')
    assert_is_problem(answer, 404, "no-such-thing")


@pytest.mark.parametrize(
    ("things", "settings", "pointer"),
    [
        ("members", {"age": 300}, "#/settings/age"),
        ("members", {"agee": 30}, "#/settings/agee"),
        ("sites", {"latitude_deg": 95, "longitude_deg": 1, "travel_min": 5}, "#/settings/latitude_deg"),
        ("telescopes", {"aperture_mm": 100}, "#/settings/focal_length_mm"),
        ("members", {"name": "Else"}, "#/settings"),
        ("members", {"age": "a\u0000"}, "#/settings"),
    ],
)
def test_faults_of_what_is_shared_point_into_its_settings(
    reader: Service, things: str, settings: dict[str, Any], pointer: str
) -> None:
    answer = reader.ask("POST", f"{reader.club}/{things}", json={"name": "One", "settings": settings})
    assert answer.status_code == 422
    assert pointer in {entry["pointer"] for entry in answer.json()["errors"]}, answer.text


def test_two_of_one_name_are_not_kept(reader: Service) -> None:
    wish = {"name": "Jory", "settings": {"age": 27}}
    assert reader.ask("POST", f"{reader.club}/members", json=wish).status_code == 201
    assert_is_problem(reader.ask("POST", f"{reader.club}/members", json=wish), 409, "already-kept")


def test_the_log_grows_line_by_line(reader: Service) -> None:
    scenario = kept(reader)
    assert reader.get(f"{scenario}/outcomes").json() == {"items": []}
    line = {"evening": "2027-02-20", "outcome": "clear", "seen": ["m42", "Beehive"], "notes": "=cold; dew"}
    first = reader.ask("POST", f"{scenario}/outcomes", json=line)
    assert first.status_code == 201, first.text
    assert first.json()["items"][0]["seen"] == ["M 42", "M 44"]
    more = b"evening,outcome\r\n2027-02-21,clouded out\r\n2027-02-22,could not go\r\n"
    second = send(reader, "POST", f"{scenario}/outcomes.csv", more)
    assert [item["line"] for item in second.json()["items"]] == [2, 3]
    assert len(reader.get(f"{scenario}/outcomes").json()["items"]) == 3
    log = reader.get(f"{scenario}/outcomes.csv")
    assert "'=cold; dew" in log.text, "a spreadsheet must not take it for a formula"
    assert log.headers["etag"] == '"l3"'
    job = reader.ended(reader.started(scenario))
    assert job["outcomes"] == 3
    assert reader.get(scenario).json()["revision"] == 1, "the log is no change of the scenario"


def test_faults_of_the_log_are_all_told_and_nothing_is_added(reader: Service) -> None:
    scenario = kept(reader)
    bad = b"evening,outcome,seen\r\n2027-02-21,sunny,\r\n2027-02-22,clear,M 99\r\n2027-02-23,clear,M 42\r\n"
    problem = assert_is_problem(send(reader, "POST", f"{scenario}/outcomes.csv", bad), 422, "scenario-faults")
    assert [(entry["row"], entry["column"]) for entry in problem["errors"]] == [(2, "outcome"), (3, "seen")]
    assert reader.get(f"{scenario}/outcomes").json() == {"items": []}


def test_a_target_that_was_seen_stays_on_the_list(reader: Service) -> None:
    scenario = kept(reader)
    line = {"evening": "2027-02-20", "outcome": "clear", "seen": ["M 42"]}
    assert reader.ask("POST", f"{scenario}/outcomes", json=line).status_code == 201
    answer = send(reader, "PUT", f"{scenario}/wish-list.csv", b"target\r\nM 35\r\n", if_match='"r1"')
    problem = assert_is_problem(answer, 422, "scenario-faults")
    assert "one that was seen stays on it" in problem["errors"][0]["expected"]


def test_lines_from_many_clients_are_all_kept_in_order(reader: Service) -> None:
    scenario = kept(reader)

    def log(day: int) -> int:
        line = {"evening": f"2027-02-{day:02}", "outcome": "clouded out"}
        return reader.ask("POST", f"{scenario}/outcomes", json=line).status_code

    with ThreadPoolExecutor(6) as pool:
        assert set(pool.map(log, range(1, 25))) == {201}
    items = reader.get(f"{scenario}/outcomes").json()["items"]
    assert [item["line"] for item in items] == list(range(1, 25))
    assert {item["evening"] for item in items} == {f"2027-02-{day:02}" for day in range(1, 25)}


def test_of_two_clients_editing_one_wins_and_the_other_is_told(reader: Service) -> None:
    scenario = kept(reader)

    def edit(priority: int) -> int:
        body = f"target,priority\r\nM 42,{priority}\r\n".encode()
        return send(reader, "PUT", f"{scenario}/wish-list.csv", body, if_match='"r1"').status_code

    with ThreadPoolExecutor(5) as pool:
        assert sorted(pool.map(edit, range(1, 6))) == [200, 412, 412, 412, 412]
    assert reader.get(scenario).json()["revision"] == 2


@pytest.mark.parametrize(
    ("most", "pointer"), [({"most_targets": 3}, "#/targets"), ({"most_nights": 3}, "#/season.nights")]
)
def test_a_scenario_may_be_only_so_large(tmp_path: Path, most: dict[str, Any], pointer: str) -> None:
    settings = Settings(database=tmp_path / "k.sqlite3", keys="none", requests_per_minute=0, **most)
    app = create_app(settings, partial(real_reader, StandInPlanner(tmp_path)), jobs_here)
    with TestClient(app, base_url="http://127.0.0.1:8075") as client:
        problem = assert_is_problem(Service(client).keep("x", TOML, WISH_LIST), 422, "invalid-value")
    assert problem["errors"][0]["pointer"] == pointer
