"""Scenarios: a scenario.toml and a wish-list.csv under one name, every change a new revision."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, File, Form, Response
from pydantic import AfterValidator

from ..auth import needs
from ..conditional import ExpectedRevisions, IfNoneMatch, answer_if_new
from ..deps import Cursor, Limit, MultipartOnly, TheServices
from ..kept import changed, read_new
from ..shapes import ETAG, IF_NEW, ScenarioPage, ScenarioShape, answers, next_page, refusals
from ..shapes.base import PRINTABLE, printable
from ..shapes.samples import FORECAST_CSV, SCENARIO_TOML, WISH_LIST_CSV
from ..storage import Role, ScenarioFiles, ScenarioRecord

router = APIRouter(tags=["scenarios"])


Name = Annotated[
    str,
    Form(
        max_length=200, description="What you call it.", examples=["winter-year"], json_schema_extra=PRINTABLE
    ),
    AfterValidator(printable),
]
Toml = Annotated[
    bytes,
    File(description="The scenario.toml: place, kit, season, when you are free, clear odds.",
         examples=[SCENARIO_TOML]),
]  # fmt: skip
Csv = Annotated[bytes, File(description="The wish-list.csv: one target a line.", examples=[WISH_LIST_CSV])]
Forecast = Annotated[bytes, File(description="A forecast.csv, if there is one.", examples=[FORECAST_CSV])]


def _files(scenario_toml: Toml, wish_list_csv: Csv, forecast_csv: Forecast = b"") -> ScenarioFiles:
    return ScenarioFiles(scenario_toml, wish_list_csv, forecast_csv)


Files = Annotated[ScenarioFiles, Depends(_files)]


@router.post(
    "/clubs/{club}/scenarios", status_code=201, response_model=ScenarioShape,
    dependencies=[needs(Role.PLANNER), MultipartOnly], response_description="The scenario is kept.",
    responses={**answers(201, Location="Where it is kept.", ETag=ETAG),
               **refusals(400, 401, 403, 404, 413, 415)},
)  # fmt: skip
def create_scenario(
    services: TheServices, club: str, name: Name, files: Files, response: Response
) -> ScenarioShape:
    """Keep a new scenario of a club.

    With curl: `-F name=winter-year -F scenario_toml=@scenario.toml -F wish_list_csv=@wish-list.csv`
    """
    record = services.storage.scenarios.add(club, read_new(services, name, files))
    response.headers["Location"] = f"/scenarios/{record.id}"
    return _shown(record, response)


@router.get(
    "/clubs/{club}/scenarios", response_model=ScenarioPage, dependencies=[needs(Role.READER)],
    responses=refusals(401, 404),
)  # fmt: skip
def list_scenarios(
    services: TheServices, club: str, cursor: Cursor = None, limit: Limit = 50
) -> ScenarioPage:
    """List a club's scenarios, newest first."""
    page = services.storage.scenarios.page(club, cursor, limit)
    items = [ScenarioShape.of(record) for record in page.items]
    return ScenarioPage(items=items, next=next_page(f"/clubs/{club}/scenarios", page.cursor, limit))


@router.get(
    "/scenarios/{scenario}", response_model=ScenarioShape, dependencies=[needs(Role.READER)],
    responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 404)},
)  # fmt: skip
def read_scenario(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read what is known of a scenario."""
    record = services.storage.scenarios.get(scenario)
    shown = ScenarioShape.of(record).model_dump_json()
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.put(
    "/scenarios/{scenario}", response_model=ScenarioShape,
    dependencies=[needs(Role.PLANNER), MultipartOnly],
    responses={**answers(200, ETag=ETAG), **refusals(400, 401, 403, 404, 412, 413, 415, 428)},
)  # fmt: skip
def replace_scenario(
    services: TheServices, scenario: str, expected: ExpectedRevisions, name: Name, files: Files,
    response: Response,
) -> ScenarioShape:  # fmt: skip
    """Replace a scenario's name and files by a new revision. Needs If-Match; earlier plans stay."""
    return _shown(changed(services, scenario, expected, lambda _: files, name), response)


@router.delete(
    "/scenarios/{scenario}", status_code=204, dependencies=[needs(Role.PLANNER)],
    responses=refusals(401, 403, 404, 409, 412, 428),
)  # fmt: skip
def delete_scenario(services: TheServices, scenario: str, expected: ExpectedRevisions) -> None:
    """Delete a scenario with its log and all its plans and jobs. Needs If-Match."""
    services.storage.scenarios.delete(scenario, expected)


def _shown(record: ScenarioRecord, response: Response) -> ScenarioShape:
    response.headers["ETag"] = record.tag
    return ScenarioShape.of(record)
