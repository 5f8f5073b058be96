"""The one place where an error becomes an answer: RFC 9457 problem details.

References
----------
M. Nottingham, E. Wilde, S. Dalal, "Problem Details for HTTP APIs", RFC 9457, 2023.
"""

from __future__ import annotations

import json
import logging
import math
from collections.abc import Iterable, Mapping, Sequence
from functools import singledispatch
from http import HTTPStatus
from typing import Any
from uuid import uuid4

from fastapi import APIRouter, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.routing import Route

from scheduler.errors import (
    DuskwrightError,
    Fault,
    InvalidValue,
    PlanRejected,
    ScenarioFaults,
)

from . import errors
from .calendar_errors import CalendarFaults
from .headers import PROBLEM, SECURITY_HEADERS, token_of, wants_page
from .kinds import is_unreadable_json, kind_of
from .logs import REQUEST
from .page import page

MOST_ERRORS = 1000
"""A problem lists at most this many errors and says how many it left out."""
LONGEST_TEXT = 500

_log = logging.getLogger("duskwright.api")


HANDLED: tuple[type[Exception], ...] = (DuskwrightError, RequestValidationError, HTTPException, Exception)


def problem_of(error: Exception) -> dict[str, Any]:
    """Return the problem details of `error`, with the data it carries and all its single errors."""
    kind = kind_of(error)
    problem: dict[str, Any] = {"type": kind.type, "title": kind.title, "status": kind.status}
    if kind.name == "internal-error":
        return problem | {"instance": f"urn:uuid:{uuid4()}", "detail": "See the service's log."}
    problem["detail"] = _shortened(_detail_of(error))
    problem |= _data_of(error)
    listed = _errors_of(error)
    if listed:
        problem["errors"] = listed[:MOST_ERRORS]
    if len(listed) > MOST_ERRORS:
        problem["errors_left_out"] = len(listed) - MOST_ERRORS
    return problem


def problem_response(error: Exception) -> Response:
    """Return the HTTP answer to `error`; an unforeseen one is logged under the reference the answer gives."""
    problem = problem_of(error)
    log_unforeseen(error, problem)
    if (request := REQUEST.get()) is not None:
        problem["request"] = request
    headers = dict(SECURITY_HEADERS)
    if isinstance(error, HTTPException):
        headers |= error.headers or {}
    if isinstance(error, errors.Stale):
        headers["ETag"] = error.current
    if isinstance(error, errors.KeyNeeded):
        headers["WWW-Authenticate"] = "Bearer"
    if isinstance(error, errors.TooManyJobs | errors.NotReady):
        headers["Retry-After"] = "5"
    if isinstance(error, errors.TooManyRequests):
        headers["Retry-After"] = str(error.retry_after_s)
    # ASCII-only JSON: a lone surrogate echoed from a hostile request has no UTF-8 form.
    return Response(json.dumps(problem, allow_nan=False), problem["status"], headers, PROBLEM)


def log_unforeseen(error: Exception, problem: Mapping[str, Any]) -> None:
    """Log an error nobody foresaw under the reference its `problem` gives."""
    if "instance" in problem:
        _log.error("%s: unforeseen error", problem["instance"], exc_info=error)


def answer_with_problems(app: FastAPI, routers: Sequence[APIRouter]) -> None:
    """Make every error that leaves a route of `app` a problem; `routers` hold its routes."""
    all_routes = [*app.routes, *(route for router in routers for route in router.routes)]
    routes = [route for route in all_routes if isinstance(route, Route)]

    def answer(request: Request, error: Exception) -> Response:
        response = problem_response(error)
        if wants_page(request.scope["headers"]):
            response = _as_page(request, error, response)
        if response.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
            response.headers["Allow"] = _allowed(routes, request.url.path)
        return response

    for handled in HANDLED:
        app.add_exception_handler(handled, answer)


def _as_page(request: Request, error: Exception, response: Response) -> Response:
    """Return the same for a reader: as a page, which asks for a key where one is needed."""
    problem = json.loads(bytes(response.body))
    headers = {name: response.headers[name] for name in ("retry-after", "www-authenticate")
               if name in response.headers}  # fmt: skip
    if isinstance(error, errors.KeyNeeded):
        to = request.url.path if request.method == "GET" else "/"
        sent = token_of(request.scope["headers"])  # who sent none need not be told so
        return page(request, "enter.html", status=401, headers=headers, to=to,
                    reason=error.words if sent else None)  # fmt: skip
    return page(request, "problem.html", status=response.status_code, headers=headers,
                problem={"errors": [], "detail": "", "instance": "", **problem},
                advice=kind_of(error).advice_on(problem))  # fmt: skip


