"""The log of a scenario: how nights went. Lines are added, never changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Header, Response

from ..auth import needs
from ..conditional import IfNoneMatch, answer_if_new
from ..deps import CsvBody, CsvOnly, JsonOnly, Services, TheServices, body_of
from ..log_csv import outcomes_csv
from ..logged import added_to_log
from ..shapes import ETAG, IF_NEW, OutcomeList, OutcomeShape, OutcomeWish, answers, refusals
from ..shapes.samples import OUTCOMES_CSV
from ..storage import NewOutcome, OutcomeRecord, Role, Sent, log_tag

router = APIRouter(tags=["outcomes"])

_ADDED = {**answers(201, ETag=ETAG), **refusals(400, 401, 403, 404, 412, 413, 415)}
_READER, _MEMBER = needs(Role.READER), needs(Role.MEMBER)

LineKey = Annotated[
    str | None,
    Header(alias="Idempotency-Key", min_length=1, max_length=200, description="Yours to choose, fresh for "
           "each line: sent again with the same line, it returns that line and adds none.",
           examples=["b5c8e1d2-first-night"]),
]  # fmt: skip


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
def add_outcome(
    services: TheServices, scenario: str, wish: OutcomeWish, response: Response,
    idempotency_key: LineKey = None,
) -> OutcomeList:  # fmt: skip
    """Log how a night went. A later line for the same evening corrects an earlier one, wholly."""
    line = NewOutcome(**wish.model_dump())
    sent = None if idempotency_key is None else Sent(idempotency_key)
    return _added(services, scenario, outcomes_csv([line]), response, sent)


@router.post("/scenarios/{scenario}/outcomes.csv", status_code=201, response_model=OutcomeList,
             dependencies=[_MEMBER, CsvOnly], responses=_ADDED,
             openapi_extra=body_of("text/csv", OUTCOMES_CSV))  # fmt: skip
def add_outcomes(services: TheServices, scenario: str, body: CsvBody, response: Response) -> OutcomeList:
    """Log many nights at once, in the form of outcomes.csv: a header, then a line a night; all or none."""
    return _added(services, scenario, body, response)


def _added(
    services: Services, scenario: str, csv: bytes, response: Response, sent: Sent | None = None
) -> OutcomeList:
    added = added_to_log(services, scenario, csv, sent)
    response.headers["ETag"] = log_tag(added[-1].line)
    response.headers["Location"] = f"/scenarios/{scenario}/outcomes"
    return _shown(added)


def _shown(lines: Sequence[OutcomeRecord]) -> OutcomeList:
    return OutcomeList(items=[OutcomeShape.of(line) for line in lines])
