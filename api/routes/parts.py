"""The parts of a scenario: its files one by one, its targets, its availability, what it uses of its club.

They are views of one thing: each change of a part is a new revision of the scenario.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fastapi import APIRouter, Response

from ..auth import needs
from ..companions import NEED, check_need, need_of
from ..conditional import ExpectedRevisions, IfNoneMatch, answer_if_new
from ..deps import CsvBody, CsvOnly, JsonOnly, TheServices, TomlBody, TomlOnly, body_of
from ..kept import HOME, changed, read_kept, taken_over
from ..shapes import ETAG, IF_NEW, AvailabilityShape, ScenarioShape, UsesShape, answers, refusals
from ..shapes.samples import FORECAST_CSV, MORE_TARGETS_CSV, SCENARIO_TOML, WISH_LIST_CSV
from ..storage import Noun, Role, ScenarioFiles, ScenarioRecord, tag_of
from ..toml_parts import availability_in, with_availability

router = APIRouter(tags=["scenarios"])

_CSV = {**answers(200, "text/csv", ETag=ETAG), **IF_NEW, **refusals(401, 404)}
_TOML = {**answers(200, "application/toml", ETag=ETAG), **IF_NEW, **refusals(401, 404)}
_READ = {**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 404)}
_JSON = {**answers(200, "application/json", ETag=ETAG), **IF_NEW, **refusals(401, 404)}
_CHANGED = {**answers(200, ETag=ETAG), **refusals(400, 401, 403, 404, 412, 413, 415, 428)}
_READER, _PLANNER = needs(Role.READER), needs(Role.PLANNER)


@router.get("/scenarios/{scenario}/scenario.toml", response_class=Response, dependencies=[_READER],
            responses=_TOML)  # fmt: skip
def read_scenario_toml(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the scenario.toml, byte for byte as it was sent or last changed."""
    return _file(services, scenario, lambda f: f.scenario_toml, "application/toml", if_none_match)


@router.put("/scenarios/{scenario}/scenario.toml", response_model=ScenarioShape,
            dependencies=[_PLANNER, TomlOnly], responses=_CHANGED,
            openapi_extra=body_of("application/toml", SCENARIO_TOML))  # fmt: skip
def replace_scenario_toml(
    services: TheServices, scenario: str, expected: ExpectedRevisions, body: TomlBody, response: Response
) -> ScenarioShape:
    """Replace the scenario.toml. Needs If-Match."""
    record = changed(services, scenario, expected, lambda files: replace(files, scenario_toml=body))
    return _shown(record, response)


@router.get("/scenarios/{scenario}/wish-list.csv", response_class=Response, dependencies=[_READER],
            responses=_CSV)  # fmt: skip
