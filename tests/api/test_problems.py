from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.exceptions import HTTPException

from api import errors
from api.kinds import BY_STATUS, KINDS, all_kinds, kind_of
from api.problems import MOST_ERRORS, answer_with_problems, problem_of, problem_response
from scheduler.errors import (
    Cancelled,
    CannotWrite,
    DuskwrightError,
    Fault,
    InvalidValue,
    OutsideEphemeris,
    PlanRejected,
    ScenarioFaults,
    UnknownName,
    UnreadablePlan,
)

from .journeys import Service, assert_is_problem

FAULT = Fault("wish-list.csv", 5, "priority", "9", "a whole number from 1 to 5")


def errors_below(root: type[Exception]) -> Iterator[type[Exception]]:
    for child in root.__subclasses__():
        yield child
        yield from errors_below(child)


def test_every_error_of_ours_is_of_a_foreseen_kind() -> None:
    never_sent = {errors.ServiceError, errors.VersionTaken, errors.CalendarMoved, errors.DatabaseUnusable,
                  errors.SettingsFaults, CannotWrite}  # fmt: skip
    ours = {e for e in errors_below(DuskwrightError) if e.__module__.startswith(("scheduler.", "api."))}
    assert ours - never_sent <= set(KINDS)


def test_kinds_have_names_of_their_own_and_say_what_to_do() -> None:
    names = [kind.name for kind in all_kinds()]
    assert len(names) == len(set(names)) == len(KINDS) + len(BY_STATUS)
    assert all(kind.title and kind.advice and 400 <= kind.status <= 599 for kind in all_kinds())


@pytest.mark.parametrize(
    ("error", "status", "name", "carried"),
    [
        (InvalidValue("dec_deg", 91.0, "a number from -90 to 90"), 422, "invalid-value", {"value": 91.0}),
        (InvalidValue("dec_deg", float("nan"), "a number"), 422, "invalid-value", {"value": "nan"}),
        (UnknownName("M 1133", ("M 113", "M 13")), 422, "unknown-name", {"near": ["M 113", "M 13"]}),
        (OutsideEphemeris(date(2090, 1, 1), date(1900, 1, 1), date(2050, 1, 1)), 422, "outside-ephemeris",
         {"asked": "2090-01-01", "first": "1900-01-01", "last": "2050-01-01"}),
        (UnreadablePlan("cut short"), 500, "unreadable-plan", {"detail": "cut short"}),
        (Cancelled(), 409, "cancelled", {}),
        (errors.NoSuch("plan", "x"), 404, "no-such-thing", {"noun": "plan", "id": "x"}),
        (errors.TooManyJobs(3), 429, "too-many-jobs", {"limit": 3}),
        (errors.Interrupted(), 503, "interrupted", {}),
        (HTTPException(418), 418, "other", {"title": "I'm a Teapot"}),
    ],
)  # fmt: skip
def test_an_error_becomes_a_problem_with_the_data_it_carries(
    error: Exception, status: int, name: str, carried: dict[str, object]
) -> None:
    problem = problem_of(error)
    assert (problem["status"], problem["type"]) == (status, f"/problems/{name}")
    assert carried.items() <= problem.items()
    assert json.loads(json.dumps(problem, allow_nan=False)) == problem


def test_a_fault_points_into_the_part_that_held_the_file() -> None:
    toml = Fault("scenario.toml", None, "site.latitude_deg", "95", "a number from -90 to 90")
    whole = Fault("wish-list.csv", None, None, "", "a header")
    pointers = [entry["pointer"] for entry in problem_of(ScenarioFaults((FAULT, toml, whole)))["errors"]]
    assert pointers == ["#/wish_list_csv/5/priority", "#/scenario_toml/site/latitude_deg", "#/wish_list_csv"]


def test_a_fault_keeps_every_word_the_reader_said() -> None:
    entry = problem_of(ScenarioFaults((FAULT,)))["errors"][0]
    assert entry == {
        "pointer": "#/wish_list_csv/5/priority", "detail": str(FAULT), "file": "wish-list.csv", "row": 5,
        "column": "priority", "read": "9", "expected": "a whole number from 1 to 5", "near": [],
    }  # fmt: skip


def test_a_flood_of_faults_is_cut_and_counted() -> None:
    problem = problem_of(ScenarioFaults((FAULT,) * (MOST_ERRORS + 7)))
    assert len(problem["errors"]) == MOST_ERRORS
    assert problem["errors_left_out"] == 7


def test_a_huge_value_is_shortened() -> None:
    fault = Fault("wish-list.csv", 2, "target", "x" * 1_000_000, "a known target")
    assert len(json.dumps(problem_of(ScenarioFaults((fault,))))) < 3000


def test_breaches_of_a_rejected_plan_are_all_listed() -> None:
    problem = problem_of(PlanRejected(("two visits at once", "a visit in daylight")))
    assert [entry["detail"] for entry in problem["errors"]] == ["two visits at once", "a visit in daylight"]


def test_a_lone_surrogate_can_be_answered() -> None:
    answer = problem_response(errors.NoSuch("plan", "\ud800"))
    assert json.loads(bytes(answer.body))["id"] == "\ud800"


def test_a_subclass_is_of_the_kind_of_its_nearest_base() -> None:
    class Rarer(errors.NoSuch):
        pass

    assert kind_of(Rarer("plan", "x")).name == "no-such-thing"


def test_an_unforeseen_error_tells_nothing_but_where_the_log_has_it(caplog: pytest.LogCaptureFixture) -> None:
    app = FastAPI()
    answer_with_problems(app, [])

    @app.get("/breaks")
    def breaks() -> None:
        raise RuntimeError("the secret of the cellar")

    answer = TestClient(app, raise_server_exceptions=False).get("/breaks")
    problem = assert_is_problem(answer, 500, "internal-error")
    assert "cellar" not in answer.text
    logged = [record for record in caplog.records if problem["instance"] in record.getMessage()]
    assert logged[0].exc_info is not None
    assert "cellar" in str(logged[0].exc_info[1])


def test_the_type_of_every_problem_can_be_read(service: Service) -> None:
    for kind in all_kinds():
        told = service.get(kind.type)
        assert told.status_code == 200
        assert told.json() == {
            "type": kind.type, "title": kind.title, "status": kind.status, "advice": kind.advice
        }  # fmt: skip
    assert_is_problem(service.get("/problems/of-another-world"), 404, "no-such-thing")
