"""The service with the real scheduler behind it: one small scenario, end to end."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.settings import Settings
from api.shapes import samples
from scheduler.export import moon_diary_csv, nights_csv, plan_from_json, schedule_csv, unplaced_csv

from .journeys import Service, assert_is_problem

TOML = samples.SCENARIO_TOML.encode()
# M 7 stands 35 degrees south of the equator: from 52.6 degrees north it never rises above 3 degrees.
WISH_LIST = b"target,priority\r\nM 42,5\r\nM 35,3\r\nM 44,2\r\nM 7,4\r\n"


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    database: Path = tmp_path_factory.mktemp("real") / "kept.sqlite3"
    app = create_app(Settings(database=database, keys="none", requests_per_minute=0))
    with TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False) as client:
        yield Service(client)


def test_a_real_scenario_is_planned_end_to_end(real: Service) -> None:
    kept = real.keep("../fenwold", TOML, WISH_LIST)
    assert kept.status_code == 201, kept.text
    assert (kept.json()["targets"], kept.json()["season_nights"]) == (4, 21)
    job = real.ended(real.started(str(kept.headers["location"]), seconds=0.5), within_s=120)
    assert job["state"] == "done", job
    at = job["links"]["plan"]

    plan = plan_from_json(real.get(at).text)
    assert (plan.scenario, plan.version) == ("../fenwold", 1)
    assert (plan.objective, plan.bound) == (job["progress"]["objective"], job["progress"]["bound"])
    assert 0.0 < plan.objective <= plan.bound
    assert {visit.target for visit in plan.visits} >= {"M 42"}
    assert [left.target for left in plan.unplaced] == ["M 7"]

    for name, written in [
        ("schedule", schedule_csv),
        ("nights", nights_csv),
        ("unplaced", unplaced_csv),
        ("moon", moon_diary_csv),
    ]:
        answer = real.get(f"{at}/{name}.csv")
        assert answer.content == written(plan).encode(), name
    rows = list(csv.DictReader(io.StringIO(real.get(f"{at}/schedule.csv").text, newline="")))
    assert len(rows) >= len(plan.visits) > 0


def test_every_fault_of_real_files_is_told_with_its_place(real: Service) -> None:
    toml = TOML.replace(b"latitude_deg = 52.6", b"latitude_deg = 152.6")
    wish_list = b"target,priority\r\nM 42,5\r\nM 1042,3\r\nM 44,9\r\n"
    problem = assert_is_problem(real.keep("bad", toml, wish_list), 422, "scenario-faults")
    pointers = {entry["pointer"] for entry in problem["errors"]}
    assert pointers >= {
        "#/scenario_toml/site/latitude_deg", "#/wish_list_csv/3/target", "#/wish_list_csv/4/priority",
    }  # fmt: skip
    assert all(entry["expected"] and entry["detail"] for entry in problem["errors"])


@pytest.mark.parametrize("junk", [b"", b"\xff\xfe\x00", b"[" * 5000, b"target\r\n" * 3, b"\0" * 100, b'"'])
def test_junk_for_files_is_a_list_of_faults_never_a_failure(real: Service, junk: bytes) -> None:
    assert_is_problem(real.keep("junk", junk, WISH_LIST), 422, "scenario-faults")
    assert_is_problem(real.keep("junk", TOML, junk), 422, "scenario-faults")


def test_the_sky_over_a_scenario_is_told_while_one_waits(real: Service) -> None:
    kept = str(real.keep("sky", TOML, WISH_LIST).headers["location"])
    up = real.get(f"{kept}/up?at=2027-02-26T21:00")
    assert up.status_code == 200, up.text
    assert up.json()["moment"] == "2027-02-26T21:00:00Z"
    # On 26 February Orion stands in the south in the evening (any rotating star chart, common knowledge).
    assert "Orion" in str(up.json())
    moon = real.get(f"{kept}/moon")
    assert len(moon.json()["nights"]) == 21
    assert real.get(f"{kept}/moon", if_none_match=moon.headers["etag"]).status_code == 304
    assert len(real.get(f"{kept}/moon.csv").text.splitlines()) == 22
    names = [planet["body"] for planet in real.get(f"{kept}/planets").json()["planets"]]
    assert {"venus", "jupiter", "saturn"} <= set(names)
    assert real.get(f"{kept}/weather").status_code == 200
    problem = assert_is_problem(real.get(f"{kept}/up?at=tonight"), 422, "invalid-value")
    assert problem["errors"][0]["pointer"] == "#/at"