def read_wish_list(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the wish-list.csv, byte for byte as it was sent or last changed."""
    return _file(services, scenario, lambda f: f.wish_list_csv, "text/csv", if_none_match)


@router.put("/scenarios/{scenario}/wish-list.csv", response_model=ScenarioShape,
            dependencies=[_PLANNER, CsvOnly], responses=_CHANGED,
            openapi_extra=body_of("text/csv", WISH_LIST_CSV))  # fmt: skip
def replace_wish_list(
    services: TheServices, scenario: str, expected: ExpectedRevisions, body: CsvBody, response: Response
) -> ScenarioShape:
    """Replace the whole wish-list, one target a line. Needs If-Match."""
    record = changed(services, scenario, expected, lambda files: replace(files, wish_list_csv=body))
    return _shown(record, response)


@router.get("/scenarios/{scenario}/targets", response_class=Response, dependencies=[_READER],
            responses=_JSON)  # fmt: skip
def read_targets(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read the wish-list as it is understood: each target with its kind, place, visits and priority."""
    record = services.storage.scenarios.get(scenario)
    shown = services.door.targets_json(read_kept(services, scenario))
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.post("/scenarios/{scenario}/targets", response_model=ScenarioShape,
             dependencies=[_PLANNER, CsvOnly], responses=_CHANGED,
             openapi_extra=body_of("text/csv", MORE_TARGETS_CSV))  # fmt: skip
def add_targets(
    services: TheServices, scenario: str, expected: ExpectedRevisions, body: CsvBody, response: Response
) -> ScenarioShape:
    """Add targets to the wish-list, in its own form: a header, then one target a line. Needs If-Match."""

    def joined(files: ScenarioFiles) -> ScenarioFiles:
        return replace(files, wish_list_csv=services.door.joined_wish_lists(files.wish_list_csv, body))

    return _shown(changed(services, scenario, expected, joined), response)


@router.get("/scenarios/{scenario}/forecast.csv", response_class=Response, dependencies=[_READER],
            responses=_CSV)  # fmt: skip
def read_forecast(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the forecast.csv; empty where there is none."""
    return _file(services, scenario, lambda f: f.forecast_csv, "text/csv", if_none_match)


@router.put("/scenarios/{scenario}/forecast.csv", response_model=ScenarioShape,
            dependencies=[needs(Role.MEMBER), CsvOnly], responses=_CHANGED,
            openapi_extra=body_of("text/csv", FORECAST_CSV))  # fmt: skip
def replace_forecast(
    services: TheServices, scenario: str, expected: ExpectedRevisions, body: CsvBody, response: Response
) -> ScenarioShape:
    """Replace the forecast; an empty body takes it away. Needs If-Match."""
    record = changed(services, scenario, expected, lambda files: replace(files, forecast_csv=body))
    return _shown(record, response)


@router.get("/scenarios/{scenario}/availability", response_model=AvailabilityShape,
            dependencies=[_READER], responses=_READ)  # fmt: skip
def read_availability(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read when one is free: the [[evenings]] and the [availability] of scenario.toml."""
    files, revision = services.storage.scenarios.files(scenario)
    shown = AvailabilityShape.model_validate(availability_in(files.scenario_toml)).model_dump_json()
    return answer_if_new(if_none_match, tag_of(revision), shown, "application/json")


@router.put("/scenarios/{scenario}/availability", response_model=ScenarioShape,
            dependencies=[_PLANNER, JsonOnly], responses=_CHANGED)  # fmt: skip
def replace_availability(
    services: TheServices, scenario: str, expected: ExpectedRevisions, wish: AvailabilityShape,
    response: Response,
) -> ScenarioShape:  # fmt: skip
    """Replace when one is free; the rest of scenario.toml stays as it is. Needs If-Match."""
    wanted = {key: value for key, value in wish.model_dump().items() if value not in (None, [])}

    def edited(files: ScenarioFiles) -> ScenarioFiles:
        return replace(files, scenario_toml=with_availability(files.scenario_toml, wanted))

    return _shown(changed(services, scenario, expected, edited), response)


@router.get("/scenarios/{scenario}/uses", response_model=UsesShape, dependencies=[_READER], responses=_READ)
def read_uses(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read what of its club a scenario takes over whenever it is planned."""
    record = services.storage.scenarios.get(scenario)
    shown = UsesShape(
        home=next(iter(record.uses.get(HOME, ())), None), members=list(record.uses.get(Noun.MEMBER, ())),
        sites=list(record.uses.get(Noun.SITE, ())), telescopes=list(record.uses.get(Noun.TELESCOPE, ())),
        need=need_of(record.uses),
    ).model_dump_json()  # fmt: skip
    return answer_if_new(if_none_match, record.tag, shown, "application/json")


@router.put("/scenarios/{scenario}/uses", response_model=ScenarioShape,
            dependencies=[_PLANNER, JsonOnly], responses=_CHANGED)  # fmt: skip
def replace_uses(
    services: TheServices, scenario: str, expected: ExpectedRevisions, wish: UsesShape, response: Response
) -> ScenarioShape:
    """Take over members, sites and telescopes of the club, now and whenever the scenario is planned.

    Their tables replace those of the same name in scenario.toml, or are added. With `need`, members do not
    come along on evenings that their own calendars take up. Needs If-Match.
    """
    if wish.need is not None:
        check_need(wish.need, len(wish.members))
    uses = {HOME: [wish.home] if wish.home else [], Noun.MEMBER.value: wish.members,
            Noun.SITE.value: wish.sites, Noun.TELESCOPE.value: wish.telescopes,
            **({} if wish.need is None else {NEED: [wish.need]})}  # fmt: skip
    return _shown(taken_over(services, scenario, uses, expected), response)


def _file(
    services: TheServices, scenario: str, part: Callable[[ScenarioFiles], bytes], media_type: str,
    if_none_match: str | None,
) -> Response:  # fmt: skip
    files, revision = services.storage.scenarios.files(scenario)
    return answer_if_new(if_none_match, tag_of(revision), part(files), media_type)


def _shown(record: ScenarioRecord, response: Response) -> ScenarioShape:
    response.headers["ETag"] = record.tag
    return ScenarioShape.of(record)
