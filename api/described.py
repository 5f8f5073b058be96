"""The OpenAPI description, completed with what holds at every address alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from http import HTTPStatus
from typing import Any

from .headers import PROBLEM

ID = {"pattern": "^[0-9a-f]{20}$", "examples": ["3f9a0c52d1e84b7766aa"]}
"""How every id looks; another is answered like one that nobody has."""
OWN: Mapping[str, dict[str, Any]] = {
    "secret": {"maxLength": 64, "examples": ["no-feed-has-this-secret-yet"]},
    "evening": {"format": "date", "examples": ["2027-01-08"]},
}
"""How parts of addresses look that are no ids."""
WORDS = {"kind"}
"""What addresses name by a word instead of an id."""
ANYWHERE = (405, 421, 429, 500, 503)
"""Refusals any address may answer with: a method it has not, a strange host, too much at once, our faults."""

_HEADERS: Mapping[int, tuple[str, str]] = {
    304: ("ETag", "The version you have."),
    401: ("WWW-Authenticate", "How to show a key: Bearer."),
    405: ("Allow", "The methods this address answers to."),
    412: ("ETag", "The version there is now."),
    429: ("Retry-After", "Seconds to wait before asking again."),
    503: ("Retry-After", "Seconds to wait before asking again."),
}


def completed(described: dict[str, Any]) -> dict[str, Any]:
    """Return the description with how ids look, which headers are needed, and every refusal as it is sent."""
    for methods in described["paths"].values():
        for method, operation in methods.items():
            for parameter in operation.get("parameters", []):
                _complete_parameter(parameter)
            answers = operation["responses"]
            for status in _standing(method, answers):
                answers.setdefault(str(status), _refusal(status))
            for status, answer in answers.items():
                _complete_answer(int(status), answer)
            operation["responses"] = dict(sorted(answers.items()))
    return described


def _complete_parameter(parameter: dict[str, Any]) -> None:
    if parameter["in"] == "path":
        name = parameter["name"]
        looks = OWN.get(name, {"examples": ["stale"]} if name in WORDS else ID)
        parameter["schema"] = {"type": "string", **looks}
        parameter.setdefault("description", f"The {name}'s name." if name in WORDS else f"The {name}'s id.")
    if parameter["name"].lower() == "if-match":
        parameter["required"] = True
        parameter["schema"] = {"type": "string", "examples": parameter["schema"].get("examples", [])}


def _standing(method: str, answers: Mapping[str, Any]) -> Iterator[int]:
    yield from ANYWHERE
    if "413" in answers:
        yield 408
    if method != "get":
        yield 507


def _refusal(status: int) -> dict[str, Any]:
    schema = {"$ref": "#/components/schemas/Problem"}
    return {"description": HTTPStatus(status).phrase, "content": {PROBLEM: {"schema": schema}}}


def _complete_answer(status: int, answer: dict[str, Any]) -> None:
    content = answer.get("content", {})
    if status >= HTTPStatus.BAD_REQUEST and "application/json" in content:
        answer["content"] = {PROBLEM: content["application/json"]}
    if status in _HEADERS:
        name, meaning = _HEADERS[status]
        told = {"description": meaning, "schema": {"type": "string"}}
        answer["headers"] = {name: told, **answer.get("headers", {})}
