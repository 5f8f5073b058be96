"""The log of a scenario: how nights went. Lines are added, never changed."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter, Response

from scheduler.domain.outcome import MOST_OUTCOMES
from scheduler.errors import InvalidValue

from ..auth import needs
from ..conditional import IfNoneMatch, answer_if_new
from ..deps import CsvBody, CsvOnly, JsonOnly, Services, TheServices, body_of
from ..kept import tried_again
from ..log_csv import lines_of, outcomes_csv
from ..shapes import ETAG, IF_NEW, OutcomeList, OutcomeShape, OutcomeWish, answers, refusals
from ..shapes.samples import OUTCOMES_CSV
from ..storage import NewOutcome, OutcomeRecord, Role, log_tag

router = APIRouter(tags=["outcomes"])

_ADDED = {**answers(201, ETag=ETAG), **refusals(400, 401, 403, 404, 412, 413, 415)}
_READER, _MEMBER = needs(Role.READER), needs(Role.MEMBER)


@router.get("/scenarios/{scenario}/outcomes", response_model=OutcomeList, dependencies=[_READER],
            responses={**answers(200, ETag=ETAG), **IF_NEW, **refusals(401, 404)})  # fmt: skip
def read_outcomes(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Read the log, oldest line first."""
    lines = services.storage.outcomes.lines(scenario)
    return answer_if_new(
        if_none_match, log_tag(len(lines)), _shown(lines).model_dump_json(), "application/json"
    )


@router.get("/scenarios/{scenario}/outcomes.csv", response_class=Response, dependencies=[_READER],
            responses={**answers(200, "text/csv", ETag=ETAG), **IF_NEW, **refusals(401, 404)})  # fmt: skip
def read_outcomes_csv(services: TheServices, scenario: str, if_none_match: IfNoneMatch = None) -> Response:
    """Fetch the log as outcomes.csv."""
    lines = services.storage.outcomes.lines(scenario)
    return answer_if_new(if_none_match, log_tag(len(lines)), outcomes_csv(lines, guarded=True), "text/csv")


@router.post("/scenarios/{scenario}/outcomes", status_code=201, response_model=OutcomeList,
             dependencies=[_MEMBER, JsonOnly], responses=_ADDED)  # fmt: skip
def add_outcome(services: TheServices, scenario: str, wish: OutcomeWish, response: Response) -> OutcomeList:
    """Log how a night went. A later line for the same evening corrects an earlier one, wholly."""
    line = NewOutcome(**wish.model_dump())
    return _added(services, scenario, outcomes_csv([line]), response)


@router.post("/scenarios/{scenario}/outcomes.csv", status_code=201, response_model=OutcomeList,
             dependencies=[_MEMBER, CsvOnly], responses=_ADDED,
             openapi_extra=body_of("text/csv", OUTCOMES_CSV))  # fmt: skip
def add_outcomes(services: TheServices, scenario: str, body: CsvBody, response: Response) -> OutcomeList:
    """Log many nights at once, in the form of outcomes.csv: a header, then a line a night; all or none."""
    return _added(services, scenario, body, response)


def _added(services: Services, scenario: str, csv: bytes, response: Response) -> OutcomeList:
    """Read the lines with the wish-list as it stands, and keep them if it still stands so."""

    def once() -> tuple[OutcomeRecord, ...]:
        record = services.storage.scenarios.get(scenario)
        files, _ = services.storage.scenarios.files(scenario, record.revision)
        read = services.door.read_scenario(record.name, files, csv)
        lines = lines_of(read.outcomes)
        if not lines:
            raise InvalidValue("outcomes", "none", "at least one line below the header")
        kept = len(services.storage.outcomes.lines(scenario))
        if kept + len(lines) > MOST_OUTCOMES:
            raise InvalidValue("outcomes", kept + len(lines), f"at most {MOST_OUTCOMES} lines in a log")
        return services.storage.outcomes.add(scenario, lines, None, record.revision)

    added = tried_again(once, lambda: True)
    response.headers["ETag"] = log_tag(added[-1].line)
    response.headers["Location"] = f"/scenarios/{scenario}/outcomes"
    return _shown(added)


def _shown(lines: Sequence[OutcomeRecord]) -> OutcomeList:
    return OutcomeList(items=[OutcomeShape.of(line) for line in lines])
