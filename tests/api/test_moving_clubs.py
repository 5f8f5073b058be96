"""Whole clubs leave and come back over HTTP, with the real reader behind the service."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from .journeys import Service, assert_is_problem
from .test_parts import kept, reader  # noqa: F401 - the fixture

FAULTY = "target,priority\r\nM 42,9\r\nNebula of Nowhere,3\r\n"


def exported(service: Service) -> dict[str, Any]:
    told: dict[str, Any] = service.get(f"{service.club}/export").json()
    return told


def gone(service: Service) -> None:
    club = service.club
    answer = service.ask("DELETE", club, headers={"If-Match": service.get(club).headers["etag"]})
    assert answer.status_code == 204, answer.text


def test_a_club_comes_back_as_it_left(reader: Service) -> None:  # noqa: F811
    reader.planned(kept(reader))
    club = reader.club
    left = reader.get(f"{club}/export")
    assert left.headers["content-disposition"] == 'attachment; filename="club.json"'
    assert reader.get(f"{club}/export", If_None_Match=left.headers["etag"]).status_code == 304
    again = reader.ask(
        "POST", "/clubs/import", content=left.content, headers={"Content-Type": "application/json"}
    )
    assert_is_problem(again, 409, "already-kept")
    gone(reader)
    back = reader.ask(
        "POST", "/clubs/import", content=left.content, headers={"Content-Type": "application/json"}
    )
    assert (back.status_code, back.headers["location"]) == (201, club)
    assert back.headers["etag"] == reader.get(club).headers["etag"]
    assert reader.get(f"{club}/export").content == left.content


def spoil_wish_list(told: dict[str, Any]) -> None:
    told["scenarios"][0]["revisions"][-1]["wish_list_csv"] = {"text": FAULTY}


def spoil_log(told: dict[str, Any]) -> None:
    line = {
        "line": 1, "evening": "2027-02-21", "outcome": "starry", "usable_min": None, "seen": [],
        "seen_poorly": [], "not_seen": [], "notes": "", "sky_brightness": None, "key": None,
        "logged": "2027-02-22T08:00:00+00:00",
    }  # fmt: skip
    told["scenarios"][0]["outcomes"] = [line]


def spoil_zone(told: dict[str, Any]) -> None:
    files = told["scenarios"][0]["revisions"][-1]
    files["scenario_toml"]["text"] = files["scenario_toml"]["text"].replace("Europe/London", "Mars/Olympus")


@pytest.mark.parametrize(
    ("spoil", "pointers"),
    [
        (spoil_wish_list, ["#/scenarios/0/wish_list_csv/2/priority", "#/scenarios/0/wish_list_csv/3/target"]),
        (spoil_log, ["#/scenarios/0/outcomes.csv/2/outcome"]),
        (spoil_zone, ["#/scenarios/0/scenario_toml/site/zone"]),
    ],
)
def test_what_cannot_be_planned_is_told_and_not_kept(
    reader: Service, spoil: Callable[[dict[str, Any]], None], pointers: list[str]  # noqa: F811
) -> None:  # fmt: skip
    kept(reader)
    told = exported(reader)
    gone(reader)
    spoil(told)
    problem = assert_is_problem(reader.ask("POST", "/clubs/import", json=told), 422, "scenario-faults")
    assert [entry["pointer"] for entry in problem["errors"]] == pointers
    assert reader.get("/clubs").json()["items"] == []


def test_a_plan_that_cannot_be_read_is_not_kept(reader: Service) -> None:  # noqa: F811
    reader.planned(kept(reader))
    told = exported(reader)
    gone(reader)
    plan = told["scenarios"][0]["plans"][0]
    plan["files"] = [one for one in plan["files"] if one["name"] != "plan.json"]
    problem = assert_is_problem(reader.ask("POST", "/clubs/import", json=told), 422, "unreadable-club")
    assert problem["where"] == "scenarios/0/plans/0/files"
    assert reader.get("/clubs").json()["items"] == []


@pytest.mark.parametrize("body", [b"", b"{}", b"\xff", b"[]", b'{"format": "duskwright-club", "version": 9}'])
def test_no_clubs_file_is_refused_in_words(reader: Service, body: bytes) -> None:  # noqa: F811
    answer = reader.ask("POST", "/clubs/import", content=body, headers={"Content-Type": "application/json"})
    assert_is_problem(answer, 422, "unreadable-club")
