"""Scenarios: a scenario.toml and a wish-list.csv under one name, every change a new revision."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, File, Form, Response
from pydantic import AfterValidator
from pydantic_core import PydanticCustomError

from ..conditional import ExpectedRevisions, IfNoneMatch, answer_if_new
from ..deps import Cursor, Limit, MultipartOnly, TheServices
from ..shapes import ETAG, IF_NEW, ScenarioPage, ScenarioShape, answers, next_page, refusals
from ..storage import NewScenario, ScenarioFiles, ScenarioRecord, tag_of

router = APIRouter(tags=["scenarios"])


def _printable(name: str) -> str:
    if not name.strip() or not name.isprintable():
        raise PydanticCustomError("name", "a name is printable and not blank")
    return name


Name = Annotated[
    str,
    Form(max_length=200, description="What you call it.", examples=["winter-year"]),
    AfterValidator(_printable),
]
Toml = Annotated[
    bytes, File(description="The scenario.toml: place, kit, season, when you are free, clear odds.")
]
Csv = Annotated[bytes, File(description="The wish-list.csv: one target a line.")]


def _read(services: TheServices, name: Name, scenario_toml: Toml, wish_list_csv: Csv) -> NewScenario:
    """Read the files sent, so that what is kept can be planned, or raise `ScenarioFaults`."""
    scenario = services.door.read_scenario(name, scenario_toml, wish_list_csv)
    return NewScenario(
        name=name, title=scenario.title, targets=len(scenario.targets), season_start=scenario.season.start,
        season_nights=scenario.season.nights, files=ScenarioFiles(scenario_toml, wish_list_csv),
    )  # fmt: skip


ReadScenario = Annotated[NewScenario, Depends(_read)]


KEPT = "Where it is kept."


@router.post(
    "/scenarios", status_code=201, response_model=ScenarioShape, dependencies=[MultipartOnly],
    response_description="The scenario is kept.",
    responses={**answers(201, Location=KEPT, ETag=ETAG), **refusals(400, 413, 415)},
)  # fmt: skip
def create_scenario(services: TheServices, new: ReadScenario, response: Response) -> ScenarioShape:
    """Keep a new scenario.

    With curl: `-F name=winter-year -F scenario_toml=@scenario.toml -F wish_list_csv=@wish-list.csv`
    """
    record = services.storage.scenarios.add(new)
    response.headers["Location"] = f"/scenarios/{record.id}"
    return _shown(record, response)


@router.get("/scenarios", response_model=ScenarioPage)
def list_scenarios(services: TheServices, cursor: Cursor = None, limit: Limit = 50) -> ScenarioPage:
    """List the scenarios, newest first."""
    page = services.storage.scenarios.page(cursor, limit)
    items = [ScenarioShape.of(record) for record in page.items]
    return ScenarioPage(items=items, next=next_page("/scenarios", page.cursor, limit))


@router.get(
    "/scenarios/{scenario}",
    response_model=ScenarioShape,
    responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(404)},
)
def read_scenario(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read what is known of a scenario."""
    record = services.storage.scenarios.get(scenario)
    shown = ScenarioShape.of(record).model_dump_json()
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.put(
    "/scenarios/{scenario}",
    response_model=ScenarioShape,
    dependencies=[MultipartOnly],
    responses={**answers(200, ETag=ETAG), **refusals(400, 404, 412, 413, 415, 428)},
)
def replace_scenario(
    services: TheServices, scenario: str, expected: ExpectedRevisions, new: ReadScenario, response: Response
) -> ScenarioShape:
    """Replace a scenario's name and files by a new revision. Needs If-Match; earlier plans stay."""
    return _shown(services.storage.scenarios.replace(scenario, new, expected), response)


@router.delete("/scenarios/{scenario}", status_code=204, responses=refusals(404, 409, 412, 428))
def delete_scenario(services: TheServices, scenario: str, expected: ExpectedRevisions) -> None:
    """Delete a scenario with all its plans and jobs. Needs If-Match."""
    services.storage.scenarios.delete(scenario, expected)


@router.get(
    "/scenarios/{scenario}/scenario.toml",
    response_class=Response,
    responses={**answers(200, "application/toml", ETag=ETAG), **IF_NEW, **refusals(404)},
)
def read_scenario_toml(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the scenario.toml, byte for byte as it came."""
    files, revision = services.storage.scenarios.files(scenario)
    return answer_if_new(if_none_match, tag_of(revision), files.scenario_toml, "application/toml")


@router.get(
    "/scenarios/{scenario}/wish-list.csv",
    response_class=Response,
    responses={**answers(200, "text/csv", ETag=ETAG), **IF_NEW, **refusals(404)},
)
def read_wish_list(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the wish-list.csv, byte for byte as it came."""
    files, revision = services.storage.scenarios.files(scenario)
    return answer_if_new(if_none_match, tag_of(revision), files.wish_list_csv, "text/csv")


def _shown(record: ScenarioRecord, response: Response) -> ScenarioShape:
    response.headers["ETag"] = record.tag
    return ScenarioShape.of(record)