def _allowed(routes: Iterable[Route], path: str) -> str:
    """List every method of an address; the framework itself names those of its first route only."""
    here = [route for route in routes if route.path_regex.match(path)]
    fewest = min((len(route.param_convertors) for route in here), default=0)  # an address before a template
    methods = {
        method for route in here if len(route.param_convertors) == fewest for method in route.methods or ()
    }
    return ", ".join(sorted(methods | ({"HEAD"} if "GET" in methods else set())))


def _detail_of(error: Exception) -> str:
    if isinstance(error, ScenarioFaults | CalendarFaults):
        return str(error).partition("\n")[0].rstrip(":")
    if isinstance(error, RequestValidationError):
        count = len(error.errors())
        if is_unreadable_json(error):
            return "the body is not JSON"
        return "1 fault in the request" if count == 1 else f"{count} faults in the request"
    if isinstance(error, errors.NotReady):
        return error.reason
    return str(error.detail) if isinstance(error, HTTPException) else str(error)


def _data_of(error: Exception) -> dict[str, Any]:
    if not isinstance(error, DuskwrightError) or isinstance(
        error, ScenarioFaults | PlanRejected | CalendarFaults
    ):
        return {}
    return {name: _plain(value) for name, value in vars(error).items() if name[0] != "_"}


@singledispatch
def _errors_of(error: Exception) -> list[dict[str, Any]]:
    return []


@_errors_of.register
def _(error: ScenarioFaults) -> list[dict[str, Any]]:
    return [_fault_entry(fault) for fault in error.faults]


@_errors_of.register
def _(error: InvalidValue) -> list[dict[str, Any]]:
    return [{"pointer": pointer_of([error.field]), "detail": _shortened(str(error))}]


@_errors_of.register
def _(error: CalendarFaults) -> list[dict[str, Any]]:
    return [{"detail": str(fault), "component": fault.component, "property": fault.property,
             "expected": fault.expected} for fault in error.faults]  # fmt: skip


@_errors_of.register
def _(error: PlanRejected) -> list[dict[str, Any]]:
    return [{"detail": _shortened(breach)} for breach in error.breaches]


@_errors_of.register
def _(error: RequestValidationError) -> list[dict[str, Any]]:
    if is_unreadable_json(error):
        return []
    return [_request_entry(entry["loc"], str(entry["msg"])) for entry in error.errors()]


_PARTS = {"scenario.toml": "scenario_toml", "wish-list.csv": "wish_list_csv"}


def _fault_entry(fault: Fault) -> dict[str, Any]:
    """Point into the part of the request that held the file: /part/row/column or /part/key/key."""
    *path, file = fault.file.split("/")
    steps: list[object] = [*path, _PARTS.get(file, file)]
    if fault.row is not None:
        steps += [fault.row] if fault.column is None else [fault.row, fault.column]
    elif fault.column is not None:
        steps += fault.column.split(".") if fault.file.endswith(".toml") else [fault.column]
    return {
        "pointer": pointer_of(steps), "detail": _shortened(str(fault)), "file": fault.file, "row": fault.row,
        "column": fault.column, "read": _shortened(fault.read), "expected": fault.expected,
        "near": list(fault.near),
    }  # fmt: skip


def _request_entry(loc: Sequence[object], message: str) -> dict[str, Any]:
    """A body's fault has a pointer; one of the address or a header has the parameter's name."""
    where, *steps = loc
    if where == "body":
        return {"pointer": pointer_of(steps), "detail": _shortened(message)}
    return {"in": str(where), "parameter": ".".join(map(str, steps)), "detail": _shortened(message)}


def pointer_of(steps: Iterable[object]) -> str:
    """Return the JSON Pointer along `steps`, as a URI fragment without percent-encoding.

    References
    ----------
    P. Bryan, K. Zyp, M. Nottingham, "JavaScript Object Notation (JSON) Pointer", RFC 6901, 2013.

    Examples
    --------
    >>> pointer_of(["wish_list_csv", 5, "minutes/visit"])
    '#/wish_list_csv/5/minutes~1visit'
    >>> pointer_of([])
    '#'
    """
    return "#" + "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in steps)


def _plain(value: object) -> Any:
    """Return `value` as something JSON can hold."""
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, list | tuple | set | frozenset):
        return [_plain(item) for item in list(value)[:MOST_ERRORS]]
    return _shortened(str(value))


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - 1] + "…"
